"""What happens within an hour besides the steps, compiled: work, water, food, solids; and what one can see.

Arrays: table of a block of members (see layout.BLOCK), f forcing of one hour. What is read from the forcing is read
before the loop over the members: within it the compiler would have to fear that writing to the table changes it.
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
from filtration.forecast.layout import BLOCK, K, P, Q, Y
from filtration.forecast.step import lost, relaxed, relaxed_exactly
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


@jit
def _harm(table, film, harm):
    """What lives on in one film after a harm of so many times that of the middle member."""
    for m in range(BLOCK):
        table[film + m] *= math.exp(-table[P.harm + m] * harm)


@jit
def _tend_filter(table, f):
    """Damage, rinse, seeding and drain at the start of the hour."""
    if f[at.F_AMMONIA_HARM] > 0.0:
        _harm(table, Y.ammonia_oxidizers, f[at.F_AMMONIA_HARM])
    if f[at.F_NITRITE_HARM] > 0.0:
        _harm(table, Y.nitrite_oxidizers, f[at.F_NITRITE_HARM])
    film_left, seed = f[at.F_FILM_LEFT], f[at.F_SEED]
    void_left, media_left = f[at.F_VOID_LEFT], f[at.F_MEDIA_LEFT]
    for m in range(BLOCK):
        table[Y.ammonia_oxidizers + m] = min(table[Y.ammonia_oxidizers + m] * film_left + seed, 1.0)
        table[Y.nitrite_oxidizers + m] = min(table[Y.nitrite_oxidizers + m] * film_left + seed, 1.0)
        table[Y.easy_sediment + m] *= void_left
        table[Y.inert_sediment + m] *= void_left
        table[Y.media_solids + m] *= media_left


@jit
def _add_new_water(table, m, f, cubic_metres):
    brought = (f[at.F_NEW_TAN] + f[at.F_NEW_NITRATE]) * cubic_metres
    table[Y.tan + m] += f[at.F_NEW_TAN] * cubic_metres
    table[Y.nitrate + m] += f[at.F_NEW_NITRATE] * cubic_metres
    table[Y.nitrogen_added + m] += brought
    table[Y.alkalinity + m] += f[at.F_NEW_ALKALINITY] * cubic_metres
    table[Y.oxygen + m] += f[at.F_NEW_OXYGEN] * cubic_metres
    table[Y.carbon_dioxide + m] += f[at.F_NEW_CARBON_DIOXIDE] * cubic_metres


@jit
def _change_water(table, m, f):
    """Swap and top up; chlorine that nobody neutralised harms the films by its dose in the mix.

    Of what was excreted the urea is dissolved and goes along; the rest is droppings and what rots, which stay behind in
    void and corners (assumption). How much is urea is the parameter that also says how much alkalinity it gives.
    """
    swapped = min(f[at.F_CHANGE], table[Y.volume + m])
    kept = 1.0 - swapped / table[Y.volume + m]
    urea = table[P.hydrolysis_alkalinity + m] * table[Y.excreta_nitrogen + m]
    nitrogen = table[Y.tan + m] + table[Y.nitrite + m] + table[Y.nitrate + m] + urea
    table[Y.nitrogen_removed + m] += (1.0 - kept) * nitrogen
    table[Y.excreta_nitrogen + m] -= (1.0 - kept) * urea
    for state in (
        Y.tan,
        Y.nitrite,
        Y.nitrate,
        Y.alkalinity,
        Y.oxygen,
        Y.carbon_dioxide,
        Y.suspended,
    ):
        table[state + m] *= kept
    new = swapped + f[at.F_TOP_UP]
    _add_new_water(table, m, f, new)
    table[Y.volume + m] += f[at.F_TOP_UP]
    left = math.exp(-table[P.chlorine_harm + m] * f[at.F_NEW_CHLORINE] * new / table[Y.volume + m])
    table[Y.ammonia_oxidizers + m] *= left
    table[Y.nitrite_oxidizers + m] *= left


@jit
def _feed(table, m, f):
    """Food goes into the gut; part of the solids clouds the water at once."""
    eaten = table[P.excretion + m] * f[at.F_EATEN_NITROGEN]
    table[Y.gut_nitrogen + m] += eaten
    table[Y.nitrogen_added + m] += eaten
    mess = table[P.mess + m] * f[at.F_EATEN_SOLIDS]
    table[Y.gut_solids + m] += f[at.F_EATEN_SOLIDS] - mess
    table[Y.suspended + m] += mess


@jit
def begin(table, f):
    """Everything that happens at once, in the order of a keeper's round: filter, water, food; in most hours nothing."""
    _tend_filter(table, f)
    if f[at.F_CHANGE] + f[at.F_TOP_UP] > 0.0:
        for m in range(BLOCK):
            _change_water(table, m, f)
    if f[at.F_BUFFER] > 0.0:
        for m in range(BLOCK):
            table[Y.alkalinity + m] += f[at.F_BUFFER]
    if f[at.F_EATEN_NITROGEN] + f[at.F_EATEN_SOLIDS] > 0.0:
        for m in range(BLOCK):
            _feed(table, m, f)


@jit
def _hold_films(table, f, grows):
    """Full uptake, growth and loss of both films for an hour; without flow or media (grows = 0) no uptake, no growth."""
    film, airless = grows * f[at.F_FILM], f[at.F_AIRLESS]
    warmth_a, warmth_n = f[at.F_AMMONIA_WARMTH], f[at.F_NITRITE_WARMTH]
    for m in range(BLOCK):
        # uptake at reference conditions becomes uptake with plenty of everything
        full = table[P.film + m] * film * (1.0 + table[P.oxygen_half + m] / REFERENCE_OXYGEN_MG_L)
        table[K.full_a + m] = full * (1.0 + table[P.ammonia_half + m] / REFERENCE_TAN)
        full_n = full * table[P.nitrite_ratio + m]
        table[K.full_n + m] = full_n * (1.0 + table[P.nitrite_half + m] / REFERENCE_TAN)
        resting, working = RESTING_SHARE * table[P.loss + m], WORKING_SHARE * table[P.loss + m]
        starved = table[P.airless_loss + m] * airless
        table[K.growth_a + m] = grows * (table[P.ammonia_growth + m] - working) * warmth_a
        table[K.growth_n + m] = grows * (table[P.nitrite_growth + m] - working) * warmth_n
        table[K.loss_a + m] = resting * warmth_a + starved
        table[K.loss_n + m] = resting * warmth_n + starved


@jit
def _hold_water(table, f):
    """Release from the food, denitrification, and what the air gives and takes, for an hour."""
    release, warmth, exchange = f[at.F_RELEASE], f[at.F_NITRITE_WARMTH], f[at.F_AIR]
    oxygen, carbon_dioxide = f[at.F_OXYGEN], f[at.F_CARBON_DIOXIDE]
    for m in range(BLOCK):
        volume, air = table[Y.volume + m], table[P.air + m] * exchange
        air_co2 = CARBON_DIOXIDE_EXCHANGE * air
        table[K.release + m] = table[P.release + m] * release
        table[K.denitrification + m] = table[P.denitrification + m] * warmth
        table[K.air + m] = air
        table[K.air_co2 + m] = air_co2
        table[K.oxygen_supply + m] = air * oxygen * volume
        table[K.co2_supply + m] = air_co2 * table[P.air_carbon_dioxide + m] * carbon_dioxide * volume
        table[K.hydrogen + m] = 0.0  # not known


@jit
def _move_solids(table, f):
    """Gut, water, void and media over an hour, all at once: they are linear. Fills in the oxygen they ask for [g/day]."""
    warmth, flow, release = f[at.F_DIGESTION], f[at.F_FLOW], f[at.F_RELEASE]
    for m in range(BLOCK):
        in_gut, in_water, in_void = (
            table[Y.gut_solids + m],
            table[Y.suspended + m],
            table[Y.easy_sediment + m],
        )
        digestion = table[P.digestion + m] * warmth
        decay = DECAY_PER_DIGESTION * digestion
        clearing = table[P.clearing + m] * flow / table[Y.volume + m]
        gut = relaxed(in_gut, 0.0, table[P.release + m] * release, HOUR)
        dropped = lost(in_gut, 0.0, gut)
        coarse = table[P.capture + m] * dropped
        fines = relaxed_exactly(in_water, dropped - coarse, clearing + decay, HOUR)
        gone = lost(in_water, dropped - coarse, fines)
        caught = gone * clearing / (clearing + decay)
        settled = coarse * (1.0 - INERT_SHARE)
        easy = relaxed(in_void, settled, digestion, HOUR)
        burnt = lost(in_void, settled, easy) + gone - caught
        table[Y.nitrogen_added + m] += SOLIDS_NITROGEN * burnt
        table[Y.media_solids + m] += caught
        table[Y.inert_sediment + m] += coarse * INERT_SHARE
        table[Y.gut_solids + m], table[Y.suspended + m], table[Y.easy_sediment + m] = gut, fines, easy
        table[K.organic + m] = OXYGEN_PER_ORGANIC * AN_HOUR * burnt


@jit
def hold_rates(table, f):
    """Fill in the rates that hold still for an hour; returns days per m3 of flow, 0 without flow or media."""
    grows = 1.0 if f[at.F_FLOW] > NO_FLOW and f[at.F_FILM] > 0.0 else 0.0
    _hold_films(table, f, grows)
    _hold_water(table, f)
    _move_solids(table, f)
    return 1.0 / f[at.F_FLOW] if grows > 0.0 else 0.0


@jit
def evaporate(table, f):
    least_volume, gone = f[at.F_LEAST_VOLUME], f[at.F_EVAPORATION] * HOUR
    for m in range(BLOCK):
        volume = table[Y.volume + m]
        table[Y.volume + m] = max(volume - gone, min(least_volume, volume))


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
def acidity(table, f):
    """Fill in what pH does to a block in the next step: the films' speed, and the un-ionized share of the ammonia.

    pH as it will be in the middle of the step if it goes on changing as in the step before: so the whole stays second
    order. Held still for an hour it would cost up to 1.4 % of accuracy.
    """
    first, second, water, ammonium = f[at.F_CARBONATE_1], f[at.F_CARBONATE_2], f[at.F_WATER], f[at.F_AMMONIUM]
    for m in range(BLOCK):
        per_litre = 1.0 / table[Y.volume + m]
        alkalinity = table[Y.alkalinity + m] * per_litre
        now = hydrogen_of(alkalinity, table[Y.carbon_dioxide + m] * per_litre, first, second, water)
        before = table[K.hydrogen + m]
        hydrogen = 2.0 * now * now / (now + before) if before > 0.0 else now
        table[K.hydrogen + m] = now
        table[K.acid + m] = MOST_OF_ACID * ACID_HALF / (ACID_HALF + hydrogen)
        table[K.unionized + m] = ammonium / (ammonium + hydrogen)


@jit
def ph_of(alkalinity, carbon_dioxide, f):
    """pH of a water; see hydrogen_of."""
    hydrogen = hydrogen_of(
        alkalinity, carbon_dioxide, f[at.F_CARBONATE_1], f[at.F_CARBONATE_2], f[at.F_WATER]
    )
    return -math.log10(hydrogen)


@jit
def _see_water(table, f):
    """Concentrations, and hydrogen ions in the row of pH."""
    first, second, water, ammonium = f[at.F_CARBONATE_1], f[at.F_CARBONATE_2], f[at.F_WATER], f[at.F_AMMONIUM]
    for m in range(BLOCK):
        volume = table[Y.volume + m]
        per_litre = 1.0 / volume
        tan, alkalinity = table[Y.tan + m] * per_litre, table[Y.alkalinity + m] * per_litre
        hydrogen = hydrogen_of(alkalinity, table[Y.carbon_dioxide + m] * per_litre, first, second, water)
        table[Q.tan + m] = tan
        table[Q.nitrite + m] = table[Y.nitrite + m] * per_litre
        table[Q.nitrate + m] = table[Y.nitrate + m] * per_litre
        table[Q.unionized + m] = tan * ammonium / (ammonium + hydrogen)
        table[Q.alkalinity + m] = alkalinity
        table[Q.ph + m] = hydrogen
        table[Q.oxygen + m] = table[Y.oxygen + m] * per_litre
        table[Q.suspended + m] = table[Y.suspended + m] * per_litre
        table[Q.volume + m] = volume


@jit
def _see_filter(table, f):
    """What lies in the filter, and what its films could take up."""
    film = f[at.F_FILM]
    for m in range(BLOCK):
        table[Q.sediment + m] = table[Y.easy_sediment + m] + table[Y.inert_sediment + m]
        table[Q.media_solids + m] = table[Y.media_solids + m]
        full = table[P.film + m] * film
        table[Q.ammonia_capacity + m] = full * table[Y.ammonia_oxidizers + m]
        table[Q.nitrite_capacity + m] = full * table[P.nitrite_ratio + m] * table[Y.nitrite_oxidizers + m]


@jit
def observe(table, f):
    """Fill in what one can see of a block, a row for each of layout.QUANTITY_NAMES."""
    _see_water(table, f)
    _see_filter(table, f)
    for m in range(BLOCK):  # a loop of its own: the logarithm is a call, which would hold up all the rest
        table[Q.ph + m] = -math.log10(table[Q.ph + m])
