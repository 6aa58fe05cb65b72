"""The numbers of what the load does to the tank's water."""

from collections.abc import Iterator

from enclosures.chemistry import ALKALINITY_PER_NITROGEN
from filtration.designing.assessment import NEWCOMER_MEAL_DAYS, Assessment
from filtration.designing.checks_of_water import (
    WEEKLY_SHARE,
    busiest_day_g,
    newcomers_meal_g,
    weekly_alkalinity_mg_l,
    whole_tan_g_day,
)
from filtration.designing.figure import Figure
from filtration.designing.words import percent, volume
from husbandry.bioload import busiest_day_share


def of_water(of: Assessment) -> Iterator[Figure]:
    """Alkalinity used up, and a newcomer's meal; nothing while the load is not known."""
    used, load = weekly_alkalinity_mg_l(of), whole_tan_g_day(of)
    if used is not None and load is not None:
        yield Figure(
            "alkalinity_used",
            "Alkalinity used up in a week",
            f"{used:.0f}\u00a0mg/L",
            f"{load:.1f}\u00a0g of ammonia nitrogen a day × 7 days × {ALKALINITY_PER_NITROGEN:.2f}\u00a0g CaCO₃ a gram, in "
            f"{volume(of.design.tank.volume_m3)}. Changed by {percent(WEEKLY_SHARE)} every week the water comes to lie "
            f"{percent(1 / WEEKLY_SHARE)} of that below the new water.",
            "Stoichiometry of nitrification; Ebeling et al. 2006, as cited: 7.15\u00a0g",
        )
    busiest = busiest_day_g(of)
    if busiest is not None:
        share = busiest_day_share(of.design.temperature_c, NEWCOMER_MEAL_DAYS)
        yield Figure(
            "busiest_day",
            "On the busiest day after a newcomer's meal",
            f"{busiest:.1f}\u00a0g of ammonia nitrogen",
            f"{newcomers_meal_g(of):.1f}\u00a0g a meal, of which {percent(share)} come on its busiest day, what earlier "
            "meals still give included; and what the others put in.",
            "Food and its release: common practice, no source; ammonia from protein: Timmons and Ebeling 2010 (recalled)",
        )
