"""The compiled step of the forecast. Import it through `compiled.kernel()` only: it pulls in numba.

Scheme. Food nitrogen runs down a chain: gut, excreta, ammonia, nitrite, nitrate, gas. In each step every link
is relaxed exactly for a constant supply and a constant rate of loss; what it loses, found from its own balance,
is the supply of the next link. So no nitrogen is made or lost beyond rounding, and nothing turns negative
whatever the step. The rates of loss depend on the state; they are averaged over the start of the step and a
first estimate of its end, which makes the whole second order. (The relaxation is that of quasi-steady-state
schemes for chemical kinetics; Mott, Oran & van Leer 2000, J. Comput. Phys. 164:407, recalled.)

Films: uptake = v X O/(K_O+O) A/(K_A+A) S/(K + S + v X/Q), the last term because water must first be carried
to the film by the flow Q. Growth follows uptake. A growing film is shed in proportion to how full it is, so
X follows the logistic curve of `nitrification.start_up` when ammonia is plentiful.

Arrays: y states, p parameters, f forcing of one hour, q quantities, r rates of one hour; see layout.py.
"""

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from filtration.forecast import compiled
from filtration.forecast import layout as at
from filtration.forecast.constants import (
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
    REFERENCE_TAN,
    SUSPENDED_DECAY,
)
from filtration.nitrification import REFERENCE_OXYGEN_MG_L
from filtration.solids import DEFAULT_MODEL
from husbandry.bioload import OXYGEN_PER_ORGANIC

INERT_SHARE = DEFAULT_MODEL.inert_share
DECAY_PER_DIGESTION = SUSPENDED_DECAY / DEFAULT_MODEL.decay_per_day_20c
HOUR = 1.0 / 24.0
NO_FLOW = 1e-9

# Members step together in blocks of this many, so that the processor works on several at once. The table of a
# block is one flat array: only with distances that the compiler knows does it see that members do not meet.
BLOCK = 16


class State(NamedTuple):
    """What a step moves [g; films as shares]."""

    gut: float
    excreta: float
    tan: float
    nitrite: float
    nitrate: float
    gas: float
    alkalinity: float
    oxygen: float
    carbon_dioxide: float
    film_a: float
    film_n: float


class Rates(NamedTuple):
    """What holds still for an hour: rates [1/day], supplies [g/day], films' full uptake [g/day], halves [mg/L]."""

    volume: float
    release: float
    full_a: float
    full_n: float
    per_flow: float
    growth_a: float
    growth_n: float
    loss_a: float
    loss_n: float
    denitrification: float
    air: float
    air_co2: float
    oxygen_supply: float
    co2_supply: float
    organic: float
    half_a: float
    half_n: float
    half_oxygen: float
    hydrolysis: float


STATES, RATES = len(State._fields), len(Rates._fields)
MOVED = (
    at.GUT,
    at.EXCRETA,
    at.TAN,
    at.NITRITE,
    at.NITRATE,
    at.GAS,
    at.ALKALINITY,
    at.OXYGEN,
    at.CARBON_DIOXIDE,
    at.AMMONIA_OXIDIZERS,
    at.NITRITE_OXIDIZERS,
)

jit = njit(error_model="numpy", nogil=True, fastmath={"contract"})
# Without a call of its own inside, the loop over a block turns into vector instructions (four times as fast).
inlined = njit(error_model="numpy", nogil=True, fastmath={"contract"}, inline="always")
entry = njit(
    "void(f8[:,::1], f8[:,::1], f8[:,::1], i8, i8, f4[:,:,::1])",
    error_model="numpy",
    nogil=True,
    fastmath={"contract"},
    cache=compiled.prepare_numba(),
)


@jit
def relaxed(start, supply, loss, days):
    """Amount after `days` of a constant supply [g/day] and a constant loss [1/day]; never below zero.

    exp(-z) as 1 / (1 + z + z2/2 + z3/6 + z4/24): within 2e-4 for z up to 0.5, and sound for any z.
    """
    z = loss * days
    series = 1.0 + z * (0.5 + z * (1.0 / 6.0 + z * (1.0 / 24.0)))
    return (start + supply * days * series) / (1.0 + z * series)


@jit
def relaxed_exactly(start, supply, loss, days):
    """As `relaxed`, by the exponential function: for the one that may be quick and takes a whole hour at once."""
    gone = -math.expm1(-loss * days)
    return start - (start - supply / loss) * gone


@jit
def lost(start, supply, days, end):
    """What left during a step, from its balance; rounding never makes it negative."""
    return max(start + supply * days - end, 0.0)


@jit
def _films(p, f):
    """Full uptake of both films [g/day] and days per m3 of flow; all nothing without flow or media."""
    if f[at.F_FLOW] <= NO_FLOW or f[at.F_FILM] <= 0.0:
        return 0.0, 0.0, 0.0, 0.0
    # uptake at reference conditions becomes uptake with plenty of everything
    full = p[at.P_FILM] * f[at.F_FILM] * (1.0 + p[at.P_OXYGEN_HALF] / REFERENCE_OXYGEN_MG_L)
    full_a = full * (1.0 + p[at.P_AMMONIA_HALF] / REFERENCE_TAN)
    full_n = full * p[at.P_NITRITE_RATIO] * (1.0 + p[at.P_NITRITE_HALF] / REFERENCE_TAN)
    return full_a, full_n, 1.0 / f[at.F_FLOW], 1.0


@jit
def _rates(y, p, f):
    """The rates of one member in one hour. Solids move here, all hour long at once: they are linear."""
    volume = y[at.VOLUME]
    full_a, full_n, per_flow, grows = _films(p, f)
    air = p[at.P_AIR] * f[at.F_AIR]
    air_co2 = CARBON_DIOXIDE_EXCHANGE * air
    airless = p[at.P_AIRLESS_LOSS] * f[at.F_AIRLESS]
    return Rates(
        volume,
        p[at.P_RELEASE] * f[at.F_RELEASE],
        full_a,
        full_n,
        per_flow,
        grows * p[at.P_AMMONIA_GROWTH] * f[at.F_AMMONIA_WARMTH],
        grows * p[at.P_NITRITE_GROWTH] * f[at.F_NITRITE_WARMTH],
        p[at.P_LOSS] * f[at.F_AMMONIA_WARMTH] + airless,
        p[at.P_LOSS] * f[at.F_NITRITE_WARMTH] + airless,
        p[at.P_DENITRIFICATION] * f[at.F_NITRITE_WARMTH],
        air,
        air_co2,
        air * f[at.F_OXYGEN] * volume,
        air_co2 * p[at.P_AIR_CARBON_DIOXIDE] * f[at.F_CARBON_DIOXIDE] * volume,
        _solids(y, p, f),
        p[at.P_AMMONIA_HALF],
        p[at.P_NITRITE_HALF],
        p[at.P_OXYGEN_HALF],
        p[at.P_HYDROLYSIS_ALKALINITY],
    )


@jit
def _solids(y, p, f):
    """Gut, water, void and media over an hour; returns the oxygen that organic matter asks for [g/day]."""
    digestion = p[at.P_DIGESTION] * f[at.F_DIGESTION]
    decay = DECAY_PER_DIGESTION * digestion
    clearing = p[at.P_CLEARING] * f[at.F_FLOW] / y[at.VOLUME]
    gut = relaxed(y[at.GUT_SOLIDS], 0.0, p[at.P_RELEASE] * f[at.F_RELEASE], HOUR)
    dropped = lost(y[at.GUT_SOLIDS], 0.0, HOUR, gut)
    coarse = p[at.P_CAPTURE] * dropped
    fines = relaxed_exactly(y[at.SUSPENDED], (dropped - coarse) / HOUR, clearing + decay, HOUR)
    gone = lost(y[at.SUSPENDED], (dropped - coarse) / HOUR, HOUR, fines)
    caught = gone * clearing / (clearing + decay)
    supply = coarse * (1.0 - INERT_SHARE) / HOUR
    easy = relaxed(y[at.EASY], supply, digestion, HOUR)
    burnt = lost(y[at.EASY], supply, HOUR, easy) + gone - caught
    y[at.MEDIA] += caught
    y[at.INERT] += coarse * INERT_SHARE
    y[at.GUT_SOLIDS], y[at.SUSPENDED], y[at.EASY] = gut, fines, easy
    return OXYGEN_PER_ORGANIC * burnt / HOUR


@jit
def _uptake(amount, film, full, half, limits, k):
    """(loss rate of the amount [1/day], share of the film's full speed) at one moment."""
    per = limits / (k.volume * (half + full * film * limits * k.per_flow) + amount)
    return full * film * per, amount * per


@jit
def _losses(tan, nitrite, oxygen, alkalinity, film_a, film_n, k):
    """Loss rates [1/day] of ammonia, nitrite and oxygen, and the films' speeds, for one state."""
    air = oxygen / (k.half_oxygen * k.volume + oxygen)
    limits = air * alkalinity / (ALKALINITY_HALF * k.volume + alkalinity)
    loss_a, speed_a = _uptake(tan, film_a, k.full_a, k.half_a, limits, k)
    loss_n, speed_n = _uptake(nitrite, film_n, k.full_n, k.half_n, air, k)
    used = OXYGEN_TO_NITRITE * loss_a * tan + OXYGEN_TO_NITRATE * loss_n * nitrite
    loss_o = k.air + k.organic / (ORGANIC_OXYGEN_HALF * k.volume + oxygen) + used / max(oxygen, 1e-12)
    return loss_a, loss_n, loss_o, speed_a, speed_n


@jit
def _half_sum(a, b):
    return (
        0.5 * (a[0] + b[0]),
        0.5 * (a[1] + b[1]),
        0.5 * (a[2] + b[2]),
        0.5 * (a[3] + b[3]),
        0.5 * (a[4] + b[4]),
    )


@jit
def _film_after(film, growth, loss, speed, days):
    """A film that grows is shed as it fills (logistic); one that starves shrinks at its net loss."""
    net = growth * speed - loss
    x = net * days
    # exp(x) to 3e-9 at |x| = 0.05, the most that bacteria do in a step; above zero for any x
    factor = 1.0 + x * (1.0 + x * (0.5 + x * (1.0 / 6.0 + x * (1.0 / 24.0))))
    return film * factor / (1.0 + film * max(factor - 1.0, 0.0))


@jit
def _food_nitrogen(s, k, days):
    """Gut and excreta after a step, and what becomes ammonia in it [g]."""
    gut = relaxed(s.gut, 0.0, k.release, days)
    supply = lost(s.gut, 0.0, days, gut) / days
    excreta = relaxed(s.excreta, supply, k.release, days)
    return gut, excreta, lost(s.excreta, supply, days, excreta)


@jit
def _chain(s, k, freed, losses, days):
    """Ammonia, nitrite, nitrate after a step with given loss rates, and what left the first and the last."""
    tan = relaxed(s.tan, freed / days, losses[0], days)
    to_nitrite = lost(s.tan, freed / days, days, tan)
    nitrite = relaxed(s.nitrite, to_nitrite / days, losses[1], days)
    to_nitrate = lost(s.nitrite, to_nitrite / days, days, nitrite)
    nitrate = relaxed(s.nitrate, to_nitrate / days, k.denitrification, days)
    return tan, nitrite, nitrate, to_nitrite, lost(s.nitrate, to_nitrate / days, days, nitrate)


@jit
def _alkalinity_after(s, k, freed, to_nitrite, to_gas):
    gained = ALKALINITY_PER_EQUIVALENT * (k.hydrolysis * freed + to_gas)
    return max(s.alkalinity + gained - ALKALINITY_PER_NITROGEN * to_nitrite, 1e-6 * s.alkalinity)


@jit
def _carbon_dioxide_after(s, k, to_nitrite, oxygen, days):
    """Nitrification turns bicarbonate into CO2, digestion breathes it out, the air takes it."""
    breathed = k.organic * oxygen / (ORGANIC_OXYGEN_HALF * k.volume + oxygen)
    made = CARBON_DIOXIDE_PER_ALKALINITY * ALKALINITY_PER_NITROGEN * to_nitrite / days
    return relaxed(
        s.carbon_dioxide, CARBON_DIOXIDE_PER_OXYGEN * breathed + made + k.co2_supply, k.air_co2, days
    )


@inlined
def _move(s, k, food, losses, days):
    """One pass of everything with given loss rates."""
    gut, excreta, freed = food
    tan, nitrite, nitrate, to_nitrite, to_gas = _chain(s, k, freed, losses, days)
    oxygen = relaxed(s.oxygen, k.oxygen_supply, losses[2], days)
    return State(
        gut,
        excreta,
        tan,
        nitrite,
        nitrate,
        s.gas + to_gas,
        _alkalinity_after(s, k, freed, to_nitrite, to_gas),
        oxygen,
        _carbon_dioxide_after(s, k, to_nitrite, 0.5 * (s.oxygen + oxygen), days),
        _film_after(s.film_a, k.growth_a, k.loss_a, losses[3], days),
        _film_after(s.film_n, k.growth_n, k.loss_n, losses[4], days),
    )


@inlined
def step(s, k, days):
    """The state after one step: a first estimate of its end, then the mean of the loss rates at both ends."""
    food = _food_nitrogen(s, k, days)
    first = _losses(s.tan, s.nitrite, s.oxygen, s.alkalinity, s.film_a, s.film_n, k)
    e = _move(s, k, food, first, days)
    then = _losses(e.tan, e.nitrite, e.oxygen, e.alkalinity, e.film_a, e.film_n, k)
    return _move(s, k, food, _half_sum(first, then), days)


@jit
def _step_block(table, days):
    """One step of a whole block, in place. table: flat, one row of BLOCK members a field of State, then Rates."""
    for m in range(BLOCK):
        s = State(
            table[0 * BLOCK + m],
            table[1 * BLOCK + m],
            table[2 * BLOCK + m],
            table[3 * BLOCK + m],
            table[4 * BLOCK + m],
            table[5 * BLOCK + m],
            table[6 * BLOCK + m],
            table[7 * BLOCK + m],
            table[8 * BLOCK + m],
            table[9 * BLOCK + m],
            table[10 * BLOCK + m],
        )
        k = Rates(
            table[11 * BLOCK + m],
            table[12 * BLOCK + m],
            table[13 * BLOCK + m],
            table[14 * BLOCK + m],
            table[15 * BLOCK + m],
            table[16 * BLOCK + m],
            table[17 * BLOCK + m],
            table[18 * BLOCK + m],
            table[19 * BLOCK + m],
            table[20 * BLOCK + m],
            table[21 * BLOCK + m],
            table[22 * BLOCK + m],
            table[23 * BLOCK + m],
            table[24 * BLOCK + m],
            table[25 * BLOCK + m],
            table[26 * BLOCK + m],
            table[27 * BLOCK + m],
            table[28 * BLOCK + m],
            table[29 * BLOCK + m],
        )
        s = step(s, k, days)
        table[0 * BLOCK + m] = s.gut
        table[1 * BLOCK + m] = s.excreta
        table[2 * BLOCK + m] = s.tan
        table[3 * BLOCK + m] = s.nitrite
        table[4 * BLOCK + m] = s.nitrate
        table[5 * BLOCK + m] = s.gas
        table[6 * BLOCK + m] = s.alkalinity
        table[7 * BLOCK + m] = s.oxygen
        table[8 * BLOCK + m] = s.carbon_dioxide
        table[9 * BLOCK + m] = s.film_a
        table[10 * BLOCK + m] = s.film_n


@jit
def _fill(table, m, y, k):
    """Write one member into the table of its block."""
    for row, state in enumerate(MOVED):
        table[row * BLOCK + m] = y[state]
    for row, value in enumerate(k):
        table[(STATES + row) * BLOCK + m] = value


@jit
def _take(table, m, y):
    """Read one member back from the table of its block."""
    for row, state in enumerate(MOVED):
        y[state] = table[row * BLOCK + m]


@jit
def _tend_filter(y, p, f):
    """Seeding, damage, drain and rinse at the start of the hour."""
    for film, survival in (
        (at.AMMONIA_OXIDIZERS, f[at.F_AMMONIA_SURVIVAL]),
        (at.NITRITE_OXIDIZERS, f[at.F_NITRITE_SURVIVAL]),
    ):
        y[film] = min(y[film] * survival + f[at.F_SEED], 1.0)
    y[at.EASY] *= f[at.F_VOID_LEFT]
    y[at.INERT] *= f[at.F_VOID_LEFT]
    y[at.MEDIA] *= f[at.F_MEDIA_LEFT]


@jit
def _add_new_water(y, f, cubic_metres):
    brought = (f[at.F_NEW_TAN] + f[at.F_NEW_NITRATE]) * cubic_metres
    y[at.TAN] += f[at.F_NEW_TAN] * cubic_metres
    y[at.NITRATE] += f[at.F_NEW_NITRATE] * cubic_metres
    y[at.ADDED] += brought
    y[at.ALKALINITY] += f[at.F_NEW_ALKALINITY] * cubic_metres
    y[at.OXYGEN] += f[at.F_NEW_OXYGEN] * cubic_metres
    y[at.CARBON_DIOXIDE] += f[at.F_NEW_CARBON_DIOXIDE] * cubic_metres


@jit
def _change_water(y, p, f):
    """Swap and top up; chlorine that nobody neutralised harms the films by its dose in the mix."""
    swapped = min(f[at.F_CHANGE], y[at.VOLUME])
    kept = 1.0 - swapped / y[at.VOLUME]
    y[at.REMOVED] += (1.0 - kept) * (y[at.TAN] + y[at.NITRITE] + y[at.NITRATE])
    for state in (
        at.TAN,
        at.NITRITE,
        at.NITRATE,
        at.ALKALINITY,
        at.OXYGEN,
        at.CARBON_DIOXIDE,
        at.SUSPENDED,
    ):
        y[state] *= kept
    new = swapped + f[at.F_TOP_UP]
    _add_new_water(y, f, new)
    y[at.VOLUME] += f[at.F_TOP_UP]
    left = math.exp(-p[at.P_CHLORINE_HARM] * f[at.F_NEW_CHLORINE] * new / y[at.VOLUME])
    y[at.AMMONIA_OXIDIZERS] *= left
    y[at.NITRITE_OXIDIZERS] *= left


@jit
def _feed(y, p, f):
    """Eaten food goes into the gut; food left to rot skips it; part of the solids clouds the water at once."""
    eaten = p[at.P_EXCRETION] * f[at.F_EATEN_NITROGEN]
    y[at.GUT] += eaten
    y[at.EXCRETA] += f[at.F_LEFT_NITROGEN]
    y[at.ADDED] += eaten + f[at.F_LEFT_NITROGEN]
    mess = p[at.P_MESS] * f[at.F_EATEN_SOLIDS]
    y[at.GUT_SOLIDS] += f[at.F_EATEN_SOLIDS] - mess
    sunk = p[at.P_CAPTURE] * f[at.F_LEFT_SOLIDS]
    y[at.SUSPENDED] += mess + f[at.F_LEFT_SOLIDS] - sunk
    y[at.EASY] += sunk * (1.0 - INERT_SHARE)
    y[at.INERT] += sunk * INERT_SHARE


@jit
def _evaporate(y, f):
    least = min(f[at.F_LEAST_VOLUME], y[at.VOLUME])
    y[at.VOLUME] = max(y[at.VOLUME] - f[at.F_EVAPORATION] * HOUR, least)


@jit
def hydrogen_of(alkalinity, carbon_dioxide, f):
    """Hydrogen ions [mol/L] from alkalinity [mg CaCO3/L] and free CO2 [mg/L]: the charge balance of the water.

    Without carbonate it is a quadratic; carbonate enters by repeating it: pH within 0.002 up to 9.2.
    """
    charge = alkalinity / 50043.5
    first = f[at.F_CARBONATE_1] * carbon_dioxide / (1e3 * CARBON_DIOXIDE)
    hydrogen = 1e30
    for _ in range(3):
        product = first * (1.0 + 2.0 * f[at.F_CARBONATE_2] / hydrogen) + f[at.F_WATER]
        hydrogen = 2.0 * product / (charge + math.sqrt(charge * charge + 4.0 * product))
    return hydrogen


@jit
def ph_of(alkalinity, carbon_dioxide, f):
    """pH of a water; see hydrogen_of."""
    return -math.log10(hydrogen_of(alkalinity, carbon_dioxide, f))


@jit
def observe(y, p, f, q):
    """Write what one can see of a state into q."""
    per_litre = 1.0 / y[at.VOLUME]
    tan = y[at.TAN] * per_litre
    hydrogen = hydrogen_of(y[at.ALKALINITY] * per_litre, y[at.CARBON_DIOXIDE] * per_litre, f)
    q[at.Q_TAN] = tan
    q[at.Q_NITRITE] = y[at.NITRITE] * per_litre
    q[at.Q_NITRATE] = y[at.NITRATE] * per_litre
    q[at.Q_UNIONIZED] = tan * f[at.F_AMMONIUM] / (f[at.F_AMMONIUM] + hydrogen)
    q[at.Q_ALKALINITY] = y[at.ALKALINITY] * per_litre
    q[at.Q_PH] = -math.log10(hydrogen)
    q[at.Q_OXYGEN] = y[at.OXYGEN] * per_litre
    q[at.Q_SUSPENDED] = y[at.SUSPENDED] * per_litre
    q[at.Q_SEDIMENT] = y[at.EASY] + y[at.INERT]
    q[at.Q_MEDIA] = y[at.MEDIA]
    full = p[at.P_FILM] * f[at.F_FILM]
    q[at.Q_AMMONIA_CAPACITY] = full * y[at.AMMONIA_OXIDIZERS]
    q[at.Q_NITRITE_CAPACITY] = full * p[at.P_NITRITE_RATIO] * y[at.NITRITE_OXIDIZERS]
    q[at.Q_VOLUME] = y[at.VOLUME]


@jit
def begin_hour(y, p, f):
    """Everything that happens at once, in the order of a keeper's round: filter, water, food."""
    _tend_filter(y, p, f)
    if f[at.F_CHANGE] + f[at.F_TOP_UP] > 0.0:
        _change_water(y, p, f)
    y[at.ALKALINITY] += f[at.F_BUFFER]
    _feed(y, p, f)


@jit
def _hour(y, p, f, table, steps):
    """One hour of a block. Empty places at its end repeat the last member, so that every place holds numbers."""
    members = y.shape[0]
    for m in range(members):
        begin_hour(y[m], p[m], f)
        _fill(table, m, y[m], _rates(y[m], p[m], f))
    for m in range(members, BLOCK):
        for row in range(STATES + RATES):
            table[row * BLOCK + m] = table[row * BLOCK + members - 1]
    for _ in range(steps):
        _step_block(table, HOUR / steps)
    for m in range(members):
        _take(table, m, y[m])
        _evaporate(y[m], f)


@jit
def _record(y, p, f, q, out, first):
    """Write what can be seen of a block into one record, quantity by quantity."""
    members = y.shape[0]
    for m in range(members):
        observe(y[m], p[m], f, q[m])
    for quantity in range(q.shape[1]):
        for m in range(members):
            out[quantity, first + m] = q[m, quantity]


@entry
def run(states, parameters, forcing, steps, every, out):
    """Advance all members through all hours, in place, and keep what can be seen every so many hours.

    states (members, states); parameters (members, parameters); forcing (hours, columns); steps an hour;
    out (records, quantities, members) float32, one record at the start and one after each `every` hours;
    every = 0 keeps nothing.
    """
    table = np.empty((STATES + RATES) * BLOCK)
    q = np.empty((BLOCK, len(at.QUANTITY_NAMES)))
    for first in range(0, states.shape[0], BLOCK):
        y, p = states[first : first + BLOCK], parameters[first : first + BLOCK]
        if every > 0:
            _record(y, p, forcing[0], q, out[0], first)
        for hour in range(forcing.shape[0]):
            _hour(y, p, forcing[hour], table, steps)
            if every > 0 and (hour + 1) % every == 0:
                _record(y, p, forcing[hour], q, out[(hour + 1) // every], first)


@njit(
    "void(f8[:,::1], f8[:,::1], f8[::1], f4[:,::1])",
    error_model="numpy",
    nogil=True,
    cache=compiled.prepare_numba(),
)
def look(states, parameters, hour, out):
    """What can be seen of each member now: out (members, quantities); `hour` is one row of the forcing."""
    q = np.empty(len(at.QUANTITY_NAMES))
    for member in range(states.shape[0]):
        observe(states[member], parameters[member], hour, q)
        out[member] = q
