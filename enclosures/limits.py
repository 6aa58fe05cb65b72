"""What a water is held against: the limits of its readings, and those of the work on it.

Concentrations in mg/L, nitrogen as N, alkalinity as CaCO3.
"""

from datetime import date

from refuge.rules.facts import TestFacts
from refuge.rules.limits import LimitsFor, LimitSpec, limits
from refuge.rules.triggers import day_text

for spec in (
    LimitSpec("water.interval_light_days", "Water test, lightly loaded", 14, "days", 1, 90),
    LimitSpec("water.interval_full_days", "Water test, filter fully loaded", 3, "days", 1, 30),
    LimitSpec("water.unsure_chance", "Chance of passing a limit that asks for a test", 0.1, "", 0.01, 0.5),
    LimitSpec("water.forecast_rest_days", "Water test asked for by the forecast, soonest", 2, "days", 1, 14),
    LimitSpec("water.light_load_share", "Load that counts as light", 0.25, "of capacity", 0, 0.95),
    LimitSpec("water.cycling_days", "Water test while cycling, at most", 2, "days", 1, 7),
    LimitSpec("water.unfiltered_days", "Water test without a running filter, at most", 1, "days", 1, 14),
    LimitSpec("water.quiet_tests", "Near-zero tests in a row that end cycling", 3, "tests", 1, 20),
    LimitSpec("water.near_zero_mg_l", "Ammonia or nitrite that counts as none", 0.25, "mg/L N", 0.01, 1),
    LimitSpec("water.heavy_meal_days", "Heavy meal: worth so many days of filtering", 1.0, "days", 0.1, 14),
    LimitSpec("water.join_test_days", "Days of tests after an animal moves in", 3, "days", 0, 14),
    LimitSpec("water.panel_days", "Fuller panel (nitrate, alkalinity)", 30, "days", 7, 120),
    LimitSpec(
        "water.unionized_mg_l",
        "Un-ionized ammonia, at most",
        0.05,
        "mg/L N",
        0.001,
        1,
        "Timmons & Ebeling 2007, long-term exposure in fish culture, as cited; none published for turtles",
    ),
    LimitSpec(
        "water.tan_mg_l",
        "Total ammonia, at most",
        2.0,
        "mg/L N",
        0.1,
        20,
        "EPA 2013 chronic criterion for aquatic life, 1.9 mg/L at pH 7 and 20 °C; none published for turtles. It counts "
        "where acid water keeps ammonia harmless too: a rise of pH sets it free",
    ),
    LimitSpec(
        "water.nitrite_mg_l",
        "Nitrite, at most",
        1.0,
        "mg/L N",
        0.05,
        10,
        "Timmons & Ebeling, recirculating systems (recalled, not re-read); 0.1 in soft water",
    ),
    LimitSpec("water.nitrate_mg_l", "Nitrate, at most", 40, "mg/L N", 5, 400),
    LimitSpec("water.alkalinity_mg_l", "Alkalinity, at least", 80, "mg/L CaCO₃", 10, 300),
    LimitSpec("water.ph_low", "pH, at least", 6.5, "", 4, 8),
    LimitSpec("water.ph_high", "pH, at most", 8.5, "", 7, 10),
    LimitSpec("water.oxygen_mg_l", "Dissolved oxygen, at least", 5.0, "mg/L", 1, 12),
    LimitSpec(
        "water.chlorine_mg_l",
        "Total chlorine, at most",
        0.1,
        "mg/L",
        0.01,
        1,
        "Utility guidance for fish and turtle keepers: keep the residual below 0.1 mg/L",
    ),
    LimitSpec("water.change_days", "Partial water change, longest interval", 60, "days", 3, 365),
    LimitSpec("water.change_share", "Partial water change, usual share", 0.25, "of volume", 0.05, 0.9),
    LimitSpec("water.change_most_share", "Partial water change, most at once", 0.5, "of volume", 0.1, 1),
    LimitSpec("water.change_rest_days", "Partial water change, soonest again", 1, "days", 0, 14),
):
    limits.define(spec)

# (name in TestFacts, words, unit, limit key, True when the limit is the least allowed)
BOUNDS = (
    ("unionized", "Un-ionized ammonia", "mg/L N", "water.unionized_mg_l", False),
    ("tan", "Total ammonia", "mg/L N", "water.tan_mg_l", False),
    ("nitrite", "Nitrite", "mg/L N", "water.nitrite_mg_l", False),
    ("nitrate", "Nitrate", "mg/L N", "water.nitrate_mg_l", False),
    ("alkalinity", "Alkalinity", "mg/L CaCO₃", "water.alkalinity_mg_l", True),
    ("ph", "pH", "", "water.ph_low", True),
    ("ph", "pH", "", "water.ph_high", False),
    ("oxygen", "Dissolved oxygen", "mg/L", "water.oxygen_mg_l", True),
    ("chlorine", "Total chlorine", "mg/L", "water.chlorine_mg_l", False),
)

# The same words inside a sentence: "pH" keeps its letters.
WORDS = {name: words if words == "pH" else words[:1].lower() + words[1:] for name, words, *_ in BOUNDS}


def beyond(test: TestFacts, limits: LimitsFor) -> list[str]:
    """What one test shows beyond its limits, in words with numbers; empty when all that was read is good."""
    return [words for bound in BOUNDS if (words := beyond_one(test, limits, *bound))]


def beyond_one(
    test: TestFacts, limits: LimitsFor, name: str, what: str, unit: str, key: str, least: bool
) -> str:
    """What one reading of a test shows beyond one of BOUNDS, in words; empty when it is good or was not read."""
    value, limit = getattr(test, name), limits[key]
    if value is None or (value >= limit if least else value <= limit):
        return ""
    return beyond_words(what, value, unit, test.on, limit, least)


def beyond_words(what: str, value: float, unit: str, on: date, limit: float, least: bool) -> str:
    """'Nitrite was 1.2 mg/L N on 4 Mar 2026, above 1'."""
    side = "below" if least else "above"
    return f"{what} was {value:.3g} {unit} on {day_text(on)}, {side} {limit:.3g}".replace("  ", " ")
