"""Checks of what the load does to the tank's water, however good its filter: alkalinity used up, a meal too heavy."""

from collections.abc import Iterator

from enclosures.chemistry import ALKALINITY_PER_NITROGEN, sodium_bicarbonate_g
from filtration.designing.assessment import NEWCOMER_MEAL_DAYS, Assessment
from filtration.designing.findings import WARN, Finding, check
from filtration.designing.words import percent
from husbandry.bioload import busiest_day_share

# A water changed by this share a week, week after week; and how far below the new water's its alkalinity may come to
# lie: tap water often has some 150 mg/L, and below 80 bacteria slow down. Common practice, no source.
WEEKLY_SHARE, MOST_BELOW_MG_L = 0.25, 70.0
MOST_WEEKLY_SHARE = 0.75  # who changes more than that a week keeps another water (common practice, no source)
LEAST_RISE_MG_L = 0.25  # of a day: a smaller one few kits tell (common practice, no source)


def whole_tan_g_day(of: Assessment) -> float | None:
    """The load on all filters of the water [g TAN/day]; None if it is not known."""
    return None if of.tan_g_day is None else of.tan_g_day * of.side_by_side + of.others.tan_g_day


def weekly_alkalinity_mg_l(of: Assessment) -> float | None:
    """Alkalinity [mg CaCO3/L] that clearing the whole load uses up in a week; None if the load is not known."""
    load = whole_tan_g_day(of)
    return None if load is None else 7 * ALKALINITY_PER_NITROGEN * load / of.design.tank.volume_m3


@check
def uses_up_alkalinity(of: Assessment) -> Iterator[Finding]:
    """Week after week a change gives back its share of what the water lies below the new one: use over share."""
    used = weekly_alkalinity_mg_l(of)
    if used is None or used / WEEKLY_SHARE <= MOST_BELOW_MG_L:
        return
    share = used / MOST_BELOW_MG_L
    grams = sodium_bicarbonate_g(of.design.tank.volume_m3 * 1000, used - MOST_BELOW_MG_L * WEEKLY_SHARE)
    yield Finding(
        "alkalinity_used",
        WARN,
        f"Bacteria that clear this load use up {used:.0f}\u00a0mg/L of alkalinity a week; without it pH falls and they stop. "
        f"Changing {percent(WEEKLY_SHARE)} of the water a week leaves it {used / WEEKLY_SHARE:.0f}\u00a0mg/L below the new "
        "water’s, or without any.",
        (f"{percent(share)} of the water changed a week; or about" if share <= MOST_WEEKLY_SHARE else "About")
        + f" {grams:.{0 if grams >= 10 else 1}f}\u00a0g of sodium bicarbonate beside that change, dissolved first, in "
        "small parts by what tests show; more water; less food.",
    )


def newcomers_meal_g(of: Assessment) -> float:
    """Ammonia nitrogen [g] of one meal of the newcomers."""
    return of.newcomer_tan_g_day * NEWCOMER_MEAL_DAYS


def busiest_day_g(of: Assessment) -> float | None:
    """Ammonia nitrogen [g] that comes to this filter on the busiest day after the newcomer's weekly meal, beside what the
    others put in and less what other filters have spare; None without a newcomer, or a load."""
    if of.tan_g_day is None or not of.newcomer_tan_g_day:
        return None
    most = newcomers_meal_g(of) * busiest_day_share(of.design.temperature_c, NEWCOMER_MEAL_DAYS)
    more = max(most - of.newcomer_tan_g_day - of.others.spare_tan_g_day, 0.0)
    return of.tan_g_day + more / of.side_by_side


@check
def heavy_meal(of: Assessment) -> Iterator[Finding]:
    busiest = busiest_day_g(of)
    if busiest is None or not of.carries_tan_g_day:
        return
    rise = (busiest - of.carries_tan_g_day) * of.side_by_side / of.design.tank.volume_m3
    if rise < LEAST_RISE_MG_L:
        return
    yield Finding(
        "heavy_meal",
        WARN,
        f"A newcomer's meal every {NEWCOMER_MEAL_DAYS} days is {newcomers_meal_g(of):.1f}\u00a0g of ammonia nitrogen. On its busiest day "
        f"{busiest:.1f}\u00a0g come to this filter, which carries {of.carries_tan_g_day:.1f}\u00a0g: ammonia rises by "
        f"{rise:.1f}\u00a0mg/L that day.",
        "The same food in smaller meals, more often; more water; or more stone.",
    )
