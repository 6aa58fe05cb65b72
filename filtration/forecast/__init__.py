"""The water forecast: each circuit hour by hour, as many equally likely waters that tests narrow down.

Plain Python and numpy; the step is compiled on first use. Masses in g, volumes in m3, concentrations in mg/L with
nitrogen as N, temperatures in degrees Celsius, hours from the start of the forecast.
"""

from filtration.forecast.assimilation import Disagreement, Update, assimilate
from filtration.forecast.bands import LEVELS, Forecast, Job, Limit, forecast, forecast_many, summary
from filtration.forecast.circuit import Beginning, Circuit, new_filter, settled
from filtration.forecast.compiled import keep_compiled_in, prepare
from filtration.forecast.ensemble import Ensemble, advance, draw, middle_member
from filtration.forecast.following import Followed, WaterReading, follow
from filtration.forecast.inputs import (
    AreaChange,
    Buffer,
    Damage,
    Drain,
    Inputs,
    Meal,
    PumpStop,
    Rinse,
    Seeding,
    Source,
    TopUp,
    WaterChange,
    meal_of_food,
    meals_every,
    steady,
)
from filtration.forecast.kits import USUAL_KITS, Kit, Observation, colour_card, read
from filtration.forecast.outlook import (
    NextTest,
    Span,
    days_until_drain,
    days_until_passing,
    days_until_rinse,
    days_until_unsure,
    hours_to_clear,
)
from filtration.forecast.scenario import Scenario
from filtration.forecast.score import Judged, Score, score
from filtration.forecast.start_up import days_to_mature, feeding_ladder, largest_meals, mean_load_g_day

__all__ = [
    "LEVELS",
    "USUAL_KITS",
    "AreaChange",
    "Beginning",
    "Buffer",
    "Circuit",
    "Damage",
    "Disagreement",
    "Drain",
    "Ensemble",
    "Followed",
    "Forecast",
    "Inputs",
    "Job",
    "Judged",
    "Kit",
    "Limit",
    "Meal",
    "NextTest",
    "Observation",
    "PumpStop",
    "Rinse",
    "Scenario",
    "Score",
    "Seeding",
    "Source",
    "Span",
    "TopUp",
    "Update",
    "WaterChange",
    "WaterReading",
    "advance",
    "assimilate",
    "colour_card",
    "days_to_mature",
    "days_until_drain",
    "days_until_passing",
    "days_until_rinse",
    "days_until_unsure",
    "draw",
    "feeding_ladder",
    "follow",
    "forecast",
    "forecast_many",
    "hours_to_clear",
    "keep_compiled_in",
    "largest_meals",
    "meal_of_food",
    "meals_every",
    "mean_load_g_day",
    "middle_member",
    "new_filter",
    "prepare",
    "read",
    "score",
    "settled",
    "steady",
    "summary",
]
