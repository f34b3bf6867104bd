"""An independent survey of a beam and its maximum-likelihood fit, with NumPy and SciPy only.

Writes survey.json: the readings, what they were simulated from, and the optimum with profile intervals that SciPy finds.
Run with: python3 survey.py   (NumPy 2.x, SciPy 1.1x; the versions used stand in the file)
"""

import json

import numpy as np
import scipy
from scipy import optimize, special, stats

SOURCE, STRENGTH, THRESHOLD, SCALE = 214.0, -45.0, 150.0, 1.5
TRUE_WIDTH, TRUE_TILT, TRUE_SHIFT = 13.5, 1.8, 4.0
SIDE = -40.0  # the pattern's floor between its side lobes, held
HALF_POWER = optimize.brentq(lambda x: 20 * np.log10(2 * special.j1(x) / x) + 3.0, 1.0, 2.5)


def level(angle_rad, width_deg):
    x = HALF_POWER / np.sin(np.radians(width_deg) / 2) * np.sin(np.abs(angle_rad))
    x = np.maximum(x, 1e-9)
    with np.errstate(divide="ignore"):
        lobe = 20 * np.log10(np.abs(2 * special.j1(x) / x))
    return np.maximum(lobe, SIDE)


def middle(x, z, width, tilt, shift):
    r = np.hypot(x, z)
    echo = SOURCE - 40 * np.log10(r) + STRENGTH + 2 * level(np.arctan2(x, z) - np.radians(tilt), width)
    return THRESHOLD + shift - echo


def log_likelihood(p, x, z, gain, seen):
    excess = (gain - middle(x, z, *p)) / SCALE
    return -np.logaddexp(0, np.where(seen, -excess, excess)).sum()


def main():
    rng = np.random.default_rng(20270115)
    offsets = np.round(np.linspace(-2.6, 2.6, 12), 3)
    x, z, gain = (a.ravel() for a in np.meshgrid(offsets, [4, 5.2, 6.4, 7.6, 8.8, 10], [14, 20, 26, 32], indexing="ij"))
    probability = special.expit((gain - middle(x, z, TRUE_WIDTH, TRUE_TILT, TRUE_SHIFT)) / SCALE)
    seen = rng.random(x.size) < probability
    data = (x, z, gain, seen)

    def best(start, held=None):
        free = [i for i in range(3) if held is None or i != held[0]]

        def cost(v):
            p = np.empty(3)
            p[free] = v
            if held is not None:
                p[held[0]] = held[1]
            return -log_likelihood(p, *data) if 2 < p[0] < 90 else 1e9

        found = optimize.minimize(cost, np.array(start)[free], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 20000, "maxfev": 20000})
        p = np.array(start, float)
        p[free] = found.x
        return p, -found.fun

    optimum, top = best([12.0, 0.0, 0.0])
    drop = stats.chi2.ppf(0.9, 1) / 2
    intervals = []
    for i, span in enumerate([4.0, 3.0, 6.0]):
        ends = []
        for direction in (-1, 1):
            profile = lambda v: best(optimum, (i, v))[1] - (top - drop)
            ends.append(optimize.brentq(profile, optimum[i], optimum[i] + direction * span, xtol=1e-7))
        intervals.append(ends)
    out = {
        "made_by": f"survey.py, NumPy {np.__version__}, SciPy {scipy.__version__}",
        "model": {"source_level_db": SOURCE, "target_strength_db": STRENGTH, "threshold_db": THRESHOLD, "scale_db": SCALE, "side_db": SIDE},
        "optimum": {"beamwidth_deg": optimum[0], "tilt_deg": optimum[1], "shift_db": optimum[2], "log_likelihood": top},
        "intervals": {"beamwidth_deg": intervals[0], "tilt_deg": intervals[1], "shift_db": intervals[2]},
        "readings": [[float(a), float(b), float(g), bool(s)] for a, b, g, s in zip(*data)],
    }
    with open("survey.json", "w") as file:
        json.dump(out, file)
        file.write("\n")
    print({k: out[k] for k in ("optimum", "intervals")}, int(seen.sum()), "seen of", x.size)


main()
