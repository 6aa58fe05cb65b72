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

from typing import NamedTuple

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
from filtration.forecast.layout import BLOCK, K, P, Y
from husbandry.bioload import OXYGEN_PER_ORGANIC

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
    a film; unionized: share of the ammonia that is un-ionized; per_flow: days per m3, the same for all members.
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


@jit
def relaxed(start, brought, loss, days):
    """Amount after `days` in which as much as `brought` [g] came evenly, at a constant loss [1/day]; never below zero.

    exp(-z) as 1 / (1 + z + z2/2 + z3/6 + z4/24): within 2e-4 for z up to 0.5, and sound for any z.
    """
    z = loss * days
    series = 1.0 + z * (0.5 + z * (1.0 / 6.0 + z * (1.0 / 24.0)))
    return (start + brought * series) / (1.0 + z * series)


@jit
def gone_share(x):
    """1 - exp(-x) for x of 0 or more, to the last digits but without a call (see jit.inlined).

    The series of a 256th of x, then eight times 1 - exp(-2x) = g (2 - g). Beyond 40 a double holds nothing but 1.
    """
    small = min(x, 40.0) / 256.0
    series = 1.0
    for n in range(12, 1, -1):
        series = 1.0 - series * small * (1.0 / n)
    gone = small * series
    for _ in range(8):
        gone *= 2.0 - gone
    return gone


@jit
def relaxed_exactly(start, brought, loss, days):
    """As `relaxed`, by the exponential function: for the one that may be quick and takes a whole hour at once."""
    z = loss * days
    return start - (start - brought / z) * gone_share(z)


@jit
def lost(start, brought, end):
    """What left during a step, from its balance; rounding never makes it negative."""
    return max(start + brought - end, 0.0)


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
    excreted = lost(s.gut, 0.0, gut) + NITROGEN_PER_OXYGEN * k.organic * days
    excreta = relaxed(s.excreta, excreted, k.release, days)
    return gut, excreta, lost(s.excreta, excreted, excreta)


@jit
def _chain(s, k, freed, losses, days):
    """Ammonia, nitrite, nitrate after a step with given loss rates, and what left the first and the last."""
    tan = relaxed(s.tan, freed, losses[0], days)
    to_nitrite = lost(s.tan, freed, tan)
    nitrite = relaxed(s.nitrite, to_nitrite, losses[1], days)
    to_nitrate = lost(s.nitrite, to_nitrite, nitrite)
    nitrate = relaxed(s.nitrate, to_nitrate, k.denitrification, days)
    return tan, nitrite, nitrate, to_nitrite, lost(s.nitrate, to_nitrate, nitrate)


@jit
def _alkalinity_after(s, k, freed, to_nitrite, to_gas):
    gained = ALKALINITY_PER_EQUIVALENT * (k.hydrolysis * freed + to_gas)
    return max(s.alkalinity + gained - ALKALINITY_PER_NITROGEN * to_nitrite, 1e-6 * s.alkalinity)


@jit
def _carbon_dioxide_after(s, k, to_nitrite, oxygen, days):
    """Nitrification turns bicarbonate into CO2, digestion breathes it out, the air takes it."""
    breathed = k.organic * oxygen / (ORGANIC_OXYGEN_HALF * k.volume + oxygen)
    made = CARBON_DIOXIDE_PER_ALKALINITY * ALKALINITY_PER_NITROGEN * to_nitrite
    came = (CARBON_DIOXIDE_PER_OXYGEN * breathed + k.co2_supply) * days + made
    return relaxed(s.carbon_dioxide, came, k.air_co2, days)


@inlined
def _move(s, k, food, losses, days):
    """One pass of everything with given loss rates."""
    gut, excreta, freed = food
    tan, nitrite, nitrate, to_nitrite, to_gas = _chain(s, k, freed, losses, days)
    oxygen = relaxed(s.oxygen, k.oxygen_supply * days, losses[2], days)
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
def step_block(table, per_flow, days):
    """One step of a whole block, in place. table: see layout.BLOCK; per_flow: days per m3 of flow."""
    for m in range(BLOCK):
        s = State(
            table[Y.gut_nitrogen + m],
            table[Y.excreta_nitrogen + m],
            table[Y.tan + m],
            table[Y.nitrite + m],
            table[Y.nitrate + m],
            table[Y.nitrogen_gas + m],
            table[Y.alkalinity + m],
            table[Y.oxygen + m],
            table[Y.carbon_dioxide + m],
            table[Y.ammonia_oxidizers + m],
            table[Y.nitrite_oxidizers + m],
        )
        k = Rates(
            table[Y.volume + m],
            table[K.release + m],
            table[K.full_a + m],
            table[K.full_n + m],
            per_flow,
            table[K.growth_a + m],
            table[K.growth_n + m],
            table[K.loss_a + m],
            table[K.loss_n + m],
            table[K.denitrification + m],
            table[K.air + m],
            table[K.air_co2 + m],
            table[K.oxygen_supply + m],
            table[K.co2_supply + m],
            table[K.organic + m],
            table[P.ammonia_half + m],
            table[P.nitrite_half + m],
            table[P.oxygen_half + m],
            table[P.hydrolysis_alkalinity + m],
            table[K.acid + m],
            table[K.unionized + m],
        )
        s = step(s, k, days)
        table[Y.gut_nitrogen + m] = s.gut
        table[Y.excreta_nitrogen + m] = s.excreta
        table[Y.tan + m] = s.tan
        table[Y.nitrite + m] = s.nitrite
        table[Y.nitrate + m] = s.nitrate
        table[Y.nitrogen_gas + m] = s.gas
        table[Y.alkalinity + m] = s.alkalinity
        table[Y.oxygen + m] = s.oxygen
        table[Y.carbon_dioxide + m] = s.carbon_dioxide
        table[Y.ammonia_oxidizers + m] = s.film_a
        table[Y.nitrite_oxidizers + m] = s.film_n
