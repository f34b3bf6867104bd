"""The library values of values.json, made once more by the libraries that its rows name, and compared.

Each row is recomputed from its `inputs` by the library of its `source`, and compared with its `value` within its `tolerance`. Rows with the methods
`formula`, `quadrature`, `numerical`, `brute_force` and `monte_carlo` are computed again from the stated definition with NumPy, SciPy and shapely;
rows with the methods `published` and `published_formula` are not for this script. Nothing here shares code with lakebeam.

How to run (Python 3.11 or later; three minutes to install, less than a minute to run):

    python3 -m venv venv
    venv/bin/pip install numpy==2.4.6 scipy==1.17.1 mpmath==1.3.0 iapws==1.5.5 CoolProp==8.0.0 gsw==3.6.23 seawater==3.3.5 shapely==2.2.0 \\
        beamshapes==0.2.1 SeaFreeze==1.1.3 spotdesirability==0.1.1 echosms==0.24.0 trimesh==5.2.0 echopype==0.11.1
    venv/bin/pip install bokeh utm beartype jaxtyping deprecated deepdiff
    venv/bin/pip install --no-deps arlpy==1.9.3 k-wave-python==0.6.2
    venv/bin/python tests/reference/library_values.py

arlpy and k-wave-python ask for an older NumPy and SciPy than the others; what is used of them runs with the newer ones, hence --no-deps.
acoutreams 0.1.29 and acoustotreams 0.2.50 stand on a package that asks for SciPy before 1.17. The first is a second opinion on elastic spheres, the
second makes plane-wave reflection at an interface. They go into an environment of their own:

    python3 -m venv other
    other/bin/pip install acoutreams==0.1.29 acoustotreams==0.2.50
    other/bin/python tests/reference/library_values.py --only acou

The R package sonar 1.0.2 is asked through Rscript (R 4.2.2 was used): install.packages("sonar"). Of it only plain arithmetic of the sonar equation and
pure-water absorption are taken; its source levels use the natural logarithm and are not.

A package that is not installed is no failure: its rows are listed as not recomputed, with the reason.

    --write   put the recomputed values into values.json, rounded as the file has them, and name the rows that changed
    --only X  only the libraries whose name, as the report has it, begins with X
    --all     list both values of every row

Exit status: 0 where all that was recomputed agrees, 1 where a value is out of tolerance.
"""

import argparse
import functools
import importlib.util
import itertools
import json
import math
import shutil
import subprocess
import sys
import types
import warnings
from pathlib import Path

import numpy as np

VALUES = Path(__file__).with_name("values.json")
NOT_FOR_THIS_SCRIPT = ("published", "published_formula")
ATMOSPHERE_KPA = 101.325
GRAVITY = 9.80665


class NotRecomputed(Exception):
    """Why a row cannot be made again here."""


def db20(ratio):
    return 20 * math.log10(abs(ratio))


def db10(ratio):
    return 10 * math.log10(abs(ratio))


def sin_deg(angle):
    return math.sin(math.radians(angle))


def cos_deg(angle):
    return math.cos(math.radians(angle))


def tan_deg(angle):
    return math.tan(math.radians(angle))


def name_part(row, number):
    """The part of an id between underscores, as in psi_from_bw3_6."""
    return row["id"].split("_")[number]


# Water: iapws, CoolProp, gsw, seawater, SeaFreeze


@functools.cache
def iapws_water(t_c, p_kpa=ATMOSPHERE_KPA):
    from iapws import IAPWS95

    return IAPWS95(T=t_c + 273.15, P=p_kpa / 1000)


def iapws_impedance(t_c):
    return iapws_water(t_c).rho * iapws_water(t_c).w


def iapws_density(row):
    i = row["inputs"]
    return iapws_water(i["T_C"], i["p_kPa"]).rho


def iapws_sound_speed(row):
    i = row["inputs"]
    return iapws_water(i["T_C"], i["p_kPa"]).w


def iapws_slope_in_temperature(row):
    t, h = row["inputs"]["T_C"], 0.05
    return (iapws_water(t + h).w - iapws_water(t - h).w) / (2 * h)


def iapws_rise_per_megapascal(row):
    t = row["inputs"]["T_C"]
    return iapws_water(t, ATMOSPHERE_KPA + 1000).w - iapws_water(t).w


def iapws_classical_absorption(row):
    water = iapws_water(row["inputs"]["T_C"])
    nepers = 2 * math.pi**2 * 4 / 3 * water.mu / (water.rho * water.w**3)
    return nepers * 20 / math.log(10) * 1e3 * 1e6  # per km and per kHz squared


def iapws_source_level_constant(row):
    return db10(iapws_impedance(row["inputs"]["T_C"]) / (4 * math.pi)) + 120


def iapws_source_level(row):
    i = row["inputs"]
    return iapws_source_level_constant(row) + db10(i["P_el_W"] * i["eta"]) + i["DI_dB"]


def iapws_thermal_noise(f_khz, t_c):
    from scipy.constants import Boltzmann

    water = iapws_water(t_c)
    return db10(4 * math.pi * Boltzmann * (t_c + 273.15) * water.rho * (f_khz * 1e3) ** 2 / water.w) + 120


def iapws_harmonic_mean(row):
    profile, depth = row["inputs"]["profile"], row["inputs"]["depth_m"]
    if profile.startswith("T linear 0.01->"):
        bottom = float(profile.split("->")[1].split()[0])
        temperature = lambda z: 0.01 + (bottom - 0.01) * z / depth
    elif profile.startswith("T=0.01+3.99(1-exp(-z/2 m))"):
        temperature = lambda z: 0.01 + 3.99 * (1 - math.exp(-z / 2))
    else:
        raise NotRecomputed(f"temperature profile not known here: {profile}")
    z = np.linspace(0, depth, 401)
    slowness = [1 / iapws_water(temperature(x), ATMOSPHERE_KPA + GRAVITY * x).w for x in z]
    return depth / np.trapezoid(slowness, z)


def iapws_wood_mixture(row):
    """Gas takes its share of the whole; it is methane, adiabatic (ratio of specific heats 1.31, 16.04 g/mol)."""
    i = row["inputs"]
    water, gas = iapws_water(i["T_C"]), i["gas_fraction"]
    gas_density = i["p_Pa"] * 0.01604 / (8.314462618 * (i["T_C"] + 273.15))
    n = i["porosity"]
    density = (1 - gas) * (n * water.rho + (1 - n) * i["rho_solid"]) + gas * gas_density
    compressibility = (1 - gas) * (n / (water.rho * water.w**2) + (1 - n) / i["K_solid_Pa"]) + gas / (1.31 * i["p_Pa"])
    impedance = math.sqrt(density / compressibility)
    return (impedance - water.rho * water.w) / (impedance + water.rho * water.w)


def coolprop_sound_speed(row):
    from CoolProp.CoolProp import PropsSI

    i = row["inputs"]
    return PropsSI("A", "T", i["T_C"] + 273.15, "P", i["p_kPa"] * 1e3, "Water")


def gsw_sound_speed(row):
    import gsw

    i = row["inputs"]
    return gsw.sound_speed_t_exact(i["SA_g_per_kg"], i["T_C"], i["p_dbar"])


def gsw_ice_density(row):
    import gsw

    return gsw.rho_ice(row["inputs"]["T_C"], 0)


def gsw_ice_sound_speed(row):
    import gsw

    return gsw.sound_speed_ice(row["inputs"]["T_C"], row["inputs"]["p_dbar"])


def seawater_sound_speed(row):
    import seawater

    i = row["inputs"]
    return seawater.svel(i["S"], i["T_C"], i["p_dbar"])


def seafreeze(row, phase, quantity):
    from seafreeze import seafreeze as library

    i = row["inputs"]
    points = np.empty(1, dtype=object)
    points[0] = (i["p_kPa"] / 1000, i["T_C"] + 273.15)
    return float(np.ravel(getattr(library.getProp(points, phase), quantity))[0])


def seafreeze_water(row):
    return seafreeze(row, "water1", "vel")


def seafreeze_ice(row):
    return seafreeze(row, "Ih", "Vp" if row["id"].startswith("ice_Vp") else "Vs")


def polynomial_sound_speed(row):
    """Ascending coefficients, printed in the publications: Marczak 1997; Bilaniuk and Wong 1993, 148 points, with the erratum of 1996."""
    coefficients = {
        "c_marczak": (1.402385e3, 5.038813, -5.799136e-2, 3.287156e-4, -1.398845e-6, 2.787860e-9),
        "c_bw148": (1.40238744e3, 5.03836171, -5.81172916e-2, 3.34638117e-4, -1.48259672e-6, 3.16585020e-9),
    }["_".join(row["id"].split("_")[:2])]
    return float(np.polynomial.polynomial.polyval(row["inputs"]["T_C"], coefficients))


# Absorption: echopype, arlpy, k-wave-python


def echopype_db_per_km(f_khz, t_c, p_dbar=0, formula="FG"):
    from echopype.utils.uwa import calc_absorption

    return 1000 * float(calc_absorption(f_khz * 1e3, temperature=t_c, salinity=0, pressure=p_dbar, formula_source=formula))


def echopype_absorption(row):
    """AZFP is the library's third formula, with the coefficients of Fisher and Simmons."""
    i = row["inputs"]
    formula = {"FG": "FG", "AM": "AM", "FS": "AZFP"}[name_part(row, 1)]
    return echopype_db_per_km(i["f_kHz"], i["T_C"], i["p_dbar"], formula)


def echopype_two_way_loss(row):
    i = row["inputs"]
    return 40 * math.log10(i["R_m"]) + 2 * echopype_db_per_km(i["f_kHz"], i["T_C"]) * i["R_m"] / 1000


def arlpy_absorption(row):
    from arlpy import uwa

    i = row["inputs"]
    return -db20(uwa.absorption(i["f_kHz"] * 1e3, distance=1000, temperature=i["T_C"], salinity=i["S"], depth=i["depth_m"]))


def arlpy_sound_speed(row):
    from arlpy import uwa

    i = row["inputs"]
    return uwa.soundspeed(temperature=i["T_C"], salinity=i["S"], depth=i["depth_m"])


def arlpy_reflection(row):
    from arlpy import uwa

    i = row["inputs"]
    tangent = i["loss_tangent"] if "loss_tangent" in i else i["atten_dB_per_lambda"] / (40 * math.pi * math.log10(math.e))
    angle = math.radians(i["incidence_from_normal_deg"])
    return abs(uwa.reflection_coeff(angle, i["density_ratio"], i["speed_ratio"], alpha=tangent, rho=1.0, c=1.0))


def kwave_absorption(row):
    """The package fetches programs when it is imported, which are not needed here: its own start is passed by."""
    if "kwave" not in sys.modules:
        found = importlib.util.find_spec("kwave")
        if found is None:
            raise ModuleNotFoundError(name="k-wave-python")
        package = types.ModuleType("kwave")
        package.__path__ = list(found.submodule_search_locations)
        package.__version__ = "0.6.2"
        sys.modules["kwave"] = package
    from kwave.utils.mapgen import water_absorption

    return water_absorption(row["inputs"]["f_kHz"] / 1e3, row["inputs"]["T_C"]) * 100 * 1000


# The sonar equation: the R package sonar


@functools.cache
def r_sonar(expression):
    """A value of the R package, to 12 digits."""
    if shutil.which("Rscript") is None:
        raise NotRecomputed("Rscript is not installed")
    command = ["Rscript", "-e", f"library(sonar); cat(format({expression}, digits = 12))"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        raise NotRecomputed("R has no package sonar")
    return float(done.stdout)


def r_fresh_absorption(i):
    return f"AbsorptionSoundFreshWaterFrancoisGarrison({i['f_kHz']}, {i['T_C']}, 0)"


def r_two_way_loss(row):
    """The echo of a target of 0 dB from a source of 0 dB, with its sign turned."""
    i = row["inputs"]
    return -r_sonar(f"SonarEquation(0, PLSphericalSpreadingAndAbsorption({i['R_m']}, {r_fresh_absorption(i)}), 0)")


def r_range_resolution(row):
    i = row["inputs"]
    if "tau_us" in i:
        return 1e3 * r_sonar(f"RangeResolutionMonotonic({i['tau_us']} * 1e-6, {i['c']})")
    return 1e3 * r_sonar(f"RangeResolutionCHIRP({i['B_kHz']} * 1e3, {i['c']})")


def second_chain_direct(row):
    """The direct path with no library of the first chain: water by CoolProp, Bessel by mpmath, propagation by the R package."""
    import mpmath
    from CoolProp.CoolProp import PropsSI

    i = row["inputs"]
    speed, density = (PropsSI(name, "T", i["T_C"] + 273.15, "P", ATMOSPHERE_KPA * 1e3, "Water") for name in ("A", "D"))
    ka = 2 * math.pi * i["f_kHz"] * 1e3 / speed * i["a_m"]
    directivity = db10(ka**2 / (1 - float(mpmath.besselj(1, 2 * ka)) / ka))
    source = db10(density * speed / (4 * math.pi)) + 120 + db10(i["P_acoustic_W"]) + directivity
    return source + 2 * envelope_at_90(ka) - r_sonar(f"PLSphericalSpreadingAndAbsorption({i['separation_m']}, {r_fresh_absorption(i)})")


# Beams: SciPy, mpmath, beamshapes


def piston(x):
    from scipy.special import j1

    x = np.asarray(x, dtype=float)
    return np.where(np.abs(x) < 1e-9, 1.0, 2 * j1(np.where(x == 0, 1, x)) / np.where(x == 0, 1, x))


def tapered(x, n):
    """Pattern of a circular aperture with the amplitude (1 - r^2)^n."""
    from scipy.special import jv

    x = np.maximum(np.asarray(x, dtype=float), 1e-6)
    return 2 ** (n + 1) * math.factorial(n + 1) * jv(n + 1, x) / x ** (n + 1)


def crossing(pattern, level_db, first=1e-3, last=3.8):
    """Where the main lobe falls to a level."""
    from scipy.optimize import brentq

    return brentq(lambda x: db20(pattern(x)) - level_db, first, last, xtol=1e-13)


@functools.cache
def piston_crossing(level_db):
    return crossing(piston, level_db, last=3.8)


def scipy_piston_crossing(row):
    if row["id"] == "piston_x_halfpower":
        return piston_crossing(db10(0.5))
    return piston_crossing(row["inputs"]["level_dB"])


def scipy_piston_null(row):
    from scipy.special import jn_zeros

    return jn_zeros(1, int(name_part(row, 2)))[-1]


def scipy_side_lobe(row):
    from scipy.special import jn_zeros

    x = jn_zeros(2, int(name_part(row, 2)))[-1]
    return db20(piston(x)) if row["id"].endswith("_dB") else x


def scipy_beamwidth(row):
    level = -float(name_part(row, 0).removeprefix("bw"))
    return 2 * math.degrees(math.asin(piston_crossing(level) / row["inputs"]["ka"]))


def scipy_first_null(row):
    from scipy.special import jn_zeros

    return math.degrees(math.asin(jn_zeros(1, 1)[0] / row["inputs"]["ka"]))


def ka_of_width(width_deg, level_db=-3.0):
    return piston_crossing(level_db) / sin_deg(width_deg / 2)


def scipy_beamwidth_of_width(row):
    return 2 * math.degrees(math.asin(piston_crossing(-10.0) / ka_of_width(row["inputs"]["bw3_deg"])))


def scipy_ratio_of_widths(row):
    return piston_crossing(-10.0) / piston_crossing(-3.0)


def scipy_radius(row):
    i = row["inputs"]
    return ka_of_width(i["beamwidth_deg"], i["level_dB"]) * i["c"] / (2 * math.pi * i["f_kHz"] * 1e3) * 1e3


def over_hemisphere(ka, power, upto=math.pi / 2):
    """Integral of the piston's pattern to a power, over the solid angle, taken between the nulls."""
    from scipy.integrate import quad
    from scipy.special import jn_zeros

    nulls = [math.asin(x / ka) for x in jn_zeros(1, max(1, int(ka))) if x < ka * math.sin(upto)]
    value = lambda t: 2 * math.pi * float(piston(ka * math.sin(t))) ** power * math.sin(t)
    return sum(quad(value, a, b)[0] for a, b in itertools.pairwise([0.0, *nulls, upto]))


def quad_equivalent_angle(row):
    i = row["inputs"]
    return db10(over_hemisphere(i["ka"] if "ka" in i else ka_of_width(i["bw3_deg"]), 4))


def quad_directivity(row):
    return db10(4 * math.pi / over_hemisphere(row["inputs"]["ka"], 2))


def mpmath_equivalent_angle_limit(row):
    import mpmath

    value = lambda x: (2 * mpmath.besselj(1, x) / x) ** 4 * x
    zeros = [mpmath.besseljzero(1, n) for n in range(1, 30)]
    return float(2 * mpmath.pi * mpmath.quad(value, [0, *zeros]))


def scipy_taper_crossing(row):
    level = {"x3": -3.0, "x10": -10.0}[name_part(row, 1)]
    n = row["inputs"]["n"]
    return crossing(lambda x: float(tapered(x, n)), level, last=4.5)


def quad_taper_equivalent_angle(row):
    from scipy.integrate import quad

    return 2 * math.pi * quad(lambda x: float(tapered(x, row["inputs"]["n"])) ** 4 * x, 0, 200, limit=2000)[0]


def grid_side_lobe(pattern):
    """The highest level beyond the first null, on a grid."""
    x = np.arange(0.01, 40, 1e-4)
    level = np.abs(pattern(x))
    first_minimum = np.argmax((level[1:-1] < level[:-2]) & (level[1:-1] < level[2:]))
    return db20(level[first_minimum + 1 :].max())


def scipy_taper_side_lobe(row):
    return grid_side_lobe(lambda x: tapered(x, row["inputs"]["n"]))


def scipy_pedestal_side_lobe(row):
    b, n = row["inputs"]["b"], row["inputs"]["n"]
    rest = (1 - b) / (n + 1)
    return grid_side_lobe(lambda x: (b * tapered(x, 0) + rest * tapered(x, n)) / (b + rest))


def scipy_rectangle_crossing(row):
    level = {"t3": -3.0, "t10": -10.0}[name_part(row, 1)]
    return crossing(lambda t: math.sin(t) / t, level, last=3.1)


def quad_rectangle_equivalent_angle(row):
    from scipy.integrate import dblquad

    half_x, half_y = row["inputs"]["kLx"] / 2, row["inputs"]["kLy"] / 2
    side = lambda t: float(np.sinc(t / math.pi))

    def value(theta, phi):
        u, v = math.sin(theta) * math.cos(phi), math.sin(theta) * math.sin(phi)
        return (side(half_x * u) * side(half_y * v)) ** 4 * math.sin(theta)

    return db10(4 * dblquad(value, 0, math.pi / 2, 0, math.pi / 2, epsabs=1e-8, epsrel=1e-6)[0])


def beamshapes_piston(row):
    from beamshapes.piston_in_infinite_baffle import piston_in_infinite_baffle_directivity

    i = row["inputs"]
    return float(piston_in_infinite_baffle_directivity([math.radians(i["theta_deg"])], {"k": i["ka"], "a": 1.0})[1][0])


def surface_sum_piston(row):
    """Huygens' sum over the piston's face, at the middles of rings and sectors."""
    ka, theta = row["inputs"]["ka"], row["inputs"]["theta_deg"]
    r = (np.arange(4000) + 0.5) / 4000
    phi = (np.arange(720) + 0.5) * 2 * math.pi / 720
    phase = ka * sin_deg(theta) * r[:, None] * np.cos(phi)
    return db20((np.exp(1j * phase) * r[:, None]).sum() / (r.sum() * phi.size))


def trapezoid_near_field(row):
    i = row["inputs"]
    k = 2 * math.pi * i["f_kHz"] * 1e3 / i["c"]
    r = np.linspace(0, i["a_m"], 200_001)
    distance = np.hypot(r, i["z_m"])
    return abs(k * np.trapezoid(np.exp(1j * k * distance) * r / distance, r))


def definition_near_field(row):
    i = row["inputs"]
    return i["a_m"] ** 2 * i["f_kHz"] * 1e3 / i["c"] * (math.pi if row["id"] == "nf_pia2_lambda" else 1)


# Detection and budgets


def scipy_detection_steady(row):
    from scipy.optimize import brentq
    from scipy.stats import ncx2

    i = row["inputs"]
    threshold = -2 * math.log(i["Pfa"])
    return db10(brentq(lambda snr: ncx2.sf(threshold, 2, 2 * snr) - i["Pd"], 1e-3, 1e3))


def formula_detection_fluctuating(row):
    return db10(math.log(row["inputs"]["Pfa"]) / math.log(row["inputs"]["Pd"]) - 1)


def noise_of_row(row):
    return iapws_thermal_noise(row["inputs"]["f_kHz"], row["inputs"]["T_C"])


def chain(i):
    """What budgets and couplings share: ka, directivity index, source level, absorption a metre."""
    from scipy.special import j1

    ka = 2 * math.pi * i["f_kHz"] * 1e3 / iapws_water(i["T_C"]).w * i["a_m"]
    directivity = db10(ka**2 / (1 - j1(2 * ka) / ka))
    power = i["P_acoustic_W"] if "P_acoustic_W" in i else i["P_el_W"] * i["eta"]
    source = db10(iapws_impedance(i["T_C"]) / (4 * math.pi)) + 120 + db10(power) + directivity
    return ka, directivity, source, echopype_db_per_km(i["f_kHz"], i["T_C"]) / 1000


def chain_budget(row):
    i = row["inputs"]
    ka, directivity, source, alpha = chain(i)
    loss = 20 * math.log10(i["R_m"]) + alpha * i["R_m"]
    beam = db20(piston(ka * sin_deg(i["theta_deg"])))
    echo = source - 2 * loss + i["TS_dB"] + 2 * beam
    noise = iapws_thermal_noise(i["f_kHz"], i["T_C"]) + db10(i["bandwidth_Hz"]) - directivity
    return {"DI": directivity, "SL": source, "TL": loss, "Bd": beam, "EL": echo, "SNR": echo - noise}[name_part(row, 1)]


def envelope_at_90(ka):
    return db20(2 / ka * math.sqrt(2 / (math.pi * ka)))


def formula_envelope(row):
    return envelope_at_90(row["inputs"]["ka"])


def chain_coupling(row):
    i = row["inputs"]
    ka, _, source, alpha = chain(i)
    what, depth, apart = name_part(row, 1), i["depth_m"], i["separation_m"]
    if what == "own":
        return source - 20 * math.log10(2 * depth) - 2 * alpha * depth + db20(i["R_bottom"])
    if what == "direct":
        return source + 2 * envelope_at_90(ka) - 20 * math.log10(apart) - alpha * apart
    path = math.hypot(apart, 2 * depth)
    beam = db20(piston(ka * apart / path))
    return source + 2 * beam - 20 * math.log10(path) - alpha * path + db20(i["R_bottom"])


# Target strength: echosms, acoutreams

FRESH_SPEED, FRESH_DENSITY = 1421.635, 999.975  # water at 4 degrees, where a row leaves it out


def target_water(i):
    """What all models take; their own checks want tables of inputs, not single ones."""
    water = {"medium_c": i.get("water_c", FRESH_SPEED), "medium_rho": i.get("water_rho", FRESH_DENSITY)}
    return {**water, "f": i["f_kHz"] * 1e3, "validate_parameters": False}


def echosms_elastic_sphere(row):
    from echosms import ESModel

    i = row["inputs"]
    material = {"target_longitudinal_c": i["c_long"], "target_transverse_c": i["c_shear"], "target_rho": i["rho"]}
    return ESModel().calculate_ts_single(**target_water(i), a=i["diameter_mm"] / 2e3, **material)


def acoutreams_elastic_sphere(row):
    from acoutreams import AcousticMaterial, AcousticTMatrix

    i = row["inputs"]
    k = 2 * math.pi * i["f_kHz"] * 1e3 / i["water_c"]
    radius = i["diameter_mm"] / 2e3
    degrees = int(k * radius) + 15
    air = k * i["water_c"] / 343.0
    materials = [AcousticMaterial(i["rho"], i["c_long"], i["c_shear"]), AcousticMaterial(i["water_rho"], i["water_c"])]
    matrix = np.diag(np.asarray(AcousticTMatrix.sphere(degrees, air, radius, materials)))
    back = sum((2 * n + 1) * (-1) ** n * matrix[n * n] for n in range(degrees + 1))
    return db20(back / k)


def echosms_modal_sphere(row):
    from echosms import MSSModel

    i = row["inputs"]
    kind = row["source"].split()[-1]
    inside = {"target_c": i["target_c"], "target_rho": i["target_rho"]} if kind == "fluid-filled" else {}
    return MSSModel().calculate_ts_single(**target_water(i), a=i["diameter_mm"] / 2e3, boundary_type=kind, **inside)


def echosms_cylinder(row):
    from echosms import DCMModel

    i = row["inputs"]
    size = {"a": i["radius_mm"] / 1e3, "b": i["length_mm"] / 1e3}
    return DCMModel().calculate_ts_single(**target_water(i), **size, theta=i.get("theta_deg", 90), boundary_type="fixed-rigid")


def echosms_spheroid(row):
    from echosms import PSMSModel

    i = row["inputs"]
    theta = i["theta_deg"] if "theta_deg" in i else 90 - i["tilt_from_broadside_deg"]
    size = {"a": i["semi_major_mm"] / 1e3, "b": i["semi_minor_mm"] / 1e3}
    return PSMSModel().calculate_ts_single(**target_water(i), **size, theta=theta, boundary_type="pressure-release")


def meshed(model, i, theta, mesh):
    """Target strength of a mesh by one of the models that take one."""
    water = {name: value for name, value in target_water(i).items() if name != "medium_rho"}
    return float(model.calculate_ts_single(**water, theta=theta, phi=0, mesh=mesh, boundary_type="pressure-release"))


def echosms_kirchhoff_disc(row):
    """The model asks for middles, normals and areas of faces: here of rings and sectors of a flat disc."""
    from echosms import KAModel

    i = row["inputs"]
    radius, rings, sectors = i["radius_mm"] / 1e3, 200, 360
    r = (np.arange(rings) + 0.5) * radius / rings
    phi = (np.arange(sectors) + 0.5) * 2 * math.pi / sectors
    r, phi = (grid.ravel() for grid in np.meshgrid(r, phi))
    disc = types.SimpleNamespace(
        triangles_center=np.column_stack([r * np.cos(phi), r * np.sin(phi), np.zeros_like(r)]),
        face_normals=np.tile([0.0, 0.0, 1.0], (r.size, 1)),
        area_faces=r * (radius / rings) * (2 * math.pi / sectors),
    )
    return meshed(KAModel(), i, i["theta_deg"], disc)


def echosms_kirchhoff_spheroid(row):
    import trimesh
    from echosms import KAModel

    i = row["inputs"]
    mesh = trimesh.creation.icosphere(subdivisions=6)
    mesh.apply_scale([i["semi_major_mm"] / 1e3, i["semi_minor_mm"] / 1e3, i["semi_minor_mm"] / 1e3])
    return meshed(KAModel(), i, 90, mesh)


def echosms_boundary_elements(row):
    """A third of the faces that the row's run had (11264, minutes and gigabytes): a check within the tolerance, never written."""
    import trimesh
    from echosms import BEMModel

    i = row["inputs"]
    mesh = trimesh.creation.cylinder(radius=i["radius_mm"] / 1e3, height=i["thickness_mm"] / 1e3, sections=64)
    mesh = mesh.subdivide_to_size(i["radius_mm"] / 1e3 / 6)
    return meshed(BEMModel(), i, 90, mesh)


# Bottom, dead zone, ice


def formula_footprint(row):
    return 2 * row["inputs"]["depth_m"] * tan_deg(row["inputs"]["full_beamwidth_deg"] / 2)


def formula_range_resolution(row):
    i = row["inputs"]
    return i["c"] / 2 * (i["tau_us"] * 1e-6 if "tau_us" in i else 1 / (i["B_kHz"] * 1e3)) * 1e3


def scan_dead_zone_flat(row):
    """Along the cone's edge, in steps of 0.1 mm: the highest point whose echo still runs into the bottom's."""
    i = row["inputs"]
    cos = cos_deg(i["half_angle_deg"])
    ranges = np.arange(0, i["depth_m"] / cos, 1e-4)
    covered = ranges[ranges + i["c"] * i["tau_us"] * 1e-6 / 2 >= i["depth_m"]]
    return i["depth_m"] - covered.min() * cos


def sampled_dead_zone(i, depth, x, y, z):
    """On the axis, from the nearest of the sampled bottom points that lie in the cone."""
    seen = np.hypot(x, y) <= z * tan_deg(i["half_angle_deg"])
    nearest = np.sqrt(x[seen] ** 2 + y[seen] ** 2 + z[seen] ** 2).min()
    return depth - nearest + i["c"] * i["tau_us"] * 1e-6 / 2


def search_dead_zone_slope(row):
    i = row["inputs"]
    depth = i["depth_on_axis_m"]
    x = np.linspace(-depth, depth, 4_000_001)
    return sampled_dead_zone(i, depth, x, np.zeros_like(x), depth + x * tan_deg(i["slope_deg"]))


def search_dead_zone_boulder(row):
    i = row["inputs"]
    depth, radius = i["depth_m"], i["boulder_radius_m"]
    polar, turn = np.meshgrid(np.linspace(0, math.pi / 2, 2000), np.linspace(0, 2 * math.pi, 2001))
    x = i["offset_m"] + radius * np.sin(polar) * np.cos(turn)
    y = radius * np.sin(polar) * np.sin(turn)
    z = depth - radius * np.cos(polar)
    flat = np.append(x.ravel(), 0.0), np.append(y.ravel(), 0.0), np.append(z.ravel(), depth)
    return sampled_dead_zone(i, depth, *flat)


def quad_dead_zone_volume(row):
    from scipy.integrate import quad

    depth, half = row["inputs"]["depth_m"], math.radians(row["inputs"]["half_angle_deg"])
    return 2 * math.pi * quad(lambda t: depth**3 * (math.cos(t) ** -3 - 1) / 3 * math.sin(t), 0, half)[0]


def quad_dead_zone_height(row):
    from scipy.integrate import quad

    i = row["inputs"]
    depth, upto = i["depth_m"], 4 * math.radians(i["bw3_deg"] / 2)
    pattern = lambda t: float(piston(i["ka"] * math.sin(t))) ** 4
    value = lambda t: 2 * math.pi * pattern(t) * depth**3 * (math.cos(t) ** -3 - 1) / 3 * math.sin(t)
    return quad(value, 0, upto, limit=500)[0] / (over_hemisphere(i["ka"], 4, upto) * depth**2)


def acoustotreams_reflection(density_ratio, speed, tangent, incidence_deg):
    """Plane wave on a fluid half-space; the library's wave number is that of air, so it is asked for the water's."""
    from acoustotreams import AcousticMaterial
    from acoustotreams.coeffs import fresnel_acoustics

    water, bottom = AcousticMaterial(1.0, 1.0), AcousticMaterial(density_ratio, speed / (1 + 1j * tangent))
    along = float(water.ks(1.0).real) * sin_deg(incidence_deg)
    normal = [complex(medium.kzs(1.0, along, 0.0)) for medium in (water, bottom)]
    return abs(complex(fresnel_acoustics(normal, [1.0, density_ratio])[1, 0, 0, 0]))


def acoustotreams_bottom(row):
    i = row["inputs"]
    tangent = i["loss_tangent"] if "loss_tangent" in i else i["atten_dB_per_lambda"] / (40 * math.pi * math.log10(math.e))
    reflected = acoustotreams_reflection(i["density_ratio"], i["speed_ratio"], tangent, i["incidence_from_normal_deg"])
    return -db20(reflected) if row["units"] == "dB" else reflected


def acoustotreams_ice(row):
    """At normal incidence no shear wave is made: the ice acts as a fluid with its longitudinal speed."""
    i = row["inputs"]
    return acoustotreams_reflection(i["rho_ice"] / i["rho_w"], i["Vp"] / i["c_w"], 0.0, 0.0)


def solve_ice_reflection(row):
    """Plane wave from water on an elastic half-space: normal displacement and stress go on, and no shear stress is at the face."""
    i = row["inputs"]
    p = sin_deg(i["incidence_from_normal_deg"]) / i["c_w"]
    down = lambda speed: np.sqrt(complex(1 / speed**2 - p**2))
    water, longitudinal, shear = down(i["c_w"]), down(i["Vp"]), down(i["Vs"])
    rho_w, rho, vs2 = i["rho_w"], i["rho_ice"], i["Vs"] ** 2
    bend = 1 - 2 * vs2 * p**2
    equations = np.array([
        [water, longitudinal, p],
        [rho_w, -rho * bend, -2 * rho * vs2 * p * shear],
        [0, 2 * p * longitudinal, 2 * p**2 - 1 / vs2],
    ])
    reflected = np.linalg.solve(equations, np.array([water, -rho_w, 0], dtype=complex))[0]
    return abs(reflected)


def formula_critical_angle(row):
    i = row["inputs"]
    return math.degrees(math.asin(i["c_w"] / i["Vp" if row["id"] == "ice_critP" else "Vs"]))


def formula_ice_second_arrival(row):
    return db20(1 - row["inputs"]["R"] ** 2)


def formula_second_bottom_echo(row):
    return db20(row["inputs"]["R_ice"] * row["inputs"]["R_bottom"] / 2)


def two_path_sum(row):
    i = row["inputs"]
    k, direct = 2 * math.pi * i["f_kHz"] * 1e3 / i["c"], i["separation_m"]
    mirrored = math.hypot(direct, 2 * i["depth_below_ice_m"])
    return db20(np.exp(1j * k * direct) / direct - np.exp(1j * k * mirrored) / mirrored) + 20 * math.log10(direct)


def formula_absorption_branches(row):
    """The terms in T^0 of the two branches of A3 in Francois and Garrison; the row is at 0 degrees."""
    if row["inputs"]["T_C"] != 0:
        raise NotRecomputed("only the terms at 0 degrees are here")
    return 4.937e-4 / 3.964e-4


# Interference, desirability, rank acceptability


def formula_collision(row):
    i = row["inputs"]
    clear = 1.0
    for period in i["interferer_periods_s"]:
        clear *= 1 - (i["gate_ms"] + i["interferer_pulse_ms"]) / 1e3 / period
    return 1 - clear


def scipy_any_mark(row):
    """At least one of several independent marks: the upper tail of the Poisson binomial distribution."""
    from scipy.stats import poisson_binom

    i = row["inputs"]
    return float(poisson_binom.sf(0, [(i["gate_ms"] + i["interferer_pulse_ms"]) / 1e3 / period for period in i["interferer_periods_s"]]))


def formula_drift(row):
    own, other = row["inputs"]["T_v_s"], row["inputs"]["T_i_s"]
    return ((-own + other / 2) % other - other / 2) * 1e3


def spotdesirability_value(row):
    from spotdesirability import DMax, DMin, DTarget

    i = row["inputs"]
    kind = name_part(row, 1)
    if kind == "max":
        curve = DMax(i["L"], i["T"], i["s"])
    elif kind == "min":
        curve = DMin(i["T"], i["U"], i["s"])
    else:
        curve = DTarget(i["L"], i["T"], i["U"], i["s"], i["t"])
    return float(np.ravel(curve.predict(np.array([float(i["y"])])))[0])


def geometric_mean(row):
    return float(np.prod(row["inputs"]["d"])) ** (1 / len(row["inputs"]["d"]))


def rank_region(utilities, chosen, rank):
    """Where in the triangle of weights (the first two of three) an alternative has a rank, as shapely polygons."""
    from shapely import unary_union
    from shapely.geometry import Polygon

    triangle = Polygon([(0, 0), (1, 0), (0, 1)])

    def better(other):
        """The part where `other` has more than `chosen`: a half-plane a x + b y + c > 0, as a large polygon."""
        more = np.subtract(utilities[other], utilities[chosen])
        a, b, c = more[0] - more[2], more[1] - more[2], more[2]
        length = math.hypot(a, b)
        normal, foot = np.array([a, b]) / length, -c / length**2 * np.array([a, b])
        along = np.array([-normal[1], normal[0]])
        return Polygon([foot - 10 * along, foot + 10 * along, foot + 10 * along + 10 * normal, foot - 10 * along + 10 * normal])

    others = [n for n in range(len(utilities)) if n != chosen]
    planes = {n: better(n) for n in others}
    parts = []
    for ahead in itertools.combinations(others, rank - 1):
        part = triangle
        for n in others:
            part = part.intersection(planes[n]) if n in ahead else part.difference(planes[n])
        parts.append(part)
    return unary_union(parts), triangle.area


def shapely_acceptability(row):
    chosen, rank = name_part(row, 2).removeprefix("b"), name_part(row, 3)
    region, whole = rank_region(row["inputs"]["utilities"], int(chosen) - 1, int(rank))
    return region.area / whole


def shapely_central_weights(row):
    region, _ = rank_region(row["inputs"]["utilities"], int(name_part(row, 2).removeprefix("w")) - 1, 1)
    x, y = region.centroid.x, region.centroid.y
    return [x, y, 1 - x - y]


def formula_two_by_two(row):
    """First where w a + (1 - w) b > 0 along one weight."""
    first, second = row["inputs"]["utilities"]
    a, b = first[0] - second[0], first[1] - second[1]
    return 1 - (-b / (a - b))


def scipy_confidence(row):
    from scipy.stats import norm

    (first, second), spread = row["inputs"]["mu"], row["inputs"]["sd"]
    return norm.cdf((first - second) / math.hypot(*spread))


def backscatter_toolchain(row):
    raise NotRecomputed("the open backscatter toolchain is not on the package index; values are of its snapshot bd16667")


def no_recipe(row):
    raise NotRecomputed("the script has no recipe for it")


# The first line whose source and id begin so makes the row. Third: what the report counts it under.
RECIPES = [
    ("Open Backscatter Toolchain", "", "open backscatter toolchain", backscatter_toolchain),
    ("iapws", "rho_", "iapws", iapws_density),
    ("iapws", "c_iapws95", "iapws", iapws_sound_speed),
    ("iapws", "dcdT", "iapws", iapws_slope_in_temperature),
    ("iapws", "dcdp", "iapws", iapws_rise_per_megapascal),
    ("iapws", "alpha_classical", "iapws", iapws_classical_absorption),
    ("iapws", "SL_const", "iapws", iapws_source_level_constant),
    ("iapws", "SL_", "iapws", iapws_source_level),
    ("iapws", "charm", "iapws", iapws_harmonic_mean),
    ("CODATA kB, iapws", "NL_thermal", "iapws", noise_of_row),
    ("Wood equation, numpy; water iapws", "wood", "iapws", iapws_wood_mixture),
    ("CoolProp", "c_", "CoolProp", coolprop_sound_speed),
    ("gsw", "c_gsw", "gsw", gsw_sound_speed),
    ("gsw", "ice_rho", "gsw", gsw_ice_density),
    ("gsw", "ice_cbulk", "gsw", gsw_ice_sound_speed),
    ("seawater", "c_unesco", "seawater", seawater_sound_speed),
    ("SeaFreeze", "c_bollengier", "SeaFreeze", seafreeze_water),
    ("SeaFreeze", "ice_V", "SeaFreeze", seafreeze_ice),
    ("Marczak", "c_marczak", "NumPy", polynomial_sound_speed),
    ("Bilaniuk", "c_bw148", "NumPy", polynomial_sound_speed),
    ("echopype", "alpha_", "echopype", echopype_absorption),
    ("echopype", "TL2", "echopype", echopype_two_way_loss),
    ("arlpy", "alpha_arlpy", "arlpy", arlpy_absorption),
    ("arlpy", "c_mackenzie", "arlpy", arlpy_sound_speed),
    ("arlpy", "R_", "arlpy", arlpy_reflection),
    ("k-wave-python", "alpha_Pinkerton", "k-wave-python", kwave_absorption),
    ("acoustotreams", "R_ice", "acoustotreams", acoustotreams_ice),
    ("acoustotreams", "R", "acoustotreams", acoustotreams_bottom),
    ("sonar 1.0.2", "TL2", "sonar (R)", r_two_way_loss),
    ("sonar 1.0.2", "rres", "sonar (R)", r_range_resolution),
    ("second chain", "coup", "CoolProp, mpmath and sonar (R) in a chain", second_chain_direct),
    ("published coefficients FG", "alpha_trap", "NumPy", formula_absorption_branches),
    ("scipy", "piston_x", "SciPy", scipy_piston_crossing),
    ("scipy", "piston_null", "SciPy", scipy_piston_null),
    ("scipy", "piston_sl", "SciPy", scipy_side_lobe),
    ("scipy", "bw10_from_bw3", "SciPy", scipy_beamwidth_of_width),
    ("scipy", "bw", "SciPy", scipy_beamwidth),
    ("scipy", "null1", "SciPy", scipy_first_null),
    ("scipy", "ratio_bw10_bw3", "SciPy", scipy_ratio_of_widths),
    ("scipy", "radius_", "SciPy", scipy_radius),
    ("scipy", "psi_", "SciPy", quad_equivalent_angle),
    ("scipy", "DI_", "SciPy", quad_directivity),
    ("scipy", "taper1_x", "SciPy", scipy_taper_crossing),
    ("scipy", "taper2_x", "SciPy", scipy_taper_crossing),
    ("scipy", "taper1_psi", "SciPy", quad_taper_equivalent_angle),
    ("scipy", "taper2_psi", "SciPy", quad_taper_equivalent_angle),
    ("scipy", "taper2_sl", "SciPy", scipy_taper_side_lobe),
    ("scipy", "pedestal", "SciPy", scipy_pedestal_side_lobe),
    ("scipy", "rect_t", "SciPy", scipy_rectangle_crossing),
    ("scipy", "rect_psi", "SciPy", quad_rectangle_equivalent_angle),
    ("scipy", "DT_sw0", "SciPy", scipy_detection_steady),
    ("scipy", "dz_eq_piston", "SciPy", quad_dead_zone_height),
    ("scipy.stats", "smaa_conf", "SciPy", scipy_confidence),
    ("scipy 1.17.1 stats.poisson_binom", "collide", "SciPy", scipy_any_mark),
    ("scipy/numpy", "des_overall", "NumPy", geometric_mean),
    ("mpmath", "psi_const", "mpmath", mpmath_equivalent_angle_limit),
    ("beamshapes", "piston_B", "beamshapes", beamshapes_piston),
    ("own brute-force sum", "piston_rayleigh", "NumPy", surface_sum_piston),
    ("numpy trapezoid", "nf_onaxis", "NumPy", trapezoid_near_field),
    ("definition", "nf_", "NumPy", definition_near_field),
    ("definition", "rres", "NumPy", formula_range_resolution),
    ("closed form ln(Pfa)", "DT_sw1", "NumPy", formula_detection_fluctuating),
    ("closed form", "taper1_eff", "NumPy", lambda row: db10((2 * row["inputs"]["n"] + 1) / (row["inputs"]["n"] + 1) ** 2)),
    ("own chain", "budget", "iapws, echopype and SciPy in a chain", chain_budget),
    ("own chain", "coup", "iapws, echopype and SciPy in a chain", chain_coupling),
    ("echosms 0.24.0 ESModel", "TS_", "echosms", echosms_elastic_sphere),
    ("echosms 0.24.0 MSSModel", "TS_", "echosms", echosms_modal_sphere),
    ("echosms 0.24.0 DCMModel", "TS_", "echosms", echosms_cylinder),
    ("echosms 0.24.0 PSMSModel", "TS_", "echosms", echosms_spheroid),
    ("echosms 0.24.0 KAModel", "TS_disc", "echosms", echosms_kirchhoff_disc),
    ("echosms 0.24.0 KAModel", "TS_KAspheroid", "echosms", echosms_kirchhoff_spheroid),
    ("echosms 0.24.0 BEMModel", "TS_BEMdisc", "echosms", echosms_boundary_elements),
    ("geometry", "footprint", "NumPy", formula_footprint),
    ("own brute-force ray", "dz_flat", "NumPy", scan_dead_zone_flat),
    ("own brute-force search", "dz_slope", "NumPy", search_dead_zone_slope),
    ("own brute-force 3-D", "dz_boulder", "NumPy", search_dead_zone_boulder),
    ("numerical integral", "dz_volume", "SciPy", quad_dead_zone_volume),
    ("3x3 boundary-condition", "R_ice_half", "NumPy", solve_ice_reflection),
    ("Snell", "ice_crit", "NumPy", formula_critical_angle),
    ("plane-wave layer theory", "ice_second_arrival", "NumPy", formula_ice_second_arrival),
    ("image theory", "second_bottom_echo", "NumPy", formula_second_bottom_echo),
    ("two-path phasor sum", "lloyd", "NumPy", two_path_sum),
    ("asymptotic J1 envelope", "B90_env", "NumPy", formula_envelope),
    ("1-prod", "collide", "NumPy", formula_collision),
    ("modular arithmetic", "drift", "NumPy", formula_drift),
    ("spotdesirability", "des_", "spotdesirability", spotdesirability_value),
    ("exact polygon clipping shapely", "smaa_", "shapely", shapely_acceptability),
    ("shapely", "smaa_", "shapely", shapely_central_weights),
    ("analytic", "smaa_2x2", "NumPy", formula_two_by_two),
]

# Other libraries that the notes of rows name: checked as well, never written.
SECOND_OPINIONS = [("echosms 0.24.0 ESModel", "TS_", "acoutreams, second opinion", acoutreams_elastic_sphere)]


# Made coarser than the row, to be quick: checked, never written.
COARSER = (echosms_boundary_elements,)


def recipe_of(row, recipes):
    fitting = (r for r in recipes if row["source"].startswith(r[0]) and row["id"].startswith(r[1]))
    return next(fitting, None)


def tolerance_of(row):
    size = max(abs(x) for x in np.ravel(row["value"]))
    return row["tolerance"]["abs"] if "abs" in row["tolerance"] else row["tolerance"]["rel"] * size


def recomputed(row, make):
    """The value as plain numbers, or the reason why there is none."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            value = make(row)
    except NotRecomputed as reason:
        return None, str(reason)
    except ModuleNotFoundError as missing:
        return None, f"package {missing.name} is not installed"
    except ImportError as failure:
        return None, f"the package does not work with the others that are installed ({failure})"
    except KeyError as missing:
        return None, f"input {missing} is not in the row"
    except Exception as failure:
        raise SystemExit(f"{row['id']} could not be made: {type(failure).__name__}: {failure}") from failure
    value = [float(x) for x in value] if isinstance(value, list) else float(value)
    return value, None


def rounded(value, stored, tolerance):
    """With as many decimals as the stored number has, and no fewer than its tolerance asks for."""
    text = repr(float(stored))
    decimals = len(text.split(".")[1]) if "e" not in text else 3 - math.floor(math.log10(abs(value)))
    return round(value, max(decimals, math.ceil(-math.log10(tolerance / 2))))


class Tally:
    def __init__(self):
        self.rows, self.done, self.out, self.worst, self.left = 0, 0, [], (0.0, 0.0, ""), {}

    def add(self, row, value, reason):
        self.rows += 1
        if reason:
            self.left.setdefault(reason, []).append(row["id"])
            return
        self.done += 1
        difference = float(np.max(np.abs(np.subtract(value, row["value"]))))
        share = difference / tolerance_of(row)
        self.worst = max(self.worst, (share, difference, row["id"]))
        if not share <= 1 + 1e-9:
            self.out.append(f"{row['id']}: {value} here, {row['value']} in the file, tolerance {tolerance_of(row):.3g} {row['units']}")


def report(tallies):
    for library, tally in tallies.items():
        print(f"{library}: {tally.rows} rows, {tally.done} recomputed")
        if tally.done:
            share, difference, worst = tally.worst
            print(f"  greatest difference: {difference:.3g}, {share:.1%} of the tolerance, {worst}")
        for line in tally.out:
            print(f"  OUT OF TOLERANCE {line}")
        for reason, ids in tally.left.items():
            print(f"  not recomputed, {reason}: {', '.join(ids)}")


def main():
    parser = argparse.ArgumentParser(description="Recompute the library values of values.json and compare.")
    parser.add_argument("--write", action="store_true", help="put the recomputed values into values.json")
    parser.add_argument("--only", metavar="X", default="", help="only the libraries whose name begins with X")
    parser.add_argument("--all", action="store_true", help="list both values of every row")
    options = parser.parse_args()

    text = VALUES.read_text(encoding="utf-8")
    rows = json.loads(text)
    tallies, changed, skipped = {}, [], 0
    for row in rows:
        if row["method"] in NOT_FOR_THIS_SCRIPT:
            skipped += 1
            continue
        second = recipe_of(row, SECOND_OPINIONS)
        if second and second[2].startswith(options.only):
            tallies.setdefault(second[2], Tally()).add(row, *recomputed(row, second[3]))
        _, _, library, make = recipe_of(row, RECIPES) or ("", "", "no library", no_recipe)
        if not library.startswith(options.only):
            continue
        value, reason = recomputed(row, make)
        tallies.setdefault(library, Tally()).add(row, value, reason)
        if value is None:
            continue
        if options.all:
            print(f"{row['id']}: {value} here, {row['value']} in the file")
        if options.write and make not in COARSER:
            pair = zip(value, row["value"]) if isinstance(value, list) else [(value, row["value"])]
            fresh = [rounded(new, old, tolerance_of(row)) for new, old in pair]
            fresh = fresh if isinstance(value, list) else fresh[0]
            if fresh != row["value"]:
                changed.append(f"{row['id']}: {row['value']} becomes {fresh}")
                row["value"] = fresh

    if not tallies:
        parser.error(f"no library begins with {options.only}; run without --only to see the names")
    report(tallies)
    out = sum(len(tally.out) for tally in tallies.values())
    opinions = {recipe[2] for recipe in SECOND_OPINIONS}
    first = [tally for name, tally in tallies.items() if name not in opinions]
    done, left = sum(tally.done for tally in first), sum(tally.rows - tally.done for tally in first)
    print(f"{len(rows)} rows: {done} recomputed, {left} not, {skipped} of publications not for this script; {out} out of tolerance")
    if options.write:
        end = "\n" if text.endswith("\n") else ""
        VALUES.write_text(json.dumps(rows, indent=0, ensure_ascii=False) + end, encoding="utf-8")
        print(f"{len(changed)} values written anew")
        for line in changed:
            print(f"  {line}")
    return 1 if out else 0


if __name__ == "__main__":
    sys.exit(main())
