"""Uptake in the film against Activated Sludge Model No. 1 as bsm2-python has it, an implementation by others.

That model takes ammonia to nitrate in one step (Henze et al. 1987; parameters of the IWA benchmark: K_NH 1.0, K_OA 0.4,
Y_A 0.24), so the second step is made so quick here that it does not show; the package index holds no general-purpose
library with two steps. Bacteria neither grow nor die in the day that is compared: what is held against each other is
the rate by ammonia and oxygen, and what it takes of oxygen and alkalinity. 15 C, where that model's warmth is 1.
"""

import importlib
import logging
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import odeint

from filtration.forecast import layout as at
from filtration.forecast import middle_member, settled, steady
from filtration.forecast.circuit import Circuit
from filtration.forecast.constants import REFERENCE_TAN
from filtration.forecast.inputs import forcing
from filtration.forecast.priors import PRIORS
from filtration.nitrification import REFERENCE_OXYGEN_MG_L
from tests.forecasting import course_of


def quietly_imported(name: str):
    """A module, without the log handlers that it gives the whole program."""
    root = logging.getLogger()
    handlers, level = list(root.handlers), root.level
    try:
        return importlib.import_module(name)
    finally:
        root.handlers[:] = handlers
        root.setLevel(level)


asm1 = quietly_imported("bsm2_python.bsm2.asm1_bsm2")
HOURS = 24
# Closed to the air; the flow is so strong that the film meets the water as it is.
SEALED = Circuit(
    volume_m3=1.0, media_area_m2=60.0, flow_m3_h=1000.0, surface_exchange_per_day=0.0, fall_recovery=0.0
)
INPUTS = steady(HOURS, 15.0)
AMMONIA_HALF, OXYGEN_HALF, YIELD = 1.0, 0.4, 0.24
SET = {
    "ammonia_half": AMMONIA_HALF,
    "oxygen_half": OXYGEN_HALF,
    "ammonia_growth": 1e-9,
    "nitrite_growth": 1e-9,
    "loss": 1e-9,
    "nitrite_ratio": 200.0,
    "nitrite_half": 0.05,
    "denitrification": 1e-9,
}
WATERS = {"plenty of oxygen": (10.0, 200.0), "oxygen runs out": (10.0, 30.0), "little ammonia": (1.0, 9.0)}


def ours(tan: float, oxygen: float):
    """Ammonia, oxygen, nitrate with nitrite [mg/L] and alkalinity [mg CaCO3/L] at every hour; full uptake [g/day]."""
    beginning = replace(
        settled(SEALED, 1, 15), tan=tan, nitrite=0.0, nitrate=0.0, alkalinity=2000.0, oxygen=oxygen, ph=7.5,
        gut_nitrogen_g=0.0, excreta_nitrogen_g=0.0, suspended=0.0, easy_sediment_g=0.0, inert_sediment_g=0.0,
    )  # fmt: skip
    start = middle_member(SEALED, beginning)
    for place, prior in enumerate(PRIORS):
        if prior.name in SET:
            start.scores[0, place] = math.log(SET[prior.name] / prior.median) / prior.spread
    course = course_of(SEALED, INPUTS, start, 60)[:, 0]
    rate = forcing(SEALED, INPUTS)[0, at.F_FILM] * beginning.ammonia_oxidizers
    full = rate * (1 + OXYGEN_HALF / REFERENCE_OXYGEN_MG_L) * (1 + AMMONIA_HALF / REFERENCE_TAN)
    oxidized = course[:, at.NITRITE] + course[:, at.NITRATE]
    return np.column_stack(
        [course[:, at.TAN], course[:, at.OXYGEN], oxidized, course[:, at.ALKALINITY]]
    ), full


def theirs(tan: float, oxygen: float, full: float):
    """The same by the other implementation, given as many bacteria as take up `full` g/m3 a day."""
    growth = 1e-9
    # growth, halves and decay of the bacteria that are not there, then of those that are, then yields and shares
    eaters, nitrifiers = (4.0, 10.0, 0.2, 0.5, 0.3), (growth, AMMONIA_HALF, OXYGEN_HALF, 1e-12)
    shares = (0.8, 0.05, 3.0, 0.1, 0.8, 0.67, YIELD, 0.08, 0.0, 0.06, 0.75, 0.75, 0.75, 0.75, 0.75)
    parameters = np.array([*eaters, *nitrifiers, *shares])
    start = np.zeros(21)
    start[[asm1.XS, asm1.XBH]] = 1e-12  # none that eat organic matter; but that model divides by them
    start[asm1.XBA] = full * YIELD / growth
    start[[asm1.SNH, asm1.SO, asm1.SALK, asm1.TEMP]] = tan, oxygen, 2000.0 / 50.0435, 15.0
    days = np.arange(HOURS + 1) / 24
    closed = (np.where(np.arange(21) == asm1.TEMP, 15.0, 0.0), parameters, 0.0, 1.0, False, False)
    found = odeint(asm1.asm1equations, start, days, args=closed, tfirst=True, rtol=1e-8, atol=1e-10)
    return found[:, [asm1.SNH, asm1.SO, asm1.SNO, asm1.SALK]] * [1, 1, 1, 50.0435]


@pytest.mark.parametrize("name", WATERS)
def test_a_day_of_nitrification_is_that_of_another_implementation(name):
    """Within 2 % of the ammonia at the start, and of what that takes of oxygen and alkalinity."""
    tan, oxygen = WATERS[name]
    found, full = ours(tan, oxygen)
    other = theirs(tan, oxygen, full)
    assert len(found) == len(other)
    assert found[-1, 0] < 0.7 * tan  # it has something to show
    per_nitrogen = np.array([1.0, 4.57 - YIELD, 1.0, 7.14])
    error = np.abs(found - other).max(axis=0) / (per_nitrogen * tan)
    assert error == pytest.approx(np.zeros(4), abs=0.02), error
