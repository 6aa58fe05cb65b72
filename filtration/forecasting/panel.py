"""The forecast as a part of a water's page."""

from typing import Any

from enclosures.help import help_for
from filtration.forecasting import selectors
from refuge.pages.panels import Page, Panel, panel


@panel("circuit", order=15)
def forecast_of_water(page: Page) -> Panel:
    return Panel("filtration/_forecast_section.html", forecast_context(page))


def forecast_context(page: Page, name: str = "") -> dict[str, Any]:
    """What the part of the page shows: 7 queries, or 2 while there is no forecast."""
    from filtration.forecasting.shown import shown  # the sums behind it are heavy: only whoever reads pays

    pk = page.subject.pk
    forecast = selectors.latest_forecast(pk, page.today)
    help_ = help_for(page.facts.circuit[pk], page.moment.limits(pk), page.today)
    context: dict[str, Any] = {
        "circuit": page.subject,
        "is_wanted": selectors.is_wanted(pk, forecast),
        "row": forecast,
        "shown": None,
        "has_help": help_ is not None,
    }
    if forecast is not None and forecast.is_made:
        happened = selectors.recent(pk, page.moment.now)
        context["shown"] = shown(forecast, happened, name, page.today, page.moment.zone, help_)
        context["is_old"] = forecast.day < page.today
    return context
