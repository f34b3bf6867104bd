"""What one unit hears of another over a sloping bottom, with leaning and oblong beams: direct integration with NumPy and SciPy only.

Writes scatter.json: random cases with their inputs, and the level that is passed for each of some durations after a ping. All lengths are over the
depth half-way between the units, times over depth / sound speed. Run with: python3 scatter.py (a quarter of an hour on one core; the versions used stand
in the file).

The bottom is summed in small cells of a grid in x and y, z from the plane's equation; patterns come straight from the Bessel function and the sine, beams are
turned by rotation matrices. Nothing is shared with lakebeam: no ellipses, no quadratic for a ring, no tables.
"""

import json

import numpy as np
import scipy
from scipy import optimize, special

HALF_POWER = optimize.brentq(lambda x: 20 * np.log10(2 * special.j1(x) / x) + 3.0, 1.0, 2.5)
HALF_SINE = optimize.brentq(lambda x: 20 * np.log10(np.sin(x) / x) + 3.0, 1.0, 2.5)
FLOOR = -40.0
CASES, CELLS, REACH, BEND, BIN = 24, 4000, 5.5, 0.25, 0.0004
DURATIONS = np.geomspace(0.004, 2.0, 20)


def power(beam, towards):
    """One-way intensity of a beam towards unit vectors, shape (3, ...)."""
    h, l = np.radians(beam["heading_deg"]), np.radians(beam["lean_deg"])
    turn = np.array([[np.cos(h), -np.sin(h), 0], [np.sin(h), np.cos(h), 0], [0, 0, 1]])
    lean = np.array([[np.cos(l), 0, np.sin(l)], [0, 1, 0], [-np.sin(l), 0, np.cos(l)]])
    own = np.tensordot((lean @ turn).T, towards, 1)
    floor = 10 ** (FLOOR / 10)
    if "width_deg" in beam:
        x = np.maximum(HALF_POWER / np.sin(np.radians(beam["width_deg"]) / 2) * np.hypot(own[0], own[1]), 1e-9)
        b = np.maximum((2 * special.j1(x) / x) ** 2, floor)
    else:
        b = 1.0
        for part, width in zip(own[:2], (beam["along_deg"], beam["across_deg"])):
            x = HALF_SINE / np.sin(np.radians(width) / 2) * part
            b = b * np.maximum(np.sinc(x / np.pi) ** 2, floor)
        b = np.maximum(b, floor)
    return np.where(own[2] < 0, floor, b)


def levels(case):
    """The level passed for each duration, dB, over the depth."""
    s, pulse = case["spacing"], case["pulse"]
    slope, uphill = np.radians(case["slope_deg"]), np.radians(case["uphill_deg"])
    rise = np.tan(slope) * np.array([np.cos(uphill), np.sin(uphill)])
    normal = np.array([rise[0], rise[1], 1.0])
    normal /= np.linalg.norm(normal)
    units = np.array([[-s / 2, 0, 0], [s / 2, 0, 0]])
    # The mirror point: the talker's image below the plane, seen from the listener.
    height = lambda p: normal[2] - normal @ p
    image = units[0] + 2 * height(units[0]) * normal
    part = height(units[1]) / (height(units[1]) + height(units[0]))
    mirror = units[1] + part * (image - units[1])
    first = np.linalg.norm(image - units[1])
    u = np.linspace(-1, 1, CELLS + 1) * np.arcsinh(REACH / BEND)
    edges = BEND * np.sinh(u)
    middle, width = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
    x, dx = mirror[0] + middle, width
    bins = int(2.5 * REACH / BIN)
    bends = np.zeros(bins + 2)

    def bend(path, slopes):
        place = np.maximum((path - first) / BIN, 0.0)
        index = place.astype(np.int64)
        share, keep = place - index, index < bins
        index, share, slopes = index[keep], share[keep], slopes[keep]
        bends[:] += np.bincount(index, slopes * (1 - share), bins + 2)
        bends[:] += np.bincount(index + 1, slopes * share, bins + 2)

    for start in range(0, CELLS, 100):
        y, dy = mirror[1] + middle[start : start + 100, None], width[start : start + 100, None]
        z = 1.0 - rise[0] * x - rise[1] * y
        under = z > 0.02
        points = np.array(np.broadcast_arrays(x, y, np.maximum(z, 0.02)))
        way = [points - unit[:, None, None] for unit in units]
        r = [np.sqrt((w**2).sum(0)) for w in way]
        one, two = (w / q for w, q in zip(way, r))
        bisector = -(one + two)
        down = -np.tensordot(normal, bisector, 1)
        tan2 = ((bisector**2).sum(0) - down**2) / down**2
        cosines = np.tensordot(normal, one, 1) * np.tensordot(normal, two, 1)
        strength = case["facet"] * np.exp(-tan2 / case["tan2_sigma"]) + case["diffuse"] * (cosines if case["lambert"] else 1.0)
        intensity = power(case["talker"], one) * power(case["listener"], two) * strength / (r[0] * r[1]) ** 2
        arrives = np.where(under, intensity * dx * dy / normal[2], 0.0)
        both = one + two
        extent = np.maximum(np.abs(both[0] - rise[0] * both[2]) * dx + np.abs(both[1] - rise[1] * both[2]) * dy, 0.2 * BIN)
        path = r[0] + r[1]
        bend((path - extent / 2).ravel(), (arrives / extent).ravel())
        bend((path + extent / 2).ravel(), (-arrives / extent).ravel())
    total = np.concatenate([[0.0], np.cumsum(np.cumsum(bends) * BIN)])
    at = first + BIN * np.arange(total.size)
    step = BIN / 2
    paths = first + step * (np.arange(2 * bins) + 0.5)
    heard = np.interp(paths, at, total) - np.interp(paths - pulse, at, total, left=0.0)
    heard = np.sort(heard)[::-1]
    index = np.minimum((DURATIONS / step).astype(int), heard.size - 1)
    return 10 * np.log10(np.maximum(heard[index], 1e-30))


def beam(random):
    hung = {"heading_deg": random.uniform(0, 180), "lean_deg": random.choice([0.0, random.uniform(-12, 12)])}
    first = 6 * (40 / 6) ** random.random()
    if random.random() < 0.5:
        return {"width_deg": first, **hung}
    return {"along_deg": first, "across_deg": first * random.uniform(1.5, 4), **hung}


def main():
    random = np.random.default_rng(20270115)
    cases = []
    for number in range(CASES):
        talker = beam(random)
        same = {**talker, "heading_deg": random.uniform(0, 180), "lean_deg": 0.0}
        case = {
            "talker": talker,
            "listener": same if random.random() < 0.5 else beam(random),
            "slope_deg": 0.0 if number % 4 == 0 else random.uniform(2, 30),
            "uphill_deg": random.uniform(0, 360),
            "spacing": 0.05 * 50 ** random.random(),
            "pulse": 0.004 * 80 ** random.random(),
            "facet": 10 ** random.uniform(-3, -1),
            "tan2_sigma": 10 ** random.uniform(-2.5, -0.7),
            "diffuse": 10 ** random.uniform(-3, -1.3),
            "lambert": bool(random.random() < 0.6),
        }
        case["levels_db"] = [round(float(level), 3) for level in levels(case)]
        cases.append(case)
        print(number, flush=True)
    made_by = f"tests/reference/scatter.py, NumPy {np.__version__}, SciPy {scipy.__version__}"
    with open("scatter.json", "w") as file:
        json.dump({"made_by": made_by, "durations": [float(d) for d in DURATIONS], "cases": cases}, file, indent=1)


if __name__ == "__main__":
    main()
