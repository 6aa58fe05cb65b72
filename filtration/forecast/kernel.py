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
    SMALLEST_VOLUME_SHARE,
    SUSPENDED_DECAY,
)
from filtration.nitrification import REFERENCE_OXYGEN_MG_L
from filtration.solids import DEFAULT_MODEL
from husbandry.bioload import OXYGEN_PER_ORGANIC

INERT_SHARE = DEFAULT_MODEL.inert_share
DECAY_PER_DIGESTION = SUSPENDED_DECAY / DEFAULT_MODEL.decay_per_day_20c
HOUR = 1.0 / 24.0
NO_FLOW = 1e-9

# Rates of one member in one hour.
RELEASE, V_AMMONIA, V_NITRITE, PER_FLOW, GROWTH_A, GROWTH_N, LOSS_A, LOSS_N = range(8)
DENITRIFICATION, AIR, AIR_CO2, OXYGEN_SUPPLY, CO2_SUPPLY, CLEARING, DIGESTION, DECAY = range(8, 16)
RATES = 16

jit = njit(error_model="numpy", nogil=True, fastmath={"contract"})
entry = njit(
    "void(f8[:,::1], f8[:,::1], f8[:,::1], i8, i8, f4[:,:,:])",
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
def _film_rates(p, f, r):
    """Uptake at reference conditions becomes uptake with plenty of everything."""
    has_flow = f[at.F_FLOW] > NO_FLOW
    full = p[at.P_FILM] * f[at.F_FILM] * (1.0 + p[at.P_OXYGEN_HALF] / REFERENCE_OXYGEN_MG_L)
    full *= 1.0 if has_flow else 0.0
    r[V_AMMONIA] = full * (1.0 + p[at.P_AMMONIA_HALF] / REFERENCE_TAN)
    r[V_NITRITE] = full * p[at.P_NITRITE_RATIO] * (1.0 + p[at.P_NITRITE_HALF] / REFERENCE_TAN)
    r[PER_FLOW] = 1.0 / f[at.F_FLOW] if has_flow else 0.0
    on = 1.0 if has_flow and full > 0.0 else 0.0
    r[GROWTH_A] = on * p[at.P_AMMONIA_GROWTH] * f[at.F_AMMONIA_WARMTH]
    r[GROWTH_N] = on * p[at.P_NITRITE_GROWTH] * f[at.F_NITRITE_WARMTH]
    airless = p[at.P_AIRLESS_LOSS] * f[at.F_AIRLESS]
    r[LOSS_A] = p[at.P_LOSS] * f[at.F_AMMONIA_WARMTH] + airless
    r[LOSS_N] = p[at.P_LOSS] * f[at.F_NITRITE_WARMTH] + airless


@jit
def _water_rates(y, p, f, r):
    volume = y[at.VOLUME]
    r[RELEASE] = p[at.P_RELEASE] * f[at.F_RELEASE]
    r[DENITRIFICATION] = p[at.P_DENITRIFICATION] * f[at.F_NITRITE_WARMTH]
    r[AIR] = p[at.P_AIR] * f[at.F_AIR]
    r[AIR_CO2] = CARBON_DIOXIDE_EXCHANGE * r[AIR]
    r[OXYGEN_SUPPLY] = r[AIR] * f[at.F_OXYGEN] * volume
    r[CO2_SUPPLY] = r[AIR_CO2] * p[at.P_AIR_CARBON_DIOXIDE] * f[at.F_CARBON_DIOXIDE] * volume
    r[CLEARING] = p[at.P_CLEARING] * f[at.F_FLOW] / volume
    r[DIGESTION] = p[at.P_DIGESTION] * f[at.F_DIGESTION]
    r[DECAY] = DECAY_PER_DIGESTION * r[DIGESTION]


@jit
def _uptake(amount, film, full, half, limits, per_flow, volume):
    """(loss rate of the amount [1/day], share of the film's full speed) at one moment."""
    below = half + amount / volume + full * film * limits * per_flow
    per = limits / (below * volume)
    return full * film * per, amount * per


@jit
def _rates_at(tan, nitrite, oxygen, alkalinity, film_a, film_n, organic, volume, p, r):
    """Loss rates [1/day] of ammonia, nitrite and oxygen, and the films' speeds, for one state."""
    dissolved, buffer = oxygen / volume, alkalinity / volume
    air = dissolved / (p[at.P_OXYGEN_HALF] + dissolved)
    limits = air * buffer / (ALKALINITY_HALF + buffer)
    loss_a, speed_a = _uptake(tan, film_a, r[V_AMMONIA], p[at.P_AMMONIA_HALF], limits, r[PER_FLOW], volume)
    loss_n, speed_n = _uptake(nitrite, film_n, r[V_NITRITE], p[at.P_NITRITE_HALF], air, r[PER_FLOW], volume)
    used = OXYGEN_TO_NITRITE * loss_a * tan + OXYGEN_TO_NITRATE * loss_n * nitrite
    loss_o = r[AIR] + organic / (ORGANIC_OXYGEN_HALF * volume + oxygen)
    return loss_a, loss_n, loss_o + used / max(oxygen, 1e-12), speed_a, speed_n


@jit
def _film_after(film, growth, loss, speed, days):
    """A film that grows is shed as it fills (logistic); one that starves shrinks at its net loss."""
    net = growth * speed - loss
    x = net * days
    # exp(x) to 3e-9 at |x| = 0.05, the most that bacteria do in a step; above zero for any x
    factor = 1.0 + x * (1.0 + x * (0.5 + x * (1.0 / 6.0 + x * (1.0 / 24.0))))
    crowding = film * (factor - 1.0) if net > 0.0 else 0.0
    return film * factor / (1.0 + crowding)


@jit
def _alkalinity_after(start, gained, converted):
    return max(start + gained - ALKALINITY_PER_NITROGEN * converted, 1e-6 * start)


@jit
def _solids(y, p, r, days):
    """Gut, water, void and media over a whole hour; returns the oxygen that organic matter asks for [g/day]."""
    gut = relaxed(y[at.GUT_SOLIDS], 0.0, r[RELEASE], days)
    dropped = lost(y[at.GUT_SOLIDS], 0.0, days, gut)
    coarse = p[at.P_CAPTURE] * dropped
    leaving = r[CLEARING] + r[DECAY]
    fines = relaxed_exactly(y[at.SUSPENDED], (dropped - coarse) / days, leaving, days)
    gone = lost(y[at.SUSPENDED], (dropped - coarse) / days, days, fines)
    supply = coarse * (1.0 - INERT_SHARE) / days
    easy = relaxed(y[at.EASY], supply, r[DIGESTION], days)
    burnt = lost(y[at.EASY], supply, days, easy) + gone * r[DECAY] / leaving
    y[at.MEDIA] += gone * r[CLEARING] / leaving
    y[at.INERT] += coarse * INERT_SHARE
    y[at.GUT_SOLIDS], y[at.SUSPENDED], y[at.EASY] = gut, fines, easy
    return OXYGEN_PER_ORGANIC * burnt / days


@jit
def _food_nitrogen(y, r, days):
    """Move nitrogen through gut and excreta; returns what becomes ammonia in this step [g]."""
    gut = relaxed(y[at.GUT], 0.0, r[RELEASE], days)
    supply = lost(y[at.GUT], 0.0, days, gut) / days
    excreta = relaxed(y[at.EXCRETA], supply, r[RELEASE], days)
    freed = lost(y[at.EXCRETA], supply, days, excreta)
    y[at.GUT], y[at.EXCRETA] = gut, excreta
    return freed


@jit
def _move(y, p, r, freed, losses, days):
    """One pass of the chain with given loss rates; returns the state after it, y untouched."""
    loss_a, loss_n, loss_o, speed_a, speed_n = losses
    tan = relaxed(y[at.TAN], freed / days, loss_a, days)
    to_nitrite = lost(y[at.TAN], freed / days, days, tan)
    nitrite = relaxed(y[at.NITRITE], to_nitrite / days, loss_n, days)
    to_nitrate = lost(y[at.NITRITE], to_nitrite / days, days, nitrite)
    nitrate = relaxed(y[at.NITRATE], to_nitrate / days, r[DENITRIFICATION], days)
    to_gas = lost(y[at.NITRATE], to_nitrate / days, days, nitrate)
    gained = ALKALINITY_PER_EQUIVALENT * (p[at.P_HYDROLYSIS_ALKALINITY] * freed + to_gas)
    alkalinity = _alkalinity_after(y[at.ALKALINITY], gained, to_nitrite)
    oxygen = relaxed(y[at.OXYGEN], r[OXYGEN_SUPPLY], loss_o, days)
    film_a = _film_after(y[at.AMMONIA_OXIDIZERS], r[GROWTH_A], r[LOSS_A], speed_a, days)
    film_n = _film_after(y[at.NITRITE_OXIDIZERS], r[GROWTH_N], r[LOSS_N], speed_n, days)
    return tan, nitrite, nitrate, to_nitrite, to_gas, alkalinity, oxygen, film_a, film_n


@jit
def _carbon_dioxide_after(y, r, to_nitrite, organic, oxygen, days):
    """Nitrification turns bicarbonate into CO2, digestion breathes it out, the air takes it."""
    breathed = organic * oxygen / (ORGANIC_OXYGEN_HALF * y[at.VOLUME] + oxygen)
    supply = CARBON_DIOXIDE_PER_OXYGEN * breathed
    supply += CARBON_DIOXIDE_PER_ALKALINITY * ALKALINITY_PER_NITROGEN * to_nitrite / days
    return relaxed(y[at.CARBON_DIOXIDE], supply + r[CO2_SUPPLY], r[AIR_CO2], days)


@jit
def _rates_of(y, organic, p, r):
    return _rates_at(
        y[at.TAN],
        y[at.NITRITE],
        y[at.OXYGEN],
        y[at.ALKALINITY],
        y[at.AMMONIA_OXIDIZERS],
        y[at.NITRITE_OXIDIZERS],
        organic,
        y[at.VOLUME],
        p,
        r,
    )


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
def step(y, p, r, organic, days):
    """One step of one member, in place; organic matter asks for `organic` g O2/day."""
    freed = _food_nitrogen(y, r, days)
    first = _rates_of(y, organic, p, r)
    e = _move(y, p, r, freed, first, days)
    then = _rates_at(e[0], e[1], e[6], e[5], e[7], e[8], organic, y[at.VOLUME], p, r)
    e = _move(y, p, r, freed, _half_sum(first, then), days)
    y[at.CARBON_DIOXIDE] = _carbon_dioxide_after(y, r, e[3], organic, 0.5 * (y[at.OXYGEN] + e[6]), days)
    y[at.TAN], y[at.NITRITE], y[at.NITRATE] = e[0], e[1], e[2]
    y[at.GAS] += e[4]
    y[at.ALKALINITY], y[at.OXYGEN] = e[5], e[6]
    y[at.AMMONIA_OXIDIZERS], y[at.NITRITE_OXIDIZERS] = e[7], e[8]


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
    least = SMALLEST_VOLUME_SHARE * y[at.VOLUME]
    y[at.VOLUME] = max(y[at.VOLUME] - f[at.F_EVAPORATION] * HOUR, least)


@jit
def ph_of(alkalinity, carbon_dioxide, f):
    """pH from alkalinity [mg CaCO3/L] and free CO2 [mg/L]: the charge balance of carbonate and water.

    Without carbonate it is a quadratic; carbonate enters by repeating it, within 0.001 below pH 9.2.
    """
    charge = alkalinity / 50043.5
    first = f[at.F_CARBONATE_1] * carbon_dioxide / (1e3 * CARBON_DIOXIDE)
    hydrogen = 1e30
    for _ in range(4):
        product = first * (1.0 + 2.0 * f[at.F_CARBONATE_2] / hydrogen) + f[at.F_WATER]
        hydrogen = 2.0 * product / (charge + math.sqrt(charge * charge + 4.0 * product))
    return -math.log10(hydrogen)


@jit
def observe(y, p, f, q):
    """Write what one can see of a state into q."""
    per_litre = 1.0 / y[at.VOLUME]
    tan = y[at.TAN] * per_litre
    ph = ph_of(y[at.ALKALINITY] * per_litre, y[at.CARBON_DIOXIDE] * per_litre, f)
    q[at.Q_TAN] = tan
    q[at.Q_NITRITE] = y[at.NITRITE] * per_litre
    q[at.Q_NITRATE] = y[at.NITRATE] * per_litre
    q[at.Q_UNIONIZED] = tan / (1.0 + 10.0 ** (f[at.F_PKA] - ph))
    q[at.Q_ALKALINITY] = y[at.ALKALINITY] * per_litre
    q[at.Q_PH] = ph
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
def _hour(y, p, f, r, steps):
    begin_hour(y, p, f)
    _film_rates(p, f, r)
    _water_rates(y, p, f, r)
    organic = _solids(y, p, r, HOUR)
    for _ in range(steps):
        step(y, p, r, organic, HOUR / steps)
    _evaporate(y, f)


@entry
def run(states, parameters, forcing, steps, every, out):
    """Advance all members through all hours, in place, and keep what can be seen every so many hours.

    states (members, states); parameters (members, parameters); forcing (hours, columns); steps an hour;
    out (members, records, quantities) float32, one record at the start and one after each `every` hours;
    every = 0 keeps nothing.
    """
    r = states[0, :1].repeat(RATES)
    q = states[0, :1].repeat(len(at.QUANTITY_NAMES))
    for member in range(states.shape[0]):
        y, p = states[member], parameters[member]
        if every > 0:
            observe(y, p, forcing[0], q)
            out[member, 0] = q
        for hour in range(forcing.shape[0]):
            _hour(y, p, forcing[hour], r, steps)
            if every > 0 and (hour + 1) % every == 0:
                observe(y, p, forcing[hour], q)
                out[member, (hour + 1) // every] = q


@njit(
    "void(f8[:,::1], f8[:,::1], f8[::1], f4[:,::1])",
    error_model="numpy",
    nogil=True,
    cache=compiled.prepare_numba(),
)
def look(states, parameters, hour, out):
    """What can be seen of each member now: out (members, quantities); `hour` is one row of the forcing."""
    q = states[0, :1].repeat(len(at.QUANTITY_NAMES))
    for member in range(states.shape[0]):
        observe(states[member], parameters[member], hour, q)
        out[member] = q
