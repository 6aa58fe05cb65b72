"""One step of a block of members, compiled.

Scheme. Food nitrogen runs down a chain: gut, excreta, ammonia, nitrite, nitrate, gas. In each step every link is
relaxed exactly for a constant supply and a constant rate of loss; what it loses, found from its own balance, is
the supply of the next link. So no nitrogen is made or lost beyond rounding, and nothing turns negative whatever
the step. The rates of loss depend on the state; they are averaged over the start of the step and a first estimate
of its end, which makes the whole second order. (The relaxation is that of quasi-steady-state schemes for chemical
kinetics; Mott, Oran & van Leer 2000, J. Comput. Phys. 164:407, recalled.)

Films: uptake = v X l S/(K + S + F v X l/Q), the last term because the water gets cleaner on its way up through the
stone: with F = (2 + N)/(4 + N), N = v X l/(Q (K + S)), this is a plug flow Q with Monod's rate, within 5 % where
S is well below K: there 1 - exp(-N) of what comes is taken (test). The limits l: oxygen O/(K_O+O), acid (see hour.acidity), un-ionized ammonia U by
K_U/(K_U+U), and for the first step alkalinity A/(K_A+A). Growth follows uptake. A growing film is shed in
proportion to how full it is, so X follows the logistic curve of `nitrification.start_up` when ammonia is plentiful.
"""

import math
from typing import NamedTuple

from filtration.forecast import layout as at
from filtration.forecast.constants import (
    ALKALINITY_HALF,
    ALKALINITY_PER_EQUIVALENT,
    ALKALINITY_PER_NITROGEN,
    CARBON_DIOXIDE_PER_ALKALINITY,
    CARBON_DIOXIDE_PER_OXYGEN,
    ORGANIC_OXYGEN_HALF,
    OXYGEN_TO_NITRATE,
    OXYGEN_TO_NITRITE,
    SOLIDS_NITROGEN,
    UNIONIZED_HALF_AMMONIA,
    UNIONIZED_HALF_NITRITE,
)
from filtration.forecast.jit import inlined, jit
from husbandry.bioload import OXYGEN_PER_ORGANIC

# Members step together in blocks of this many, so that the processor works on several at once. The table of a
# block is one flat array: only with distances that the compiler knows does it see that members do not meet.
BLOCK = 16
NITROGEN_PER_OXYGEN = SOLIDS_NITROGEN / OXYGEN_PER_ORGANIC


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
    """What holds still for an hour (acid and unionized: for a step): rates [1/day], supplies [g/day], films' full uptake [g/day], halves [mg/L].

    growth and loss of the films: at full speed over rest, and at rest. acid: share of its speed that acid leaves to
    a film; unionized: share of the ammonia that is un-ionized; hydrogen: ions [mol/L] one step ago, 0 for not known.
    """

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
    acid: float
    unionized: float
    hydrogen: float


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
def _uptake(amount, film, full, half, above, below, k):
    """(loss rate of the amount [1/day], share of the film's full speed) at one moment; its limits are above / below."""
    full_now = full * film
    own = below * (k.volume * half + amount)
    passing = k.volume * full_now * above * k.per_flow
    wide = 4.0 * own + passing
    per = above * wide / (own * wide + passing * (2.0 * own + passing))
    return full_now * per, amount * per


@jit
def _losses(tan, nitrite, oxygen, alkalinity, film_a, film_n, k):
    """Loss rates [1/day] of ammonia, nitrite and oxygen, and the films' speeds, for one state."""
    # limits as fractions: a division costs as much as all the products
    airy, to_air = k.acid * oxygen, k.half_oxygen * k.volume + oxygen
    free = k.unionized * tan
    held_n, held_a = UNIONIZED_HALF_NITRITE * k.volume, UNIONIZED_HALF_AMMONIA * k.volume
    below_a = to_air * (held_a + free) * (ALKALINITY_HALF * k.volume + alkalinity)
    loss_a, speed_a = _uptake(tan, film_a, k.full_a, k.half_a, airy * held_a * alkalinity, below_a, k)
    loss_n, speed_n = _uptake(nitrite, film_n, k.full_n, k.half_n, airy * held_n, to_air * (held_n + free), k)
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
    """Gut and excreta after a step, and what becomes ammonia in it [g]. Digested solids add to the excreta."""
    gut = relaxed(s.gut, 0.0, k.release, days)
    supply = lost(s.gut, 0.0, days, gut) / days + NITROGEN_PER_OXYGEN * k.organic
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
def step_block(table, days):
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
            table[30 * BLOCK + m],
            table[31 * BLOCK + m],
            table[32 * BLOCK + m],
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
def fill(table, m, y, k):
    """Write one member into the table of its block."""
    for row, state in enumerate(MOVED):
        table[row * BLOCK + m] = y[m, state]
    for row, value in enumerate(k):
        table[(STATES + row) * BLOCK + m] = value


@jit
def take(table, m, y):
    """Read one member back from the table of its block."""
    for row, state in enumerate(MOVED):
        y[m, state] = table[row * BLOCK + m]
