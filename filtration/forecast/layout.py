"""Where each number of the forecast stands in its array. Masses in g, volume in m3, time in days.

Plain integers, so that the compiled step can use them as constants.
"""

from collections import namedtuple
from typing import Any

STATE_NAMES = (
    "gut_nitrogen",  # g N eaten, still inside the animals
    "excreta_nitrogen",  # g N excreted or rotting, not yet ammonia; of it the urea is dissolved
    "tan",  # g N
    "nitrite",  # g N
    "nitrate",  # g N
    "nitrogen_gas",  # g N lost to the air by denitrification, counted
    "nitrogen_removed",  # g N taken out with changed water, counted
    "nitrogen_added",  # g N brought in by food and water, and set free by solids, counted
    "alkalinity",  # g as CaCO3
    "oxygen",  # g
    "carbon_dioxide",  # g of CO2 dissolved and free
    "ammonia_oxidizers",  # share of a full film, 0 to 1
    "nitrite_oxidizers",  # share of a full film, 0 to 1
    "gut_solids",  # g dry, still inside the animals
    "suspended",  # g dry, fine enough to cloud the water
    "easy_sediment",  # g dry in the void, being digested
    "inert_sediment",  # g dry in the void, staying
    "media_solids",  # g dry caught in the media
    "volume",  # m3
)
(
    GUT,
    EXCRETA,
    TAN,
    NITRITE,
    NITRATE,
    GAS,
    REMOVED,
    ADDED,
    ALKALINITY,
    OXYGEN,
    CARBON_DIOXIDE,
    AMMONIA_OXIDIZERS,
    NITRITE_OXIDIZERS,
    GUT_SOLIDS,
    SUSPENDED,
    EASY,
    INERT,
    MEDIA,
    VOLUME,
) = range(len(STATE_NAMES))

# Nitrogen that is somewhere: these add up to what was there at first plus `nitrogen_added`.
NITROGEN_STATES = (GUT, EXCRETA, TAN, NITRITE, NITRATE, GAS, REMOVED)

QUANTITY_NAMES = (
    "tan",  # mg N/L
    "nitrite",  # mg N/L
    "nitrate",  # mg N/L
    "unionized",  # un-ionized ammonia, mg N/L
    "alkalinity",  # mg CaCO3/L
    "ph",
    "oxygen",  # mg/L
    "suspended",  # fine solids, mg/L
    "sediment",  # dry matter in the void, g
    "media_solids",  # dry matter in the media, g
    "ammonia_capacity",  # g N/day the film could take up with plenty of ammonia
    "nitrite_capacity",  # g N/day
    "volume",  # m3
)
(
    Q_TAN,
    Q_NITRITE,
    Q_NITRATE,
    Q_UNIONIZED,
    Q_ALKALINITY,
    Q_PH,
    Q_OXYGEN,
    Q_SUSPENDED,
    Q_SEDIMENT,
    Q_MEDIA,
    Q_AMMONIA_CAPACITY,
    Q_NITRITE_CAPACITY,
    Q_VOLUME,
) = range(len(QUANTITY_NAMES))
QUANTITY = {name: index for index, name in enumerate(QUANTITY_NAMES)}

PARAMETER_NAMES = (
    "excretion",
    "volume",
    "film",
    "ammonia_growth",
    "nitrite_growth",
    "loss",
    "ammonia_half",
    "nitrite_half",
    "oxygen_half",
    "nitrite_ratio",
    "release",
    "air",
    "air_carbon_dioxide",
    "hydrolysis_alkalinity",
    "denitrification",
    "mess",
    "clearing",
    "capture",
    "digestion",
    "airless_loss",
    "chlorine_harm",
    "harm",
    "tan_bias",
    "nitrite_bias",
    "nitrate_bias",
    "alkalinity_bias",
    "ph_bias",
)
(
    P_EXCRETION,
    P_VOLUME,
    P_FILM,
    P_AMMONIA_GROWTH,
    P_NITRITE_GROWTH,
    P_LOSS,
    P_AMMONIA_HALF,
    P_NITRITE_HALF,
    P_OXYGEN_HALF,
    P_NITRITE_RATIO,
    P_RELEASE,
    P_AIR,
    P_AIR_CARBON_DIOXIDE,
    P_HYDROLYSIS_ALKALINITY,
    P_DENITRIFICATION,
    P_MESS,
    P_CLEARING,
    P_CAPTURE,
    P_DIGESTION,
    P_AIRLESS_LOSS,
    P_CHLORINE_HARM,
    P_HARM,
    P_TAN_BIAS,
    P_NITRITE_BIAS,
    P_NITRATE_BIAS,
    P_ALKALINITY_BIAS,
    P_PH_BIAS,
) = range(len(PARAMETER_NAMES))
PARAMETER = {name: index for index, name in enumerate(PARAMETER_NAMES)}

FORCING_NAMES = (
    # all hour long
    "celsius",
    "release_rate",  # 1/day of each of the two stages from meal to ammonia
    "film_rate",  # g N/day that the whole media area takes up at reference conditions
    "ammonia_warmth",  # growth relative to 20 C
    "nitrite_warmth",
    "digestion_rate",  # 1/day
    "oxygen_saturation",  # mg/L
    "carbon_dioxide_saturation",  # mg/L in balance with open air
    "carbonate_1",  # first and second constant of carbonic acid, ion product of water [mol/L]
    "carbonate_2",
    "water_product",
    "ammonium",  # acid constant of ammonium [mol/L]
    "air_exchange",  # 1/day
    "flow",  # m3/day through the filter
    "airless",  # share of the hour during which the bed is out of oxygen
    "evaporation",  # m3/day
    "least_volume",  # m3 at which the pump runs dry and evaporation is no longer followed
    # at the start of the hour
    "eaten_nitrogen",  # g
    "eaten_solids",  # g dry
    "change_volume",  # m3 swapped
    "top_up_volume",  # m3 added
    "new_tan",  # mg N/L of the new water
    "new_nitrate",
    "new_alkalinity",
    "new_oxygen",
    "new_carbon_dioxide",
    "new_chlorine",  # mg/L not neutralised
    "film_left",  # share of both films that is left after a rinse, or on stone to which bare stone was added
    "ammonia_harm",  # -ln of the share of the bacteria that lives on in the middle member
    "nitrite_harm",
    "seed",  # share of a full film brought in
    "buffer",  # g of alkalinity as CaCO3 added
    "void_left",  # share of the sediment left after a drain
    "media_left",  # share of the solids in the media left after a rinse
)
(
    F_CELSIUS,
    F_RELEASE,
    F_FILM,
    F_AMMONIA_WARMTH,
    F_NITRITE_WARMTH,
    F_DIGESTION,
    F_OXYGEN,
    F_CARBON_DIOXIDE,
    F_CARBONATE_1,
    F_CARBONATE_2,
    F_WATER,
    F_AMMONIUM,
    F_AIR,
    F_FLOW,
    F_AIRLESS,
    F_EVAPORATION,
    F_LEAST_VOLUME,
    F_EATEN_NITROGEN,
    F_EATEN_SOLIDS,
    F_CHANGE,
    F_TOP_UP,
    F_NEW_TAN,
    F_NEW_NITRATE,
    F_NEW_ALKALINITY,
    F_NEW_OXYGEN,
    F_NEW_CARBON_DIOXIDE,
    F_NEW_CHLORINE,
    F_FILM_LEFT,
    F_AMMONIA_HARM,
    F_NITRITE_HARM,
    F_SEED,
    F_BUFFER,
    F_VOID_LEFT,
    F_MEDIA_LEFT,
) = range(len(FORCING_NAMES))

# What holds still for an hour (acid and what follows: for a step); see step.Rates.
RATE_NAMES = (
    "release",
    "full_a",
    "full_n",
    "growth_a",
    "growth_n",
    "loss_a",
    "loss_n",
    "denitrification",
    "air",
    "air_co2",
    "oxygen_supply",
    "co2_supply",
    "organic",
    "acid",
    "unionized",
    "hydrogen",
)

# Members are worked on in blocks of this many, so that the processor takes several at once. Everything of a block
# stands in one flat table, a row of BLOCK members for each state, parameter, rate and quantity: only with distances
# that the compiler knows does it see that members do not meet. Number m of a row is at, say, table[Y.tan + m].
BLOCK = 32


def _rows(names: tuple[str, ...], first: int) -> Any:
    """Where the row of each name starts in the table of a block, by name."""
    make: Any = namedtuple  # its fields are no literals, so nothing can be known of them before it runs
    return make("Rows", names)(*(BLOCK * (first + index) for index in range(len(names))))


STATES, PARAMETERS = len(STATE_NAMES), len(PARAMETER_NAMES)
RATES, QUANTITIES = len(RATE_NAMES), len(QUANTITY_NAMES)
Y = _rows(STATE_NAMES, 0)
P = _rows(PARAMETER_NAMES, STATES)
K = _rows(RATE_NAMES, STATES + PARAMETERS)
Q = _rows(QUANTITY_NAMES, STATES + PARAMETERS + RATES)
TABLE = BLOCK * (STATES + PARAMETERS + RATES + QUANTITIES)
