"""The forecast's equations once more, as plain Python for a general-purpose stiff solver.

Written from the equations, not from the compiled step: rates of change of one member, given to SciPy's LSODA.
Used by the benchmark and by tests. Units and places of the numbers as in filtration.forecast.layout.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import odeint

from filtration.forecast import layout as at
from filtration.forecast.constants import (
    ACID_HALF_PH,
    ALKALINITY_HALF,
    ALKALINITY_PER_EQUIVALENT,
    ALKALINITY_PER_NITROGEN,
    CARBON_DIOXIDE,
    CARBON_DIOXIDE_EXCHANGE,
    CARBON_DIOXIDE_PER_ALKALINITY,
    CARBON_DIOXIDE_PER_OXYGEN,
    ORGANIC_OXYGEN_HALF,
    OXYGEN_TO_NITRATE,
    OXYGEN_TO_NITRITE,
    REFERENCE_PH,
    REFERENCE_TAN,
    SOLIDS_NITROGEN,
    SUSPENDED_DECAY,
    UNIONIZED_HALF_AMMONIA,
    UNIONIZED_HALF_NITRITE,
)
from filtration.nitrification import REFERENCE_OXYGEN_MG_L, RESTING_SHARE, WORKING_SHARE
from filtration.solids import DEFAULT_MODEL
from husbandry.bioload import OXYGEN_PER_ORGANIC

Floats = NDArray[np.float64]
HOUR = 1 / 24
Rates = Callable[[Floats, float], list[float]]


def film_speed(film, full, amount, half, limits, volume, flow):
    """Uptake [g/day] and share of full speed: v X l S / (K + S + F v X l / Q), F from 1/2 to 1 (plug flow)."""
    concentration = amount / volume
    used_up = full * film * limits / flow
    cells = used_up / (half + concentration)
    share = limits * concentration / (half + concentration + used_up * (2 + cells) / (4 + cells))
    return full * film * share, share


def hydrogen_ions(alkalinity, carbon_dioxide, first, second, water):
    """mol/L from alkalinity [mg CaCO3/L] and free CO2 [mg/L]: charge balance, by Newton's method on ln H.

    It begins without carbonate; twice is enough for 0.001 of pH up to 9.
    """
    charge, acid = alkalinity / 50043.5, first * carbon_dioxide / (1e3 * CARBON_DIOXIDE)
    hydrogen = 2 * (acid + water) / (charge + math.sqrt(charge * charge + 4 * (acid + water)))
    for _ in range(2):
        carbonate = 2 * second * acid / (hydrogen * hydrogen)
        alkaline = (acid + water) / hydrogen
        excess = alkaline + carbonate - hydrogen - charge
        hydrogen *= math.exp(excess / (alkaline + 2 * carbonate + hydrogen))
    return hydrogen


def growth(film, most, loss, airless, share):
    """Logistic while it grows, plain decay while it starves [1/day]; what rests loses less than what works."""
    net = most * share - loss * (RESTING_SHARE + WORKING_SHARE * share) - airless
    return net * film * (1 - film) if net > 0 else net * film


def rates_for(p: Floats, f: Floats) -> Rates:
    """Rates of change [per day] of one member in one hour."""
    p, f = p.tolist(), f.tolist()
    flow = f[at.F_FLOW]
    runs = flow > 0
    full = p[at.P_FILM] * f[at.F_FILM] * (1 + p[at.P_OXYGEN_HALF] / REFERENCE_OXYGEN_MG_L) if runs else 0.0
    full_a = full * (1 + p[at.P_AMMONIA_HALF] / REFERENCE_TAN)
    full_n = full * p[at.P_NITRITE_RATIO] * (1 + p[at.P_NITRITE_HALF] / REFERENCE_TAN)
    grows = 1.0 if full > 0 else 0.0
    grow_a = grows * p[at.P_AMMONIA_GROWTH] * f[at.F_AMMONIA_WARMTH]
    grow_n = grows * p[at.P_NITRITE_GROWTH] * f[at.F_NITRITE_WARMTH]
    airless = p[at.P_AIRLESS_LOSS] * f[at.F_AIRLESS]
    loss_a = p[at.P_LOSS] * f[at.F_AMMONIA_WARMTH]
    loss_n = p[at.P_LOSS] * f[at.F_NITRITE_WARMTH]
    release = p[at.P_RELEASE] * f[at.F_RELEASE]
    gas_rate = p[at.P_DENITRIFICATION] * f[at.F_NITRITE_WARMTH]
    air = p[at.P_AIR] * f[at.F_AIR]
    air_co2 = CARBON_DIOXIDE_EXCHANGE * air
    co2_balance = p[at.P_AIR_CARBON_DIOXIDE] * f[at.F_CARBON_DIOXIDE]
    digestion = p[at.P_DIGESTION] * f[at.F_DIGESTION]
    decay = SUSPENDED_DECAY / DEFAULT_MODEL.decay_per_day_20c * digestion
    flow_or_one = flow if runs else 1.0
    carbonate = f[at.F_CARBONATE_1], f[at.F_CARBONATE_2], f[at.F_WATER]

    def rates(y, _):
        y = y.tolist()
        volume = y[at.VOLUME]
        oxygen, alkalinity = y[at.OXYGEN] / volume, y[at.ALKALINITY] / volume
        hydrogen = hydrogen_ions(alkalinity, y[at.CARBON_DIOXIDE] / volume, *carbonate)
        unionized = y[at.TAN] / volume * f[at.F_AMMONIUM] / (f[at.F_AMMONIUM] + hydrogen)
        by_water = oxygen / (p[at.P_OXYGEN_HALF] + oxygen) * (1 + 10 ** (ACID_HALF_PH - REFERENCE_PH))
        by_water /= 1 + hydrogen / 10**-ACID_HALF_PH
        limit_a = by_water * alkalinity / (ALKALINITY_HALF + alkalinity)
        limit_a *= UNIONIZED_HALF_AMMONIA / (UNIONIZED_HALF_AMMONIA + unionized)
        limit_n = by_water * UNIONIZED_HALF_NITRITE / (UNIONIZED_HALF_NITRITE + unionized)
        to_nitrite, share_a = film_speed(
            y[at.AMMONIA_OXIDIZERS], full_a, y[at.TAN], p[at.P_AMMONIA_HALF], limit_a, volume, flow_or_one
        )
        to_nitrate, share_n = film_speed(
            y[at.NITRITE_OXIDIZERS], full_n, y[at.NITRITE], p[at.P_NITRITE_HALF], limit_n, volume, flow_or_one
        )
        excreted, freed = release * y[at.GUT], release * y[at.EXCRETA]
        to_gas = gas_rate * y[at.NITRATE]
        dropped = release * y[at.GUT_SOLIDS]
        clearing = p[at.P_CLEARING] * flow / volume * y[at.SUSPENDED]
        floating = decay * y[at.SUSPENDED]
        digested = digestion * y[at.EASY]
        breathed = OXYGEN_PER_ORGANIC * (digested + floating) * oxygen / (ORGANIC_OXYGEN_HALF + oxygen)
        dy = [0.0] * len(y)
        dy[at.GUT] = -excreted
        dy[at.EXCRETA] = excreted - freed + SOLIDS_NITROGEN * (digested + floating)
        dy[at.ADDED] = SOLIDS_NITROGEN * (digested + floating)
        dy[at.TAN] = freed - to_nitrite
        dy[at.NITRITE] = to_nitrite - to_nitrate
        dy[at.NITRATE] = to_nitrate - to_gas
        dy[at.GAS] = to_gas
        dy[at.ALKALINITY] = (
            ALKALINITY_PER_EQUIVALENT * (p[at.P_HYDROLYSIS_ALKALINITY] * freed + to_gas)
            - ALKALINITY_PER_NITROGEN * to_nitrite
        )
        dy[at.OXYGEN] = (
            air * (f[at.F_OXYGEN] * volume - y[at.OXYGEN])
            - OXYGEN_TO_NITRITE * to_nitrite
            - OXYGEN_TO_NITRATE * to_nitrate
            - breathed
        )
        dy[at.CARBON_DIOXIDE] = (
            air_co2 * (co2_balance * volume - y[at.CARBON_DIOXIDE])
            + CARBON_DIOXIDE_PER_OXYGEN * breathed
            + CARBON_DIOXIDE_PER_ALKALINITY * ALKALINITY_PER_NITROGEN * to_nitrite
        )
        dy[at.AMMONIA_OXIDIZERS] = growth(y[at.AMMONIA_OXIDIZERS], grow_a, loss_a, airless, grows * share_a)
        dy[at.NITRITE_OXIDIZERS] = growth(y[at.NITRITE_OXIDIZERS], grow_n, loss_n, airless, grows * share_n)
        dy[at.GUT_SOLIDS] = -dropped
        dy[at.SUSPENDED] = (1 - p[at.P_CAPTURE]) * dropped - clearing - floating
        dy[at.EASY] = p[at.P_CAPTURE] * (1 - DEFAULT_MODEL.inert_share) * dropped - digested
        dy[at.INERT] = p[at.P_CAPTURE] * DEFAULT_MODEL.inert_share * dropped
        dy[at.MEDIA] = clearing
        dy[at.VOLUME] = -f[at.F_EVAPORATION]
        return dy

    return rates


def spans(forcing: Floats) -> list[tuple[int, int]]:
    """Hours [from, to) with the same equations and nothing happening at once within: one call of the solver."""
    starts = [0] + [
        hour for hour in range(1, len(forcing)) if not np.array_equal(forcing[hour], forcing[hour - 1])
    ]
    return list(zip(starts, [*starts[1:], len(forcing)], strict=True))


def solve(
    start: Floats, p: Floats, forcing: Floats, begin_hour: Callable[..., None], rtol: float, atol: float
) -> Floats:
    """States of one member at the start and after each hour, shape (hours + 1, states), by LSODA."""
    states = np.empty((len(forcing) + 1, len(start)))
    states[0] = y = start.copy()
    for first, last in spans(forcing):
        begin_hour(y[None], p[None], 0, forcing[first])
        times = np.arange(last - first + 1) * HOUR
        course = odeint(rates_for(p, forcing[first]), y, times, rtol=rtol, atol=atol, mxstep=5000)
        states[first + 1 : last + 1] = course[1:]
        y = course[-1].copy()
    return states
