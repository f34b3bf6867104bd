"""The evaluation of an option at a level spot written once more in NumPy, as arrays over spots, options and draws: its figures and its speed.

cargo build --release -p planning --example selection
python3 tests/reference/speed.py [BINARY]

Made and run with NumPy 2.4.6 and SciPy 1.17.1 (Python 3.11). The example prints the case that `cargo bench -p planning` times (256 spots of ten
bottoms, 24 beams, a shelter of five), twelve spots with plants, and the same under one draw of the uncertain inputs, tilt included, with lakebeam's figures for
all of them and its own speed. This script shares no code with it. It evaluates all of that, prints how far the two are apart, figure by figure, and ends with
status 1 if any figure passes its TOLERANCE. Then it times itself beside lakebeam.

Written again: sound speed, absorption, density (another formula: Kell 1975), patterns straight from the Bessel function, averaged over the band of the pulse,
and the area in which a target of one depth shows, side lobes included; beam angles and directivity (by quadrature and in closed form), the echo of the bottom as
an integral over its plane under an upright or tilted axis, echoes, gains, coverage, footprint, plants, desirabilities with their tails, what the nearness of a
failure leaves of a score, and what neighbours send: the integral over the bottom by cells between ellipses of equal path and rays of equal azimuth, whose
areas are exact, with its own reading of times over a threshold. Direct at each depth for the twelve spots; by a table over depth, as in lakebeam, for the
benched ones. Only round pistons without a sweep, confirmation of 1 of 1.
Not written again: slopes, boulders, oblong beams (second.py, scatter.py and the properties in services/planning/tests/corrections hold those), the loss of a sheet of ice
(second.py; a figure here), the layout of holes, the fraction of interference marks at a gain (which lakebeam's time includes, two look-ups an evaluation), fish
per cell, what the ring-down hides of a layer that begins under it, and of the draws the bands, Pareto sets and correlations and the draws of what neighbours,
bounces and displays do (lakebeam's time includes them too).

The tolerances were set after the differences had been seen: they hold what was found, and are no forecast. What limits the agreement: lakebeam reads a pattern from
2,048 steps of angle and five frequencies, areas from a table of levels and 32 columns, the bottom from 150 rings, arrivals from a table over spacing and pulse, and the whole of it
from a table over depth. Found: bottom 0.02 dB upright and 0.19 dB under a tilt, clear gains 0.35 dB in 99 % and 0.62 dB at most, coverage 0.12 m and
footprint 0.22 m at most (of up to some ten metres, where side lobes show), scores 0.024.
"""

import json
import subprocess
import sys
import time

import numpy as np
import scipy
from scipy import integrate, optimize, special

# Bottom classes, softest first: loss on reflection, and backscattering at 200 kHz by grazing angle (the model's tables).
LOSS = np.array([40.01, 26.27, 24.80, 24.01, 12.66, 8.64, 6.52, 5.38, 3.93, 3.05])
GRAZING = np.array([90, 89, 88, 87, 86, 85, 84, 83, 82, 80, 77.5, 75, 70, 65, 60, 55, 50, 45, 40, 35, 30])
SILT = [-13.63, -13.93, -14.79, -16.07, -17.58, -19.14, -20.6, -21.88, -22.95, -24.49, -25.6, -26.2, -26.79, -27.11, -27.39, -27.67, -27.98, -28.35, -28.78, -29.31, -29.94]
COARSER = [
    [-13.53, -13.55, -13.6, -13.68, -13.8, -13.95, -14.13, -14.34, -14.57, -15.1, -15.86, -16.68, -18.34, -19.8, -20.95, -21.82, -22.49, -23.02, -23.44, -23.77, -23.94],
    [-13, -13.01, -13.03, -13.05, -13.09, -13.14, -13.2, -13.28, -13.36, -13.56, -13.86, -14.22, -15.08, -16.07, -17.09, -18.05, -18.87, -19.51, -19.89, -19.8, -19.35],
    [-13.94, -13.94, -13.94, -13.94, -13.94, -13.95, -13.95, -13.96, -13.97, -13.99, -14.02, -14.07, -14.21, -14.44, -14.77, -15.16, -15.57, -15.87, -15.74, -15.07, -16.19],
    [-21.77, -21.77, -21.76, -21.75, -21.74, -21.72, -21.7, -21.68, -21.65, -21.58, -21.47, -21.32, -20.91, -20.32, -19.49, -18.38, -16.92, -14.94, -12.28, -11.41, -11.22],
    [-16.57, -16.57, -16.58, -16.58, -16.6, -16.62, -16.64, -16.66, -16.69, -16.75, -16.85, -16.95, -17.13, -17.12, -16.49, -20.08, -16.44, -14.19, -12.53, -11.34, -10.82],
    [-12.08, -12.08, -12.09, -12.1, -12.12, -12.14, -12.16, -12.19, -12.22, -12.3, -12.43, -12.58, -12.86, -11.73, -18.69, -16.41, -14.49, -12.65, -11.53, -12.42, -13.44],
]
STRENGTH = np.array([np.array(SILT) + LOSS[3] - loss for loss in LOSS[:4]] + COARSER)
SHAPE = np.maximum(np.arange(10), 3)  # clay and softer scatter with the shape of silt
SEARCH_MARGIN, LURE_RESERVE, LURE_NOTICE, LAST_ROOM, LOST_SHARE = 15.0, 15.0, 6.0, 3.0, 0.01
WATT_LEVEL, SHELTER_SPEED, SHELTER_TEMPERATURE = 170.5, 1412.0, 2.0  # the water in which neighbours are added up
LAYER_NODES, LAYER_WEIGHTS = np.polynomial.legendre.leggauss(6)
LAYER_NODES, LAYER_WEIGHTS = 0.5 * (LAYER_NODES + 1), 0.5 * LAYER_WEIGHTS
HALF_POWER = optimize.brentq(lambda x: 20 * np.log10(2 * special.j1(x) / x) + 3.0, 1.0, 2.5)
# Limits of the desirabilities and spreads of the uncertain inputs: section 8 of the model.
LIMITS = {"coverage": (0.3, 2.5), "footprint": (6.5, 1.5), "shadow": (0.9, 0.1), "clearance": (0.0, 0.2), "cover": (-5.0, 10.0), "headroom": (-6.0, 6.0)}
SPREAD = {"beam": 0.08, "level": 2.0, "target": 3.0, "bottom": 4.0, "plants": 6.0, "depth": 0.03, "tilt": np.radians(2.0)}
ANGLES = 8192  # steps of the tables of levels, over a quarter turn
ROOT_STEPS, ROOTS, COLUMNS = 32, 353, 64  # the table of areas over the root of the drop, to 121 dB, and how far out
RINGS, WIDEST, TILTS, TILT_STEP, AROUND = 600, np.radians(75), 28, 0.0125, 96  # the plane of the bottom, and the axis against it
WINDOWS = np.linspace(-2.9, -1.0, 39)  # range cell over depth, as its logarithm
BLOCK = 8192  # evaluations in hand at a time: some forty arrays of 64 KiB, which a core's own cache nearly holds

# How far the two may be apart: 99 % of the cases, and any. What limits each is said in the docstring.
TOLERANCE = {
    "source_level_db": (0.001, 0.001), "lure_beam_db": (0.001, 0.001), "lure_echo_db": (0.002, 0.002), "lure_gain_db": (0.002, 0.002),
    "bottom_echo_db": (0.1, 0.1), "bottom_gain_db": (0.2, 0.25), "working_gain_db": (0.2, 0.25),
    "clear_gain_db": (0.5, 0.8), "search_gain_db": (0.5, 0.8), "coverage_radius_m": (0.12, 0.2), "watch_footprint_m": (0.13, 0.25),
    "dead_zone_height_m": (0.0005, 0.0005), "lure_over_vegetation_db": (0.002, 0.002), "score": (0.01, 0.08),
}


def lg(x):
    return np.log10(x)


def decibels_to_ratio(x):
    return 10 ** (x / 10)


def absorption(frequency, temperature, depth):
    """Francois and Garrison (1982), fresh water: dB/m."""
    a = 4.937e-4 - 2.59e-5 * temperature + 9.11e-7 * temperature**2 - 1.50e-8 * temperature**3
    return a * (1 - 3.83e-5 * depth + 4.9e-10 * depth**2) * (frequency / 1e3) ** 2 / 1e3


def sound_speed(bottom_temperature):
    """Harmonic mean of Marczak (1997) from 0 degrees at the ice to the bottom's temperature."""
    marczak = np.polynomial.Polynomial([1402.385, 5.038813, -5.799136e-2, 3.287156e-4, -1.398845e-6, 2.787860e-9])
    nodes, weights = np.polynomial.legendre.leggauss(8)
    temperature = np.multiply.outer(bottom_temperature, 0.5 * (nodes + 1))
    return 1 / ((0.5 * weights) / marczak(temperature)).sum(-1)


def density(t):
    """Kell (1975): kg/m3."""
    over = np.polynomial.Polynomial([999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12])
    return over(t) / (1 + 16.879850e-3 * t)


def piston_level(sine, ka, floor):
    """One-way level of a uniform circular piston, dB re its axis."""
    x = np.maximum(ka * sine, 1e-9)
    return np.maximum(20 * lg(np.maximum(np.abs(2 * special.j1(x) / x), 1e-12)), floor)


def of_band(ka, floor, band):
    """One-way level at even steps of the angle, as the echo of a band of frequencies has it; the band as a part of the frequency."""
    sine = np.sin(np.linspace(0, np.pi / 2, ANGLES + 1))
    parts = 1 + band * (np.arange(21) - 10) / 21
    two_way = sum(decibels_to_ratio(2 * piston_level(np.minimum(sine * part, 1.0), ka, floor)) for part in parts)
    return np.minimum(5 * lg(two_way / parts.size), 0.0)


def areas(level, scale):
    """Squared tangent of the disc with the area in which a target of one depth keeps a level, by the level's root and how far out."""
    theta = np.linspace(0, np.pi / 2, ANGLES + 1)[:-1]
    tangent = np.tan(theta)
    level = level[:-1] + 20 * lg(np.cos(theta))
    high, low = np.maximum(level[1:], level[:-1]), np.minimum(level[1:], level[:-1])
    wanted = -((np.arange(ROOTS) / ROOT_STEPS) ** 2)[:, None]
    shown = np.clip((high - wanted) / np.maximum(high - low, 1e-12), 0.0, 1.0) * np.diff(tangent**2)
    total = np.concatenate([np.zeros((ROOTS, 1)), np.cumsum(shown, axis=1)], axis=1)
    part = np.minimum(np.arange(COLUMNS + 1) / COLUMNS, 0.9999)
    return np.array([np.interp(scale * part / (1 - part), tangent, row) for row in total])


def on_plane(ka, floor):
    """What a beam puts there and back on rings of incidence of a plane, by tilt of its axis: the integral of b^2 around the ring."""
    incidence = (np.arange(RINGS) + 0.5) * (WIDEST / RINGS)
    tilt = np.arange(TILTS)[:, None, None] * TILT_STEP
    phi = (np.arange(AROUND) + 0.5) * (np.pi / AROUND)
    cosine = np.cos(incidence)[:, None] * np.cos(tilt) + np.sin(incidence)[:, None] * np.sin(tilt) * np.cos(phi)
    power = decibels_to_ratio(2 * piston_level(np.sqrt(np.maximum(1 - cosine**2, 0.0)), ka, floor))
    return 2 * np.pi * np.where(cosine > 0, power, 0.0).mean(-1)


def plane_peaks(weight):
    """10 lg of h^2 E where the echo of a plane is strongest: by bottom, tilt and window."""
    edge = np.linspace(0, WIDEST, RINGS + 1)
    beyond = 1 / np.cos(edge) - 1
    incidence = 0.5 * (edge[1:] + edge[:-1])
    table = np.empty((10, TILTS, WINDOWS.size))
    starts = beyond[: RINGS // 2]
    for bottom in range(10):
        scatter = decibels_to_ratio(strength_at(bottom, np.minimum(np.degrees(incidence), 60.0))) * np.cos(incidence) ** 3 * np.diff(beyond)
        for row, around in enumerate(weight):
            total = np.append(0.0, np.cumsum(around * scatter))
            for column, window in enumerate(10**WINDOWS):
                table[bottom, row, column] = 10 * lg((np.interp(starts + window, beyond, total) - total[: starts.size]).max())
    return table


def strength_at(bottom, incidence_deg):
    return np.interp(90 - incidence_deg, GRAZING[::-1], STRENGTH[bottom][::-1])


class Options:
    """Everything of the options that no spot changes, as arrays over options."""

    def __init__(self, case):
        of = lambda name: np.array([option[name] for option in case["options"]])
        self.count = len(case["options"])
        self.floor, self.frequency, self.pulse, self.interval = of("floor_db"), of("frequency_hz"), of("pulse_s"), of("interval_s")
        self.threshold, self.max_gain = of("threshold_db"), of("max_gain_db")
        self.ka = HALF_POWER / np.sin(np.radians(of("beamwidth_deg")) / 2)
        # Closed form of the directivity of a piston in a baffle: (ka)^2 / (1 - J1(2ka)/ka).
        self.directivity = 10 * lg(self.ka**2 / (1 - special.j1(2 * self.ka) / self.ka))
        shape = lambda t, ka: 2 * np.pi * np.sin(t) * (2 * special.j1(ka * np.sin(t)) / (ka * np.sin(t))) ** 4
        self.psi = np.array([integrate.quad(shape, 1e-9, np.pi / 2, (ka,), limit=500, epsrel=1e-10)[0] for ka in self.ka])
        self.relative_source = 10 * lg(of("acoustic_power_w")) + self.directivity
        thermal = 10 * lg(4 * np.pi * 1.380649e-23 * 277.15 * 999.97 * self.frequency**2 / 1421.6) + 120
        self.noise = thermal + 10 * lg(of("bandwidth_hz")) - self.directivity + of("receiver_noise_db")
        self.bandwidth = of("bandwidth_hz")
        self.ice_loss = of("ice_loss_db")
        theta = np.linspace(0, np.pi / 2, ANGLES + 1)
        slant = 20 * lg(np.maximum(np.cos(theta), 1e-7))
        levels = [of_band(*each) for each in zip(self.ka, self.floor, 1 / self.pulse / self.frequency)]
        least = [np.minimum.accumulate(level + slant) for level in levels]
        self.reach = np.array([theta[np.argmax(low < -LURE_RESERVE / 2)] for low in least])
        self.levels, self.least = np.concatenate(levels), np.concatenate(least)
        self.first_angle = np.arange(self.count)[:, None] * (ANGLES + 1)
        self.scale = np.tan(np.radians(of("beamwidth_deg")) / 2)
        self.areas = np.concatenate([areas(*each).ravel() for each in zip(levels, self.scale)])
        self.first_area = np.arange(self.count)[:, None] * (ROOTS * (COLUMNS + 1))
        self.planes = np.concatenate([plane_peaks(on_plane(*each)).ravel() for each in zip(self.ka, self.floor)])
        self.first_plane = np.arange(self.count)[:, None] * (10 * TILTS * WINDOWS.size)
        self.ring_down = self.pulse + 12 * np.log(10) * 6 / (np.pi * self.frequency)
        self.lure, self.fish = case["lure_db"], case["fish_db"]
        self.margin, self.strong = case["lure_margin_db"], case["strong_mark_db"]


class Spots:
    """Spots as arrays of shape (spots, 1, 1), or (spots, 1, draws) once their depth is drawn."""

    def __init__(self, rows, factor=1.0):
        of = lambda name: np.array([row[name] for row in rows])[:, None, None]
        self.bottom, self.offset = of("bottom"), of("lure_offset_m")
        self.recorded, self.depth = of("depth_m"), of("depth_m") * factor
        self.speed = sound_speed(of("bottom_temperature_c"))
        temperature = of("bottom_temperature_c") / 2
        self.watt = 10 * lg(density(temperature) * self.speed / (4 * np.pi)) + 120
        self.temperature = temperature
        self.lure_height = np.minimum(of("lure_height_m"), np.maximum(of("lure_height_m") / of("depth_m"), 0.9) * self.depth)
        self.lure_depth = self.depth - self.lure_height
        self.lure_range = np.hypot(self.lure_depth, self.offset)
        self.lure_angle = np.arctan2(self.offset, self.lure_depth)
        top, low = of("layer_top_m") * factor, of("layer_bottom_m") * factor
        self.layer = [top + (low - top) * node for node in LAYER_NODES]
        # 40 lg of every range is the spot's own: nothing of it is left to the evaluation.
        self.loss = {name: 40 * lg(x) for name, x in (("depth", self.depth), ("lure", self.lure_depth), ("slant", self.lure_range))}
        self.layer_loss = [40 * lg(z) for z in self.layer]
        nothing = [np.nan, np.nan]
        canopy = np.array([row["canopy"] or nothing for row in rows])[:, :, None, None]
        self.has_canopy = bool(np.isfinite(canopy).any())
        self.canopy_top, self.plants = np.maximum(self.depth - canopy[:, 0], 0.0), canopy[:, 1]


class Shift:
    """What a draw changes; the recorded figures without one."""

    def __init__(self, told=None):
        told = told or {}
        self.beam = told.get("beam_scale", 1.0)
        self.tilt = told.get("tilt_rad", None)
        if self.tilt == [0.0, 0.0]:
            self.tilt = None
        for name in ("source", "threshold", "lure", "fish", "bottom", "plants"):
            setattr(self, name, told.get(f"{name}_db", 0.0))


def surroundings(holes):
    """Distances from each hole to all others, holes that see the same counted once."""
    holes = np.array(holes)
    apart = np.sort(np.hypot(*(holes[:, None] - holes[None]).transpose(2, 0, 1)), axis=1)[:, 1:]
    # A tenth of a millimetre moves no level by a thousandth of a decibel. No hole is left out for having its neighbours farther
    # off than another: side lobes and nulls make a farther unit the louder one at some depths.
    return np.unique(np.round(apart, 4), axis=0)


def facets(bottom):
    """Facet lobe and diffuse part of a bottom, fitted to its backscatter at 90, 80 and 45 degrees grazing."""
    nadir, steep, near, oblique = decibels_to_ratio(strength_at(bottom, np.array([0.0, 5.0, 10.0, 45.0])))
    lambert = 2 * oblique < nadir
    diffuse = 2 * oblique if lambert else min(nadir, oblique)
    cos2 = lambda deg: np.cos(np.radians(deg)) ** 2 if lambert else 1.0
    facet, left = nadir - diffuse, near - diffuse * cos2(10)
    if 1e-3 * facet < left < facet:
        return facet, np.tan(np.radians(10)) ** 2 / np.log(facet / left), diffuse, lambert
    left, tangent = steep - diffuse * cos2(5), np.tan(np.radians(5)) ** 2
    return facet, tangent / np.log(facet / left) if 0 < left < facet else tangent, diffuse, lambert


class Neighbours:
    """Levels of a shelter's other units over the bottom, added up by time of arrival at given depths.

    The bottom is cut by ellipses of equal path length L and by azimuths about the middle between two units. In a direction phi the path
    length L is reached at R^2 = (L^2/4 - s^2/4 - 1) / (1 - s^2 cos^2 phi / L^2) (lengths over the depth), so the area between two
    ellipses is exact, half the difference of R^2 an azimuth, and needs no Jacobian.
    """

    RINGS, AZIMUTHS, BOUNCES = 400, 24, 3

    def __init__(self, options, holes, depths, tolerance):
        self.options, self.tolerance = options, tolerance
        around = surroundings(holes)
        self.spacings, self.which = np.unique(around, return_inverse=True)
        self.which = self.which.reshape(around.shape)
        self.depths = np.asarray(depths, float)
        # Rows: depth, bounce, spacing. So many bounces look like one off a bottom so many times as deep.
        bounce = np.arange(1, self.BOUNCES + 1)
        self.deep = (self.depths[:, None] * bounce)[:, :, None] * np.ones(self.spacings.size)
        self.bounce = np.broadcast_to((bounce - 1.0)[None, :, None], self.deep.shape)
        shape = self.deep.shape
        s = (self.spacings / self.deep).reshape(-1, 1)
        pulse = (SHELTER_SPEED * options.pulse[0] / self.deep).reshape(-1, 1)
        minor = np.concatenate([[0.0], np.geomspace(1e-3, np.tan(np.radians(80)), self.RINGS)])
        path = 2 * np.sqrt(1 + minor**2 + s**2 / 4)
        phi = (np.arange(self.AZIMUTHS) + 0.5) * (np.pi / 2 / self.AZIMUTHS)
        reach = lambda m, length: m**2 / (1 - (s[:, :, None] * np.cos(phi) / length[:, :, None]) ** 2)
        square = reach(minor[None, :, None], path)
        # Four quarters alike: two sides of the line between the units, two ends of it.
        area = 4 * 0.5 * np.diff(square, axis=1) * (np.pi / 2 / self.AZIMUTHS)
        middle = 0.5 * (square[:, 1:] + square[:, :-1])
        along = np.sqrt(middle) * np.cos(phi)
        s3 = s[:, :, None]
        one, two = (middle + s3**2 / 4 + 1 + sign * along * s3 for sign in (1, -1))
        self.sines = [np.sqrt(1 - 1 / square_range) for square_range in (one, two)]
        self.cosines = 1 / np.sqrt(one * two)
        # Bisector of the two unit vectors: its tilt from the vertical.
        r1, r2 = np.sqrt(one), np.sqrt(two)
        x = (along + s3 / 2) / r1 + (along - s3 / 2) / r2
        y = np.sqrt(middle) * np.sin(phi) * (1 / r1 + 1 / r2)
        self.tan2_beta = (x**2 + y**2) / (1 / r1 + 1 / r2) ** 2
        self.spread = area * self.cosines**2
        # What arrives at one moment left between L - pulse and L: both ends as places among the rings.
        moments = np.sort(np.concatenate([path, path + pulse], axis=1), axis=1)
        self.now, self.before = self.places(moments, s, minor, path), self.places(moments - pulse, s, minor, path)
        self.seconds = (np.diff(moments, axis=1) * (self.deep.reshape(-1, 1) / SHELTER_SPEED)).reshape(*shape, -1)
        self.first_path = (path[:, 0] * self.deep.ravel()).reshape(shape)
        self.alpha = [absorption(f, SHELTER_TEMPERATURE, self.depths / 2) for f in options.frequency]
        self.beams = None

    @staticmethod
    def places(length, s, minor, path):
        inside = np.sqrt(np.maximum(length**2 / 4 - 1 - s**2 / 4, 0.0))
        index = np.clip(np.searchsorted(minor, inside) - 1, 0, minor.size - 2)
        low, high = np.take_along_axis(path, index, 1), np.take_along_axis(path, index + 1, 1)
        return index, np.clip((length - low) / (high - low), 0.0, 1.0)

    @staticmethod
    def at(total, place):
        index, share = place
        low = np.take_along_axis(total, index, 1)
        return low + share * (np.take_along_axis(total, index + 1, 1) - low)

    def critical(self, option, bottom):
        """The lowest threshold at every depth that keeps the fraction of interference marks within the tolerance."""
        o = self.options
        if self.beams is None or self.beams[0] != option:
            one, two = (decibels_to_ratio(piston_level(sine, o.ka[option], o.floor[option])) for sine in self.sines)
            self.beams = (option, one * two * self.spread, {})
        _, beams, scattered = self.beams
        shape = int(SHAPE[bottom])
        if shape not in scattered:
            facet, tan2_sigma, diffuse, lambert = facets(shape)
            strength = facet * np.exp(-self.tan2_beta / tan2_sigma) + diffuse * (self.cosines if lambert else 1.0)
            rings = (beams * strength).sum(-1)
            total = np.concatenate([np.zeros((rings.shape[0], 1)), np.cumsum(rings, axis=1)], axis=1)
            intensity = self.at(total, self.now) - self.at(total, self.before)
            scattered[shape] = (10 * lg(np.maximum(intensity, 1e-30))).reshape(*self.deep.shape, -1)
        source = o.relative_source[option] + WATT_LEVEL
        alpha = self.alpha[option][:, None, None]
        level = source + LOSS[shape] - LOSS[bottom] - 20 * lg(self.deep) - alpha * self.first_path - self.bounce * (o.ice_loss[option] + LOSS[bottom])
        levels = scattered[shape] + level[..., None]
        high, low = np.maximum(levels[..., 1:], levels[..., :-1]), np.minimum(levels[..., 1:], levels[..., :-1])
        side = 2 * piston_level(1.0, o.ka[option], o.floor[option])
        direct = source + side - 20 * lg(self.spacings) - self.alpha[option][:, None] * self.spacings
        over = 1 / np.maximum(high - low, 1e-9)

        def fraction(threshold, hole):
            t = threshold[:, None, None, None]
            above = (np.clip((high - t) * over, 0.0, 1.0) * self.seconds).sum((1, 3))
            above = above + np.where(direct > threshold[:, None], o.pulse[option], 0.0)
            marked = np.minimum(above[:, self.which[hole]] / o.interval[option], 1.0)
            return 1 - np.prod(1 - marked, axis=1)

        worst = np.full(self.depths.size, -np.inf)
        for hole in range(self.which.shape[0]):
            top = np.maximum(high.max((1, 2, 3)), direct.max(1)) + 0.01
            bottom_end = top - 160.0
            for _ in range(18):
                middle = 0.5 * (top + bottom_end)
                quiet = fraction(middle, hole) <= self.tolerance
                top, bottom_end = np.where(quiet, middle, top), np.where(quiet, bottom_end, middle)
            worst = np.maximum(worst, top)
        return worst


class Table:
    """Critical levels by option, bottom and depth, linear in the logarithm of depth between nodes 6 % apart."""

    FIRST, RATIO = 0.4, 1.06

    def __init__(self, options, holes, tolerance, shallow, deep, bottoms):
        place = lambda depth: np.log(depth / self.FIRST) / np.log(self.RATIO)
        self.start = int(np.floor(place(shallow)))
        nodes = np.arange(self.start, int(np.floor(place(deep))) + 2)
        self.count, self.depths = nodes.size, self.FIRST * self.RATIO**nodes
        self.levels = np.full((options.count, 10, self.count), np.nan)
        for start in range(0, self.count, 4):  # few depths at a time: their arrays then stay in the cache
            some = slice(start, start + 4)
            neighbours = Neighbours(options, holes, self.depths[some], tolerance)
            for option in range(options.count):
                for bottom in bottoms:
                    self.levels[option, bottom, some] = neighbours.critical(option, bottom)
        self.flat = self.levels.ravel()
        self.first = np.arange(options.count)[:, None] * (10 * self.count)

    def __call__(self, spots, depth):
        place = np.log(depth / self.FIRST) / np.log(self.RATIO) - self.start
        index = np.clip(place.astype(np.int32), 0, self.count - 2)
        share = place - index
        index = index + (self.first + spots.bottom * self.count)
        low = self.flat.take(index)
        return low + share * (self.flat.take(index + 1) - low)


def evaluate(options, spots, shift, critical, weights=None):
    """Every figure, as arrays of (spots, options, draws)."""
    o, s = options, spots
    column = lambda x: x[:, None]
    frequency, pulse, psi = column(o.frequency), column(o.pulse), column(o.psi) * shift.beam**2
    alpha = absorption(frequency, s.temperature, s.depth / 2)
    source = column(o.relative_source) + s.watt - 20 * lg(shift.beam) + shift.source
    threshold, noise, max_gain = column(o.threshold) + shift.threshold, column(o.noise), column(o.max_gain)
    lure, fish = o.lure + shift.lure, o.fish + shift.fish
    cell = 0.5 * s.speed * np.maximum(pulse, 1 / column(o.bandwidth))

    def level(table, angle):
        place = angle * (ANGLES / (np.pi / 2))
        index = np.minimum(place.astype(np.int32), ANGLES - 1)
        share = place - index
        index = index + o.first_angle
        low = table.take(index)
        return low + share * (table.take(index + 1) - low)

    def area(wanted, limit):
        """In which a target of one depth keeps a level, out to a squared tangent."""
        place = np.sqrt(np.maximum(-wanted, 0.0)) * ROOT_STEPS
        row = np.minimum(place.astype(np.int32), ROOTS - 2)
        share = np.minimum(place - row, 1.0)
        tangent = np.sqrt(np.maximum(limit, 0.0))
        across = tangent / (tangent + column(o.scale))
        col = np.minimum((across * COLUMNS).astype(np.int32), COLUMNS - 1)
        square = lambda col: (column(o.scale) * (part := np.minimum(col / COLUMNS, 0.9999)) / (1 - part)) ** 2
        inner, outer = square(col), square(col + 1)
        out = np.minimum((limit - inner) / (outer - inner), 1.0)
        index = o.first_area + row * (COLUMNS + 1) + col
        at = lambda index: (low := o.areas.take(index)) + out * (o.areas.take(index + 1) - low)
        low = at(index)
        return np.where(limit > 0, np.where(wanted < 0, low + share * (at(index + COLUMNS + 1) - low), 0.0), 0.0)

    square, width = shift.beam**2, 20 * lg(shift.beam)
    tilted = shift.tilt is not None
    angle = np.hypot(s.lure_angle - shift.tilt[0], shift.tilt[1]) if tilted else s.lure_angle + 0 * column(o.ka)
    incidence = np.hypot(shift.tilt[0], shift.tilt[1]) if tilted else 0.0
    lure_beam = level(o.levels, angle / shift.beam)
    lure_cost = -2 * level(o.least, angle / shift.beam)
    axis_echo = source - s.loss["lure"] - 2 * alpha * s.lure_depth + lure
    lure_echo = source - s.loss["slant"] - 2 * alpha * s.lure_range + lure + 2 * lure_beam
    lure_gain, on_axis = (np.maximum(threshold + o.margin - echo, 0.0) for echo in (lure_echo, axis_echo))
    lobe = s.lure_depth * np.tan(column(o.reach) * shift.beam)

    window = (lg(cell / s.depth) - 0.1 * width - WINDOWS[0]) / (WINDOWS[1] - WINDOWS[0])
    slot, tilt = np.clip(window.astype(np.int32), 0, WINDOWS.size - 2), incidence / shift.beam / TILT_STEP * np.ones_like(window)
    row = np.minimum(tilt.astype(np.int32), TILTS - 2)
    along, down = window - slot, np.minimum(tilt - row, 1.0)
    index = o.first_plane + (s.bottom * TILTS + row) * WINDOWS.size + slot
    at = lambda index: (low := o.planes.take(index)) + along * (o.planes.take(index + 1) - low)
    low = at(index)
    plane = low + (down * (at(index + WINDOWS.size) - low) if tilted else 0.0) + width + shift.bottom
    bottom_echo = source - 0.5 * s.loss["depth"] - 2 * alpha * s.depth + plane
    bottom_gain = np.maximum(threshold + o.strong - bottom_echo, 0.0)
    working = np.maximum(lure_gain, bottom_gain)

    # A beam drawn wider by w at depth d lights the bottom of the stated one at w d, from nearer by w.
    heard = critical(s, s.depth * shift.beam)
    shelter_alpha = absorption(frequency, SHELTER_TEMPERATURE, s.depth * shift.beam / 2)
    heard = heard + (source - column(o.relative_source) - WATT_LEVEL) + shift.bottom + 40 * lg(shift.beam) - 2 * s.depth * (alpha - shelter_alpha)
    clear = np.minimum(threshold - heard, np.maximum(threshold - noise, max_gain))
    headroom = clear - working
    set_gain, least = np.minimum(working, max_gain), np.minimum(np.maximum(on_axis, bottom_gain), max_gain)
    shown_gain = np.maximum(np.minimum(np.minimum(least + SEARCH_MARGIN, max_gain), clear), least)
    search = np.maximum(shown_gain, set_gain)

    fish_source = source + fish
    shown = np.maximum(threshold - shown_gain, noise) - fish_source
    lean = 1 / np.cos(incidence)
    farthest, blind = s.depth - cell, 0.5 * s.speed * column(o.ring_down)
    covered = 0.0
    for z, loss, weight in zip(s.layer, s.layer_loss, LAYER_WEIGHTS):
        wanted = 0.5 * (shown + loss + 2 * alpha * z + 40 * lg(lean))
        # The ring-down ends above the layer in every case here, which spares the look-up of what it hides.
        covered = covered + weight * z * z * area(wanted, ((farthest / z) ** 2 - 1) / square)
    radius = np.sqrt(covered * square * lean**3)
    set_level = np.maximum(threshold - set_gain, noise)
    limit = (np.maximum(s.depth - cell, s.lure_depth + cell) / s.lure_depth) ** 2 - 1
    wanted = 0.5 * (set_level - fish_source + s.loss["lure"] + 2 * alpha * s.lure_depth)
    footprint = 2 * s.lure_depth * np.sqrt(area(wanted, limit / square) * square)
    shadow = np.minimum(cell, s.depth)
    cover = None
    if s.has_canopy:
        fill = np.minimum((s.lure_range + 0.5 * cell - s.canopy_top) / cell, 1.0)
        among = s.plants + shift.plants + 10 * lg(np.maximum(cell * fill, 1e-9) * psi * s.lure_range**2)
        cover = np.where(fill > 0, lure + 2 * lure_beam - among, np.nan)

    def desirable(name, value):
        worthless, ideal = LIMITS[name]
        share = np.clip((value - worthless) * (1 / (ideal - worthless)), -10.0, 1.0)
        return np.where(share < 0.1, 0.1 * np.exp(np.minimum(10 * share - 1, 0.0)), share)

    clutter = np.minimum(desirable("shadow", shadow), desirable("clearance", s.depth - s.lure_depth - shadow))
    if cover is not None:
        clutter = np.fmin(clutter, desirable("cover", cover))
    wishes = (desirable("coverage", radius), clutter, desirable("footprint", footprint), desirable("headroom", headroom))
    quiet = threshold - lure_gain - noise
    beyond = s.lure_range - blind
    room = np.clip(np.minimum(np.minimum(max_gain - working, quiet), clear) / LAST_ROOM, LOST_SHARE, 1.0) * np.clip(beyond / cell, LOST_SHARE, 1.0)
    lost = np.clip((lure_cost - LURE_NOTICE) / (LURE_RESERVE - LURE_NOTICE), 0.0, 1.0)
    qualified = (working <= max_gain) & (s.lure_depth * np.tan(angle) <= lobe) & (clear >= 0) & (quiet >= 0) & (beyond >= 0)
    if weights is None:
        mean = np.sqrt(np.sqrt(wishes[0] * wishes[1] * wishes[2] * wishes[3]))
    else:
        mean = np.exp(sum(weight * np.log(wish) for weight, wish in zip(weights, wishes)))
    score = np.where(qualified, mean * room * LOST_SHARE**lost, 0.0)
    return {
        "source_level_db": source, "lure_beam_db": lure_beam, "lure_echo_db": lure_echo,
        "bottom_echo_db": bottom_echo, "lure_gain_db": lure_gain, "bottom_gain_db": bottom_gain, "working_gain_db": working,
        "clear_gain_db": clear, "search_gain_db": search, "coverage_radius_m": radius, "watch_footprint_m": footprint,
        "dead_zone_height_m": shadow, "lure_over_vegetation_db": cover, "score": score, "qualified": qualified,
    }


def direct(options, holes, tolerance, depths):
    """As a table, but added up at every spot's own depth, nothing interpolated."""
    neighbours = Neighbours(options, holes, depths, tolerance)

    def critical(spots, _):
        bottoms = spots.bottom.ravel()
        levels = np.empty((bottoms.size, options.count, 1))
        for option in range(options.count):
            for bottom in np.unique(bottoms):
                levels[bottoms == bottom, option, 0] = neighbours.critical(option, bottom)[bottoms == bottom]
        return levels

    return critical


def compare(name, ours, figures):
    """Prints how far the two are apart for every figure, and whether that is within what is stated."""
    good = True
    print(f"\n{name}")
    print(f"  {'figure':<20}{'compared':>9}{'median':>11}{'99 %':>11}{'greatest':>11}{'allowed':>18}")
    for figure, told in ours.items():
        theirs = figures[figure]
        told = np.array(told, float)
        if theirs is None:
            good &= bool(np.isnan(told).all())
            continue
        theirs = np.broadcast_to(theirs, (*told.shape, 1))[..., 0]
        if not (np.isnan(told) == np.isnan(theirs)).all():
            print(f"  {figure:<20} one of the two has no figure where the other has: FAILED")
            good = False
        apart = np.abs(told - theirs)[np.isfinite(told)]
        most, any_one = TOLERANCE[figure]
        fine = bool(np.quantile(apart, 0.99) <= most and apart.max() <= any_one)
        good &= fine
        spread = "".join(f"{x:>11.2g}" for x in (np.median(apart), np.quantile(apart, 0.99), apart.max()))
        print(f"  {figure:<20}{apart.size:>9}{spread}{f'{most:g}, {any_one:g}':>18}{'' if fine else '  FAILED'}")
    return good


def best(count, once, seconds=3.0):
    """Of repeated rounds, evaluations a second of the best: on a shared machine the others only add what is not ours."""
    start, least = time.perf_counter(), np.inf
    while time.perf_counter() - start < seconds:
        round_start = time.perf_counter()
        once()
        least = min(least, time.perf_counter() - round_start)
    return count / least


def all_spots(options, rows, table):
    """The benched case in blocks of spots, as long as a block stays in a core's own cache."""
    step = max(1, BLOCK // options.count)
    blocks = [Spots(rows[i : i + step]) for i in range(0, len(rows), step)]
    none = Shift()
    return lambda: [evaluate(options, spots, none, table)["score"] for spots in blocks]


def drawn(options, row, table, draws, rng):
    """One spot under drawn inputs and weights: scores, ranks, and how often each option takes each rank."""
    block = max(1, BLOCK // options.count)

    def once():
        taken = np.zeros((options.count, options.count))
        for start in range(0, draws, block):
            size = min(block, draws - start)
            normal = rng.standard_normal
            shift = Shift()
            own = (1, options.count, size)
            shift.beam = np.exp(SPREAD["beam"] * normal(own))
            shift.source, shift.threshold = SPREAD["level"] * normal(own), SPREAD["level"] * normal(own)
            shift.tilt = SPREAD["tilt"] * normal((2, *own))
            shift.lure, shift.fish = SPREAD["target"] * normal(size), SPREAD["target"] * normal(size)
            shift.bottom, shift.plants = SPREAD["bottom"] * normal(size), SPREAD["plants"] * normal(size)
            spots = Spots([row], 1 + SPREAD["depth"] * np.clip(normal(size), -3, 3))
            weights = rng.dirichlet(np.ones(4), size).T
            score = evaluate(options, spots, shift, table, weights)["score"][0]
            rank = np.argsort(np.argsort(-score, axis=0, kind="stable"), axis=0)
            taken += np.array([np.bincount(row, minlength=options.count) for row in rank])
        return taken / draws

    return once


def main():
    binary = sys.argv[1] if len(sys.argv) > 1 else "target/release/examples/selection"
    told = json.loads(subprocess.run([binary], check=True, capture_output=True).stdout)
    print(f"NumPy {np.__version__}, SciPy {scipy.__version__}, one core each")
    options = Options(told)
    bench = told["sets"][0]
    start = time.perf_counter()
    table = Table(options, told["holes_m"], told["tolerance"], 2.0, 30.0, sorted({row["bottom"] for row in bench["spots"]}))
    preparation = time.perf_counter() - start
    good = compare(f"{bench['name']}, neighbours by table", bench["figures"], evaluate(options, Spots(bench["spots"]), Shift(), table))
    for part in told["sets"][1:]:
        spots, shift = Spots(part["spots"]), Shift(part["shift"])
        critical = direct(options, told["holes_m"], told["tolerance"], spots.depth.ravel() * shift.beam)
        good &= compare(f"{part['name']}, neighbours added up at each depth", part["figures"], evaluate(options, spots, shift, critical))

    speed = told["speed"]
    rows = bench["spots"]
    plain = best(len(rows) * options.count, all_spots(options, rows, table))
    draws = speed["draws"]
    wild = best(draws * options.count, drawn(options, rows[100], Table(options, told["holes_m"], told["tolerance"], 6, 26, [rows[100]["bottom"]]), draws, np.random.default_rng(1)))
    print(f"\n  {'a second, one core':<40}{'lakebeam':>12}{'NumPy':>12}{'ratio':>8}")
    print(f"  {'evaluations, as recorded':<40}{speed['evaluations_per_s']:>12,.0f}{plain:>12,.0f}{speed['evaluations_per_s'] / plain:>8.1f}")
    print(f"  {f'evaluations, {draws} draws at a spot':<40}{speed['drawn_per_s']:>12,.0f}{wild:>12,.0f}{speed['drawn_per_s'] / wild:>8.1f}")
    print(f"  {'preparation, s (not the same work)':<40}{speed['preparation_s']:>12.2f}{preparation:>12.2f}")
    print("\nwithin the stated tolerances" if good else "\nFAILED: outside the stated tolerances")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
