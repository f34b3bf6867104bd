"""The tables of services/acoustics/src/bottom_table.rs, made by the open backscatter toolchain's APL-UW TM 2-00 model.

The toolchain (LGPL-3, snapshot bd16667 of 2019) stands in no package index: give the folder that holds its package `hyo2` as the only argument. Nothing
of it is copied here. Needs NumPy 2.4.6; less than a minute. Prints each class with its rows by frequency; compare with the table.
"""

import logging
import math
import sys

import numpy as np

sys.path.insert(0, sys.argv[1])
np.complex = complex  # The toolchain is older than NumPy's present names.
logging.disable(logging.CRITICAL)

from hyo2.openbst.lib.models.jackson2.dicts import TestSediments, test_params  # noqa: E402
from hyo2.openbst.lib.models.jackson2.model import Model  # noqa: E402
from hyo2.openbst.lib.models.jackson2.model_params import ModelParams  # noqa: E402

SPEED = 1421.6
KHZ = [30, 40, 50, 70, 100, 150, 200, 300, 400, 500, 700, 1000]
GRAZING = [90, 89, 88, 87, 86, 85, 84, 83, 82, 80, 77.5, 75, 70, 65, 60, 55, 50, 45, 40, 35, 30]


def strengths(sediment, khz):
    """Total backscattering strength at each grazing angle: the toolchain's own run() knows whole degrees only."""
    model = Model(ModelParams(), test_params[sediment])
    model.mdl_params.f, model.mdl_params.c_w = 1e3 * khz, SPEED
    params = model.sed_params
    model.a_p, model.a_t = params.nu_p / complex(1, params.delta_p), params.nu_t / complex(1, params.delta_t)
    model.omega = 2 * math.pi * 1e3 * khz
    model.k_w = model.omega / SPEED
    model.q_0, model.phi_s = 0.001 * model.k_w, 180.0
    row = []
    for grazing in GRAZING:
        rough, _ = model._ss_rough2_00(grazing, grazing)
        volume = 1 / (1 / model.mdl_params.sigma_0 + 1 / model._ss_vol2_00(grazing, grazing))
        row.append(round(10 * math.log10(rough.real + volume), 2))
    return row


for sediment in TestSediments:
    print(sediment.name)
    for khz in KHZ:
        print(khz, strengths(sediment, khz))
