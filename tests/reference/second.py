"""Second implementations of what has no library: the echo of a plane bottom, the area in which fish show, sheets of ice, and balls that lose sound.

Writes second.json, read by tests/tests/reference/second.rs. Run with: python3 second.py (a few minutes; the versions used stand in the file). Nothing is
shared with lakebeam but the table of bottom strengths, which is read from its source as an input.

Echo of a plane: cells of a square grid on the plane, binned by range, and a window as long as the range cell moved over them; lakebeam has rings of
incidence. Fish: cells of directions about a leaning axis, the band of the pulse at many frequencies; lakebeam has tables of areas by level and how far
out, and five frequencies. Ice: impedances carried from the air through the sheet, at many frequencies of the band; lakebeam has a closed form. Balls: the boundary conditions of each partial wave as a system of three equations; lakebeam has phase angles.
"""

import json
import re

import numpy as np
import scipy
from scipy import optimize, special

HALF_POWER = optimize.brentq(lambda x: 20 * np.log10(2 * special.j1(x) / x) + 3.0, 1.0, 2.5)
FLOOR = 10 ** (-40 / 10)


def piston(sine, width_deg):
    x = np.maximum(HALF_POWER / np.sin(np.radians(width_deg) / 2) * sine, 1e-9)
    return np.maximum((2 * special.j1(x) / x) ** 2, FLOOR)


def strengths():
    """Backscattering strength by class, frequency and grazing angle, as the table of the models has it."""
    text = open("../../services/acoustics/src/bottom_table.rs").read()
    numbers = lambda part: [float(x) for x in re.findall(r"-?\d+\.?\d*", part)]
    frequencies = numbers(re.search(r"FREQUENCIES_KHZ[^=]*=\s*\[(.*?)\];", text, re.S).group(1))
    grazing = numbers(re.search(r"GRAZING_DEG[^=]*=\s*\[(.*?)\];", text, re.S).group(1))
    classes = {}
    for name, body in re.findall(r"const (SILT|FINE_SAND|MEDIUM_SAND|COARSE_SAND|GRAVEL|COBBLE|ROCK): Strengths = \[(.*?)\n\];", text, re.S):
        classes[name] = np.array(numbers(body)).reshape(len(frequencies), len(grazing))
    return np.array(frequencies), np.array(grazing), classes


def rectangle(along, across, widths, floor=FLOOR):
    """Intensity of a uniform rectangle towards sines along its two sides."""
    edge = optimize.brentq(lambda x: 20 * np.log10(np.sin(x) / x) + 3.0, 0.5, 2.5)
    sides = [np.sinc(edge / np.sin(np.radians(width) / 2) * sine / np.pi) for sine, width in zip((along, across), widths)]
    return np.maximum((sides[0] * sides[1]) ** 2, floor)


def plane_echo(width, tilt_deg, row, grazing, window, headings=(0.0,), cells=3000):
    """10 lg of h^2 times the echo of the plane at its peak; row is the strength by grazing angle, window the range cell over h. A pair of widths is an
    oblong beam, of which the mean over its headings counts."""
    reach = 3.6
    # Finer cells where the beam and the facets are.
    u = np.linspace(-1, 1, cells + 1) * np.arcsinh(reach / 0.2)
    edges = 0.2 * np.sinh(u)
    middle, size = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
    tilt = np.radians(tilt_deg)
    bin = window / 200
    bins = int(3.2 / bin) + 2
    total = np.zeros(bins)
    for start in range(cells // 2, cells, 250):  # the other half mirrors this one
        y, dy = middle[start : start + 250, None], size[start : start + 250, None]
        r = np.sqrt(middle**2 + y**2 + 1)
        cosine = (middle * np.sin(tilt) + np.cos(tilt)) / r
        if np.ndim(width) == 0:
            two_way = piston(np.sqrt(np.maximum(1 - cosine**2, 0)), width) ** 2
        else:
            # Sines along the slope and across it, then turned.
            one, other = (middle * np.cos(tilt) - np.sin(tilt)) / r, y / r
            turned = [(one * np.cos(h) + other * np.sin(h), other * np.cos(h) - one * np.sin(h)) for h in headings]
            two_way = np.mean([rectangle(u, v, width) ** 2 for u, v in turned], axis=0)
        two_way = np.where(cosine > 0, two_way, 0.0)
        incidence = np.degrees(np.arccos(1 / r))
        s = np.interp(np.maximum(90 - incidence, 30.0), grazing[::-1], row[::-1])
        echo = np.where(incidence < 75, 10 ** (s / 10) * two_way / r**4 * size * dy * 2, 0.0)
        near, far = r - 0.5 * (np.abs(middle) * size + y * dy) / r, r + 0.5 * (np.abs(middle) * size + y * dy) / r
        for part in np.linspace(0.1, 0.9, 5):
            index = np.minimum(((near + part * (far - near) - 1) / bin).clip(0).astype(np.int64), bins - 1)
            total += np.bincount(index.ravel(), echo.ravel() / 5, bins)
    running = np.concatenate([[0.0], np.cumsum(total)])
    return 10 * np.log10((running[200:] - running[:-200]).max())


def covered(width, lean_deg, depth, layer, visible):
    """Radius of the disc of the area in which fish of -36 dB show to a unit of 207 dB at 200 kHz, on average over the layer."""
    # Francois and Garrison (1982), pure water, at 2 degrees C and half the depth; a range cell of 100 microseconds at 1412.1 m/s.
    a3 = 4.937e-4 - 2.59e-5 * 2 + 9.11e-7 * 4 - 1.5e-8 * 8
    absorption = a3 * (1 - 3.83e-5 * depth / 2 + 4.9e-10 * depth**2 / 4) * 200.0**2 / 1e3
    farthest = depth - 0.5 * 1412.1 * 100e-6
    theta = (np.arange(6000) + 0.5) / 6000 * np.radians(89)
    phi = (np.arange(240) + 0.5) / 240 * np.pi
    if lean_deg == 0:
        phi = phi[:1]
    lean = np.radians(lean_deg)
    cosine = np.cos(lean) * np.cos(theta)[:, None] + np.sin(lean) * np.sin(theta)[:, None] * np.cos(phi)
    sine = np.sqrt(np.maximum(1 - cosine**2, 0))
    # 100 microseconds of 200 kHz: a twentieth of the frequency.
    band = 1 + 0.025 * (2 * (np.arange(41) + 0.5) / 41 - 1)
    two_way = 10 * np.log10(sum(np.where(cosine > 0, piston(np.minimum(sine * part, 1), width), FLOOR) ** 2 for part in band) / len(band))
    edges = np.tan(np.arange(6001) / 6000 * np.radians(89)) ** 2
    rings = np.diff(edges)[:, None]
    areas = []
    for z in layer[0] + (layer[1] - layer[0]) * (np.arange(60) + 0.5) / 60:
        r = (z / np.cos(theta))[:, None]
        shows = (207 - 40 * np.log10(r) - 2 * absorption * r - 36 + two_way >= visible) & (r <= farthest)
        areas.append(z**2 * np.mean(np.sum(np.where(shows, rings, 0), axis=0)))
    return np.sqrt(np.mean(areas))


def sheet(thickness, khz, band_khz, loss=0.03):
    """What a sheet of ice under air sends less back down, dB, for the energy over a band; its loss is as lakebeam assumes it."""
    frequency = 1e3 * (khz + band_khz * (np.arange(200_001) + 0.5) / 200_001 - band_khz / 2)
    # From r alone, as lakebeam has it: impedances that differ by (1 + r) / (1 - r).
    ratio = (1 + 0.4286) / (1 - 0.4286)
    # Loss over one way, nepers, at the middle of the band.
    damping = thickness * loss * khz / (20 / np.log(10))
    turn = np.tanh(damping + 1j * 2 * np.pi * frequency * thickness / 3824.0)
    # Air is soft: no pressure at the top of the ice, so that its foot has the impedance Z tanh(...).
    foot = ratio * turn
    return -10 * np.log10(np.mean(np.abs((foot - 1) / (foot + 1)) ** 2))


def ball(radius, khz, solid, water=(1421.635, 999.975)):
    """Target strength of an elastic sphere with a loss of its shear."""
    c, rho = water
    q = 2 * np.pi * khz * 1e3 * radius / c
    ratio = solid["density"] / rho
    mu = ratio * (solid["shear"] / c) ** 2 * (1 - 1j * solid["loss"])  # time as exp(-i w t)
    bulk = ratio * ((solid["longitudinal"] / c) ** 2 - 4 / 3 * (solid["shear"] / c) ** 2)
    lame = bulk - 2 / 3 * mu
    k1, k2 = q / np.sqrt((lame + 2 * mu) / ratio), q / np.sqrt(mu / ratio)
    total = 0.0
    for n in range(int(q) + 22):
        j = lambda x, d=False: special.spherical_jn(n, x, d)
        second = lambda x: (n * (n + 1) / x**2 - 1) * j(x) - 2 / x * j(x, True)
        h, dh = j(q) + 1j * special.spherical_yn(n, q), j(q, True) + 1j * special.spherical_yn(n, q, True)
        nn = n * (n + 1)
        m = np.array([
            [dh / q, -k1 * j(k1, True), -nn * j(k2)],
            [h, -lame * k1**2 * j(k1) + 2 * mu * k1**2 * second(k1), 2 * mu * nn * (k2 * j(k2, True) - j(k2))],
            [0, 2 * k1 * j(k1, True) - 2 * j(k1), k2**2 * second(k2) + (nn - 2) * j(k2)],
        ])
        right = np.array([-j(q, True) / q, -j(q), 0])
        if n == 0:
            m, right = m[:2, :2], right[:2]
        a = np.linalg.solve(m, right)[0]
        total += (-1) ** n * (2 * n + 1) * a
    return 20 * np.log10(radius / 2 * abs(2 / q * total))


def main():
    random = np.random.default_rng(20270115)
    frequencies, grazing, classes = strengths()
    planes = []
    for _ in range(24):
        name = list(classes)[random.integers(len(classes))]
        row = int(random.integers(len(frequencies)))
        case = {
            "class": name, "khz": frequencies[row], "width_deg": 6 * (40 / 6) ** random.random(),
            "tilt_deg": float(random.choice([0.0, random.uniform(1, 28)])), "window": 10 ** random.uniform(-2.6, -0.8),
        }
        case["peak_db"] = round(float(plane_echo(case["width_deg"], case["tilt_deg"], classes[name][row], grazing, case["window"])), 3)
        planes.append(case)
        print(case, flush=True)
    balls = []
    lead = {"density": 11340.0, "longitudinal": 2160.0, "shear": 700.0}
    for diameter, khz, loss in [(4, 200, 0.05), (6, 83, 0.05), (6, 455, 0.05), (10, 120, 0.1), (14, 88, 0.05), (20, 300, 0.02), (8, 200, 0.0), (12, 455, 0.3)]:
        strength = ball(diameter / 2e3, khz, {**lead, "loss": loss})
        balls.append({"diameter_mm": float(diameter), "khz": float(khz), **lead, "loss": loss, "strength_db": round(float(strength), 4)})
    oblong = []
    for tilt in [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 6.0, 14.0]:
        name = list(classes)[random.integers(len(classes))]
        row = int(random.integers(len(frequencies)))
        narrow = 6 * (15 / 6) ** random.random()
        case = {
            "class": name, "khz": frequencies[row], "along_deg": narrow, "across_deg": narrow * random.uniform(1.5, 3.5),
            "tilt_deg": tilt, "window": 10 ** random.uniform(-2.2, -0.8),
        }
        # On level ground all headings are one; a rectangle is itself again after half a turn.
        headings = [0.0] if tilt == 0 else np.radians(np.arange(7.5, 180, 15))
        widths = (case["along_deg"], case["across_deg"])
        echo = plane_echo(widths, tilt, classes[name][row], grazing, case["window"], headings, 3000 if tilt == 0 else 1500)
        case["peak_db"] = round(float(echo), 3)
        oblong.append(case)
        print(case, flush=True)
    fish = []
    while len(fish) < 60:
        depth, top = random.uniform(2, 25), random.uniform(0.25, 0.9)
        layer = (top * depth, (top + random.uniform(0.2, 1) * (1 - top)) * depth)
        middle = 0.5 * (layer[0] + layer[1])
        case = {
            "width_deg": 6 * (40 / 6) ** random.random(), "lean_deg": float(random.choice([0.0, 0.0, random.uniform(1, 10)])), "depth_m": depth,
            "top_m": layer[0], "bottom_m": layer[1],
            # As loud as a fish so far off the axis one way, in the middle of the layer.
            "visible_db": 207 - 40 * np.log10(middle) - 36 + 2 * random.uniform(-32, -2),
        }
        if case["visible_db"] < 75:
            continue
        case["radius_m"] = round(float(covered(case["width_deg"], case["lean_deg"], depth, layer, case["visible_db"])), 4)
        fish.append(case)
    ice = []
    for _ in range(24):
        case = {"thickness_m": 0.03 * (2.5 / 0.03) ** random.random(), "khz": 40 * 20 ** random.random()}
        case["band_khz"] = case["khz"] * random.uniform(0.02, 0.4)
        case["loss_db"] = round(float(sheet(case["thickness_m"], case["khz"], case["band_khz"])), 4)
        ice.append(case)
    made_by = f"tests/reference/second.py, NumPy {np.__version__}, SciPy {scipy.__version__}"
    with open("second.json", "w") as file:
        json.dump({"made_by": made_by, "planes": planes, "oblong": oblong, "fish": fish, "ice": ice, "balls": balls}, file, indent=1)


if __name__ == "__main__":
    main()
