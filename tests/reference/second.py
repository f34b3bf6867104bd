"""Second implementations of what has no library: the echo of a plane bottom, and balls that lose sound.

Writes second.json, read by tests/tests/reference/second.rs. Run with: python3 second.py (a few minutes; the versions used stand in the file). Nothing is
shared with lakebeam but the table of bottom strengths, which is read from its source as an input.

Echo of a plane: cells of a square grid on the plane, binned by range, and a window as long as the range cell moved over them; lakebeam has rings of
incidence. Balls: the boundary conditions of each partial wave as a system of three equations; lakebeam has phase angles.
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


def plane_echo(width, tilt_deg, row, grazing, window):
    """10 lg of h^2 times the echo of the plane at its peak; row is the strength by grazing angle, window the range cell over h."""
    reach, cells = 3.6, 3000
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
        b = np.where(cosine > 0, piston(np.sqrt(np.maximum(1 - cosine**2, 0)), width), 0.0)
        incidence = np.degrees(np.arccos(1 / r))
        s = np.interp(np.maximum(90 - incidence, 30.0), grazing[::-1], row[::-1])
        echo = np.where(incidence < 75, 10 ** (s / 10) * b**2 / r**4 * size * dy * 2, 0.0)
        near, far = r - 0.5 * (np.abs(middle) * size + y * dy) / r, r + 0.5 * (np.abs(middle) * size + y * dy) / r
        for part in np.linspace(0.1, 0.9, 5):
            index = np.minimum(((near + part * (far - near) - 1) / bin).clip(0).astype(np.int64), bins - 1)
            total += np.bincount(index.ravel(), echo.ravel() / 5, bins)
    running = np.concatenate([[0.0], np.cumsum(total)])
    return 10 * np.log10((running[200:] - running[:-200]).max())


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
    made_by = f"tests/reference/second.py, NumPy {np.__version__}, SciPy {scipy.__version__}"
    with open("second.json", "w") as file:
        json.dump({"made_by": made_by, "planes": planes, "balls": balls}, file, indent=1)


if __name__ == "__main__":
    main()
