"""Rank acceptabilities of the worked example of the method's own publication, for smaa.json.

Lahdelma, R. and Salminen, P. (2001), SMAA-2: Stochastic multicriteria acceptability analysis for group decision making, Operations
Research 49(3), 444-454, doi:10.1287/opre.49.3.444.11220: the 13 alternatives and 11 criteria of section 5, table 1 (as an open
repository of worked examples gives them). The paper's own table of results was not at hand. The acceptabilities here are those of its
definition with exact criteria, each scaled between the worst and the best of the alternatives, and weights uniform over the simplex.

Made with NumPy 2.4.6 (its Dirichlet sampler and its sorting); shares no code with lakebeam. Run: python3 smaa.py > smaa.json
"""

import json

import numpy as np

NAMES = ["IIA1", "IIA2", "IIA3", "IIA4", "IIB1", "IIB2", "IIB3", "IIB4", "IIC1", "IIC2", "IIC3", "IIC4", "ZERO"]
TABLE = np.array([
    [4, 1.0, 985, 30, 166, 705, 25000, 4.5, 4.2, 15.1, 1.75],
    [4, 2.5, 985, 30, 166, 765, 25000, 4.5, 4.1, 15.3, 1.69],
    [4, 1.5, 985, 30, 166, 705, 25000, 4.5, 4.3, 12.7, 1.75],
    [4, 1.5, 985, 30, 166, 705, 25000, 4.5, 4.3, 12.2, 1.65],
    [4, 1.5, 985, 35, 177, 705, 25000, 4.5, 4.4, 15.1, 1.68],
    [4, 2.5, 985, 35, 177, 765, 25000, 4.5, 4.3, 15.3, 1.62],
    [4, 2.0, 985, 35, 177, 705, 25000, 4.5, 4.5, 12.7, 1.68],
    [4, 2.0, 985, 35, 177, 705, 25000, 4.5, 4.5, 12.2, 1.58],
    [4, 1.0, 985, 35, 166, 705, 25000, 4.5, 4.6, 14.8, 1.72],
    [4, 2.5, 985, 35, 166, 765, 25000, 4.5, 4.5, 15.0, 1.66],
    [4, 1.5, 985, 35, 166, 705, 25000, 4.5, 4.7, 12.4, 1.72],
    [4, 2.0, 985, 35, 166, 705, 25000, 4.5, 4.7, 11.9, 1.62],
    [1, 0.0, 1300, 50, 266, 4200, 0, 2.0, 1.0, 18.8, 1.0],
])
MAXIMISED = np.array([False, False, False, True, True, False, True, True, True, False, True])
DRAWS, BATCH, SEED = 4_000_000, 100_000, 20010503

low, high = TABLE.min(axis=0), TABLE.max(axis=0)
worth = (TABLE - low) / (high - low)
worth[:, ~MAXIMISED] = 1.0 - worth[:, ~MAXIMISED]

rng = np.random.default_rng(SEED)
counts = np.zeros((len(NAMES), len(NAMES)), dtype=np.int64)
central = np.zeros_like(TABLE)
for _ in range(DRAWS // BATCH):
    weights = rng.dirichlet(np.ones(TABLE.shape[1]), size=BATCH)
    order = np.argsort(-(weights @ worth.T), axis=1, kind="stable")
    for rank in range(len(NAMES)):
        counts[:, rank] += np.bincount(order[:, rank], minlength=len(NAMES))
    np.add.at(central, order[:, 0], weights)

won = counts[:, :1]
json.dump(
    {
        "source": "Lahdelma and Salminen (2001), table 1; NumPy 2.4.6, 4,000,000 draws, standard error at most 0.00025",
        "names": NAMES,
        "worth": worth.round(12).tolist(),
        "acceptability": (counts / DRAWS).round(5).tolist(),
        "central_weights": [row.tolist() if n else None for row, n in zip((central / np.maximum(won, 1)).round(4), won[:, 0] > 20_000)],
    },
    open("/dev/stdout", "w"),
)
