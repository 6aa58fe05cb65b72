"""When the demo's keepers do things: by the program's own default limits, so that its tasks suit their past.

Importing the rules defines the limits; nothing here needs Django.
"""

import enclosures.rules  # noqa: F401
import filtration.rules  # noqa: F401
import husbandry.rules  # noqa: F401
from refuge.rules.limits import limits


def usual(key: str) -> float:
    """The default of one limit."""
    return limits[key].default


UNIONIZED_HIGH = usual("water.unionized_mg_l")
NITRITE_HIGH = usual("water.nitrite_mg_l")
NITRATE_HIGH = usual("water.nitrate_mg_l")
ALKALINITY_LOW = usual("water.alkalinity_mg_l")
PH_LOW, PH_HIGH = usual("water.ph_low"), usual("water.ph_high")
TEST_LIGHT_DAYS, TEST_FULL_DAYS = usual("water.interval_light_days"), usual("water.interval_full_days")
LIGHT_SHARE = usual("water.light_load_share")
HEAVY_MEAL_DAYS = usual("water.heavy_meal_days")
JOIN_TEST_DAYS = int(usual("water.join_test_days"))
PANEL_DAYS = int(usual("water.panel_days"))
CHANGE_DAYS = int(usual("water.change_days"))
CHANGE_SHARE, CHANGE_MOST = usual("water.change_share"), usual("water.change_most_share")

DRAIN_SHARE, DRAIN_DAYS = usual("filtration.drain_share"), int(usual("filtration.drain_days"))
RINSE_FLOW_SHARE, RINSE_SOLIDS_G_L = (
    usual("filtration.rinse_flow_share"),
    usual("filtration.rinse_solids_g_l"),
)
PUMP_CLEAN_DAYS, BUCKET_DAYS = int(usual("filtration.pump_clean_days")), int(usual("filtration.bucket_days"))
PROTECTION_DAYS = int(usual("filtration.protection_days"))
INSPECTION_DAYS = int(usual("filtration.inspection_days"))

YOUNG_SHARE = usual("husbandry.young_share")
WEIGH_YOUNG_DAYS = int(usual("husbandry.weigh_young_days"))
WEIGH_ADULT_DAYS = int(usual("husbandry.weigh_adult_days"))
REST_COUNT_DAYS = int(usual("husbandry.brumation_seen_days"))
