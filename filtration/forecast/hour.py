"""What happens within an hour besides the steps, compiled: work, water, food, solids; and what one can see.

Arrays: y states and p parameters of all members, m one of them, f forcing of one hour; see layout.py. A member is
an index, not a slice: to make and drop a thousand slices costs more than the hour itself.
"""

import math

from filtration.forecast import layout as at
from filtration.forecast.constants import (
    ACID_HALF_PH,
    CARBON_DIOXIDE,
    CARBON_DIOXIDE_EXCHANGE,
    REFERENCE_PH,
    REFERENCE_TAN,
    SOLIDS_NITROGEN,
    SUSPENDED_DECAY,
)
from filtration.forecast.jit import inlined, jit
from filtration.forecast.step import BLOCK, MOVED, STATES, Rates, lost, relaxed, relaxed_exactly
from filtration.nitrification import REFERENCE_OXYGEN_MG_L, RESTING_SHARE, WORKING_SHARE
from filtration.solids import DEFAULT_MODEL
from husbandry.bioload import OXYGEN_PER_ORGANIC

INERT_SHARE = DEFAULT_MODEL.inert_share
DECAY_PER_DIGESTION = SUSPENDED_DECAY / DEFAULT_MODEL.decay_per_day_20c
HOUR = 1.0 / 24.0
AN_HOUR = 24.0  # to multiply by: a division costs as much as several products
NO_FLOW = 1e-9
ACID_HALF = 10.0**-ACID_HALF_PH  # mol/L of hydrogen ions
MOST_OF_ACID = 1.0 + 10.0**-REFERENCE_PH / ACID_HALF
# Rows in the table of a block (see step.step_block).
ROW_ALKALINITY, ROW_CARBON_DIOXIDE = MOVED.index(at.ALKALINITY), MOVED.index(at.CARBON_DIOXIDE)
ROW_VOLUME, ROW_ACID, ROW_UNIONIZED, ROW_HYDROGEN = (
    STATES + Rates._fields.index(name) for name in ("volume", "acid", "unionized", "hydrogen")
)


@jit
def _films(p, m, f):
    """Full uptake of both films [g/day] and days per m3 of flow; all nothing without flow or media."""
    if f[at.F_FLOW] <= NO_FLOW or f[at.F_FILM] <= 0.0:
        return 0.0, 0.0, 0.0, 0.0
    # uptake at reference conditions becomes uptake with plenty of everything
    full = p[m, at.P_FILM] * f[at.F_FILM] * (1.0 + p[m, at.P_OXYGEN_HALF] / REFERENCE_OXYGEN_MG_L)
    full_a = full * (1.0 + p[m, at.P_AMMONIA_HALF] / REFERENCE_TAN)
    full_n = full * p[m, at.P_NITRITE_RATIO] * (1.0 + p[m, at.P_NITRITE_HALF] / REFERENCE_TAN)
    return full_a, full_n, 1.0 / f[at.F_FLOW], 1.0


@jit
def _solids(y, p, m, f):
    """Gut, water, void and media over an hour; returns the oxygen that organic matter asks for [g/day]."""
    digestion = p[m, at.P_DIGESTION] * f[at.F_DIGESTION]
    decay = DECAY_PER_DIGESTION * digestion
    clearing = p[m, at.P_CLEARING] * f[at.F_FLOW] / y[m, at.VOLUME]
    gut = relaxed(y[m, at.GUT_SOLIDS], 0.0, p[m, at.P_RELEASE] * f[at.F_RELEASE], HOUR)
    dropped = lost(y[m, at.GUT_SOLIDS], 0.0, HOUR, gut)
    coarse = p[m, at.P_CAPTURE] * dropped
    fines = relaxed_exactly(y[m, at.SUSPENDED], (dropped - coarse) * AN_HOUR, clearing + decay, HOUR)
    gone = lost(y[m, at.SUSPENDED], (dropped - coarse) * AN_HOUR, HOUR, fines)
    caught = gone * clearing / (clearing + decay)
    supply = coarse * (1.0 - INERT_SHARE) * AN_HOUR
    easy = relaxed(y[m, at.EASY], supply, digestion, HOUR)
    burnt = lost(y[m, at.EASY], supply, HOUR, easy) + gone - caught
    y[m, at.ADDED] += SOLIDS_NITROGEN * burnt
    y[m, at.MEDIA] += caught
    y[m, at.INERT] += coarse * INERT_SHARE
    y[m, at.GUT_SOLIDS], y[m, at.SUSPENDED], y[m, at.EASY] = gut, fines, easy
    return OXYGEN_PER_ORGANIC * AN_HOUR * burnt


@jit
def rates(y, p, m, f):
    """The rates of one member in one hour. Solids move here, all hour long at once: they are linear."""
    volume = y[m, at.VOLUME]
    full_a, full_n, per_flow, grows = _films(p, m, f)
    air = p[m, at.P_AIR] * f[at.F_AIR]
    air_co2 = CARBON_DIOXIDE_EXCHANGE * air
    airless = p[m, at.P_AIRLESS_LOSS] * f[at.F_AIRLESS]
    resting, working = RESTING_SHARE * p[m, at.P_LOSS], WORKING_SHARE * p[m, at.P_LOSS]
    return Rates(
        volume,
        p[m, at.P_RELEASE] * f[at.F_RELEASE],
        full_a,
        full_n,
        per_flow,
        grows * (p[m, at.P_AMMONIA_GROWTH] - working) * f[at.F_AMMONIA_WARMTH],
        grows * (p[m, at.P_NITRITE_GROWTH] - working) * f[at.F_NITRITE_WARMTH],
        resting * f[at.F_AMMONIA_WARMTH] + airless,
        resting * f[at.F_NITRITE_WARMTH] + airless,
        p[m, at.P_DENITRIFICATION] * f[at.F_NITRITE_WARMTH],
        air,
        air_co2,
        air * f[at.F_OXYGEN] * volume,
        air_co2 * p[m, at.P_AIR_CARBON_DIOXIDE] * f[at.F_CARBON_DIOXIDE] * volume,
        _solids(y, p, m, f),
        p[m, at.P_AMMONIA_HALF],
        p[m, at.P_NITRITE_HALF],
        p[m, at.P_OXYGEN_HALF],
        p[m, at.P_HYDROLYSIS_ALKALINITY],
        1.0,
        0.0,
        0.0,
    )


@jit
def _tend_filter(y, p, m, f):
    """Seeding, damage, drain and rinse at the start of the hour."""
    for film, harm in (
        (at.AMMONIA_OXIDIZERS, f[at.F_AMMONIA_HARM]),
        (at.NITRITE_OXIDIZERS, f[at.F_NITRITE_HARM]),
    ):
        survival = math.exp(-p[m, at.P_HARM] * harm) if harm > 0.0 else 1.0
        y[m, film] = min(y[m, film] * f[at.F_FILM_LEFT] * survival + f[at.F_SEED], 1.0)
    y[m, at.EASY] *= f[at.F_VOID_LEFT]
    y[m, at.INERT] *= f[at.F_VOID_LEFT]
    y[m, at.MEDIA] *= f[at.F_MEDIA_LEFT]


@jit
def _add_new_water(y, m, f, cubic_metres):
    brought = (f[at.F_NEW_TAN] + f[at.F_NEW_NITRATE]) * cubic_metres
    y[m, at.TAN] += f[at.F_NEW_TAN] * cubic_metres
    y[m, at.NITRATE] += f[at.F_NEW_NITRATE] * cubic_metres
    y[m, at.ADDED] += brought
    y[m, at.ALKALINITY] += f[at.F_NEW_ALKALINITY] * cubic_metres
    y[m, at.OXYGEN] += f[at.F_NEW_OXYGEN] * cubic_metres
    y[m, at.CARBON_DIOXIDE] += f[at.F_NEW_CARBON_DIOXIDE] * cubic_metres


@jit
def _change_water(y, p, m, f):
    """Swap and top up; chlorine that nobody neutralised harms the films by its dose in the mix."""
    swapped = min(f[at.F_CHANGE], y[m, at.VOLUME])
    kept = 1.0 - swapped / y[m, at.VOLUME]
    y[m, at.REMOVED] += (1.0 - kept) * (y[m, at.TAN] + y[m, at.NITRITE] + y[m, at.NITRATE])
    for state in (
        at.TAN,
        at.NITRITE,
        at.NITRATE,
        at.ALKALINITY,
        at.OXYGEN,
        at.CARBON_DIOXIDE,
        at.SUSPENDED,
    ):
        y[m, state] *= kept
    new = swapped + f[at.F_TOP_UP]
    _add_new_water(y, m, f, new)
    y[m, at.VOLUME] += f[at.F_TOP_UP]
    left = math.exp(-p[m, at.P_CHLORINE_HARM] * f[at.F_NEW_CHLORINE] * new / y[m, at.VOLUME])
    y[m, at.AMMONIA_OXIDIZERS] *= left
    y[m, at.NITRITE_OXIDIZERS] *= left


@jit
def _feed(y, p, m, f):
    """Eaten food goes into the gut; food left to rot skips it; part of the solids clouds the water at once."""
    eaten = p[m, at.P_EXCRETION] * f[at.F_EATEN_NITROGEN]
    y[m, at.GUT] += eaten
    y[m, at.EXCRETA] += f[at.F_LEFT_NITROGEN]
    y[m, at.ADDED] += eaten + f[at.F_LEFT_NITROGEN]
    mess = p[m, at.P_MESS] * f[at.F_EATEN_SOLIDS]
    y[m, at.GUT_SOLIDS] += f[at.F_EATEN_SOLIDS] - mess
    sunk = p[m, at.P_CAPTURE] * f[at.F_LEFT_SOLIDS]
    y[m, at.SUSPENDED] += mess + f[at.F_LEFT_SOLIDS] - sunk
    y[m, at.EASY] += sunk * (1.0 - INERT_SHARE)
    y[m, at.INERT] += sunk * INERT_SHARE


@jit
def evaporate(y, m, f):
    least = min(f[at.F_LEAST_VOLUME], y[m, at.VOLUME])
    y[m, at.VOLUME] = max(y[m, at.VOLUME] - f[at.F_EVAPORATION] * HOUR, least)


@inlined
def hydrogen_of(alkalinity, carbon_dioxide, first_constant, second_constant, water):
    """Hydrogen ions [mol/L] from alkalinity [mg CaCO3/L] and free CO2 [mg/L]: the charge balance of the water.

    Without carbonate it is a quadratic; carbonate enters by repeating it: pH within 0.002 up to 9.2.
    """
    charge = alkalinity / 50043.5
    first = first_constant * carbon_dioxide / (1e3 * CARBON_DIOXIDE)
    hydrogen = 2.0 * (first + water) / (charge + math.sqrt(charge * charge + 4.0 * (first + water)))
    for _ in range(2):
        product = first * (1.0 + 2.0 * second_constant / hydrogen) + water
        hydrogen = 2.0 * product / (charge + math.sqrt(charge * charge + 4.0 * product))
    return hydrogen


@jit
def acidity(table, first_constant, second_constant, water, ammonium):
    """Fill in what pH does to a block in the next step: the films' speed, and the un-ionized share of the ammonia.

    pH as it will be in the middle of the step if it goes on changing as in the step before: so the whole stays second
    order. Held still for an hour it would cost up to 1.4 % of accuracy.
    """
    for m in range(BLOCK):
        per_litre = 1.0 / table[ROW_VOLUME * BLOCK + m]
        alkalinity = table[ROW_ALKALINITY * BLOCK + m] * per_litre
        carbon_dioxide = table[ROW_CARBON_DIOXIDE * BLOCK + m] * per_litre
        now = hydrogen_of(alkalinity, carbon_dioxide, first_constant, second_constant, water)
        before = table[ROW_HYDROGEN * BLOCK + m]
        hydrogen = 2.0 * now * now / (now + before) if before > 0.0 else now
        table[ROW_HYDROGEN * BLOCK + m] = now
        table[ROW_ACID * BLOCK + m] = MOST_OF_ACID * ACID_HALF / (ACID_HALF + hydrogen)
        table[ROW_UNIONIZED * BLOCK + m] = ammonium / (ammonium + hydrogen)


@jit
def ph_of(alkalinity, carbon_dioxide, f):
    """pH of a water; see hydrogen_of."""
    hydrogen = hydrogen_of(
        alkalinity, carbon_dioxide, f[at.F_CARBONATE_1], f[at.F_CARBONATE_2], f[at.F_WATER]
    )
    return -math.log10(hydrogen)


@jit
def observe(y, p, f, table):
    """Write what one can see of a block into its table: row by row as in layout.QUANTITY_NAMES.

    Amounts go in first, unconverted; then all members are converted together (see step.BLOCK).
    """
    for m in range(y.shape[0]):
        table[at.Q_TAN * BLOCK + m] = y[m, at.TAN]
        table[at.Q_NITRITE * BLOCK + m] = y[m, at.NITRITE]
        table[at.Q_NITRATE * BLOCK + m] = y[m, at.NITRATE]
        table[at.Q_UNIONIZED * BLOCK + m] = y[m, at.CARBON_DIOXIDE]
        table[at.Q_ALKALINITY * BLOCK + m] = y[m, at.ALKALINITY]
        table[at.Q_OXYGEN * BLOCK + m] = y[m, at.OXYGEN]
        table[at.Q_SUSPENDED * BLOCK + m] = y[m, at.SUSPENDED]
        table[at.Q_SEDIMENT * BLOCK + m] = y[m, at.EASY] + y[m, at.INERT]
        table[at.Q_MEDIA * BLOCK + m] = y[m, at.MEDIA]
        full = p[m, at.P_FILM] * f[at.F_FILM]
        table[at.Q_AMMONIA_CAPACITY * BLOCK + m] = full * y[m, at.AMMONIA_OXIDIZERS]
        table[at.Q_NITRITE_CAPACITY * BLOCK + m] = (
            full * p[m, at.P_NITRITE_RATIO] * y[m, at.NITRITE_OXIDIZERS]
        )
        table[at.Q_VOLUME * BLOCK + m] = y[m, at.VOLUME]
    _convert(table, f[at.F_CARBONATE_1], f[at.F_CARBONATE_2], f[at.F_WATER], f[at.F_AMMONIUM])
    for m in range(y.shape[0]):
        table[at.Q_PH * BLOCK + m] = -math.log10(table[at.Q_PH * BLOCK + m])


@jit
def _convert(table, first_constant, second_constant, water, ammonium):
    """Amounts to concentrations, and free CO2 (kept in the row of un-ionized ammonia) to hydrogen ions."""
    for m in range(BLOCK):
        per_litre = 1.0 / table[at.Q_VOLUME * BLOCK + m]
        tan = table[at.Q_TAN * BLOCK + m] * per_litre
        alkalinity = table[at.Q_ALKALINITY * BLOCK + m] * per_litre
        carbon_dioxide = table[at.Q_UNIONIZED * BLOCK + m] * per_litre
        hydrogen = hydrogen_of(alkalinity, carbon_dioxide, first_constant, second_constant, water)
        table[at.Q_TAN * BLOCK + m] = tan
        table[at.Q_NITRITE * BLOCK + m] *= per_litre
        table[at.Q_NITRATE * BLOCK + m] *= per_litre
        table[at.Q_UNIONIZED * BLOCK + m] = tan * ammonium / (ammonium + hydrogen)
        table[at.Q_ALKALINITY * BLOCK + m] = alkalinity
        table[at.Q_PH * BLOCK + m] = hydrogen
        table[at.Q_OXYGEN * BLOCK + m] *= per_litre
        table[at.Q_SUSPENDED * BLOCK + m] *= per_litre


@jit
def begin_hour(y, p, m, f):
    """Everything that happens at once, in the order of a keeper's round: filter, water, food."""
    _tend_filter(y, p, m, f)
    if f[at.F_CHANGE] + f[at.F_TOP_UP] > 0.0:
        _change_water(y, p, m, f)
    y[m, at.ALKALINITY] += f[at.F_BUFFER]
    _feed(y, p, m, f)
