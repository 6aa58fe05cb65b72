"""The forecast of one water, what to do when it is unwell, and how good past forecasts were."""

from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET
from django.views.decorators.vary import vary_on_headers

from enclosures.changes import ammonia_brought
from enclosures.help import Help, help_for, unread
from enclosures.models import Circuit
from enclosures.steps import SIGNS, steps
from filtration.forecast.outlook import CLEAR_MG_L
from filtration.forecast.start_up import CAPACITY_OVER_LOAD
from filtration.forecasting import selectors
from filtration.forecasting.figure import forecast_figure
from filtration.forecasting.happenings import AHEAD_DAYS
from filtration.forecasting.largest import NO_MEAL
from filtration.forecasting.lines import HARMFUL
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.packing import Bands, unpacked
from filtration.forecasting.panel import forecast_context
from filtration.forecasting.scores import scores
from filtration.forecasting.shown import CHOICES, DayRow, both_rows, drawn, first_choice, is_drawn
from refuge.pages.panels import Page
from refuge.pages.subject import subject_page
from refuge.people.access import manager_required, volunteer_required
from refuge.rounds.cautions import cautions_of
from refuge.rounds.planner import moment_for
from refuge.rules.triggers import days_text, food_text

CAUTIONS = ("dechlorinate", "unplug", "hands", "slips")
MOVED = ("bites", "lifting")  # where the steps move animals out
HIGH = -1  # the last of a band's five levels: nine in ten lie between it and the first
FREED = 1.2  # from so much more than without the steps it is said


@require_GET
@volunteer_required
@vary_on_headers("HX-Request", "HX-History-Restore-Request")
def water_forecast(request: HttpRequest, pk: int) -> HttpResponse:
    """The forecast whole, with its chart and how it is computed; or only the part of the water's page."""
    page = _page(request, pk)
    context = {"panel": forecast_context(page, request.GET.get("show", "")), "today": page.today}
    if request.htmx and not request.htmx.history_restore_request:
        return render(request, "filtration/_forecast_section.html", context)
    context |= {
        "circuit": page.subject,
        "figure": _figure(page, context["panel"]),
        "began": _began(context["panel"]),
        "clear_mg_l": CLEAR_MG_L,
        "room": CAPACITY_OVER_LOAD,
        "standing": [
            unit for unit in page.facts.filter.values() if unit.circuit_id == pk and unit.stands is not None
        ],
    }
    return render(request, "filtration/forecast.html", context)


def _began(panel: dict[str, Any]) -> datetime | None:
    """When the records begin that the forecast was made from."""
    shown = panel["shown"]
    return datetime.fromisoformat(shown.basis["began"]) if shown and shown.basis else None


def _page(request: HttpRequest, pk: int) -> Page:
    circuit = get_object_or_404(Circuit.objects.select_related("water_source"), pk=pk)
    return subject_page(request, "circuit", circuit, circuit.pk)


def _figure(page: Page, panel: dict[str, Any]) -> dict[str, Any]:
    row = panel["row"]
    if panel["shown"] is None:
        return {}
    happened = selectors.recent(page.subject.pk, page.moment.now)
    return forecast_figure(row, unpacked(bytes(row.bands)), happened, page.system)


@require_GET
@volunteer_required
def water_help(request: HttpRequest, pk: int) -> HttpResponse:
    """A reading is beyond its limit: what to do now, in order, and what that would change."""
    page = _page(request, pk)
    found = help_for(page.facts.circuit[pk], page.moment.limits(pk), page.today)
    row = selectors.latest_forecast(pk, page.today)
    context = {
        "circuit": page.subject,
        "today": page.today,
        "help": found,
        "unread": unread(page.facts.circuit[pk], page.today),
        "steps": [step_shown(*each) for each in steps(found)] if found else [],
        "fast": _fast(row) if found and found.stop_feeding else "",
        "signs": SIGNS,
        "cautions": cautions_of(CAUTIONS, MOVED if found and (found.is_grave or found.is_sour) else ()),
        "compared": _compared(page, found, row),
        "has_steps": row is not None and _has_steps(row),
        "is_wanted": selectors.is_wanted(pk, row),
    }
    part = request.htmx and not request.htmx.history_restore_request
    return render(request, "filtration/_help_compared.html" if part else "filtration/help.html", context)


def step_shown(icon: str, words: str) -> tuple[str, str, str]:
    """The first sentence of a step stands out: it says what to do; the rest says how."""
    first, dot, rest = words.partition(". ")
    return icon, first + dot.strip(), rest


def _fast(row: WaterForecast | None) -> str:
    """How long the animals will probably go without food, in words; empty while no forecast says."""
    if row is None or not row.outlook.get("fasting_days"):
        return ""
    days = row.outlook["fasting_days"]
    if days >= AHEAD_DAYS:
        return (
            "With these steps and no food the water is not likely to be good within two weeks: ask for help."
        )
    words = f"With these steps and no food the water is likely to be good in about {days_text(days)}."
    share, ration = row.outlook.get("fed_share", 1.0), row.outlook.get("ration")
    if share >= 1 or not ration:
        return words
    if share < NO_MEAL:
        return f"{words} Even after that no meal is sure to keep {HARMFUL} within their limits."
    return f"{words} After that it bears about {food_text(share * ration['meal_kg'])} a meal, {share:.0%} of the plan."


def _compared(page: Page, found: Any, row: WaterForecast | None) -> list[dict[str, Any]]:
    """A picture for each bad reading that can be drawn: with the steps and without them, if they change anything."""
    if found is None or row is None or not row.helped_bands:
        return []
    bands, helped = unpacked(bytes(row.bands)), unpacked(bytes(row.helped_bands))
    steps = helped if _has_steps(row) else None
    happened = selectors.recent(page.subject.pk, page.moment.now)
    names = _drawn_names(found) or [first_choice(row)]
    limit = page.moment.limits(page.subject.pk)["water.unionized_mg_l"]
    freed = freed_words(bands, helped, limit) if found.changes else ""
    brought = ammonia_brought(page.facts.circuit[page.subject.pk]) if found.changes else 0.0
    return [
        {
            "label": label,
            "picture": drawn(row, bands, each, happened, page.moment.zone, steps),
            "rows": (rows := both_rows(row, bands, helped, each, page.moment.zone)),
            "digits": CHOICES[each][2],
            "unit": CHOICES[each][1],
            "note": (freed or brought_words(rows[-1], brought)) if each == "unionized" else "",
        }
        for each in names
        if (label := is_drawn(each))
    ]


def _has_steps(row: WaterForecast) -> bool:
    """Whether the steps change anything that is forecast: there may be nothing to change and no meal to leave out."""
    return bytes(row.bands) != bytes(row.helped_bands)


def _drawn_names(found: Help) -> list[str]:
    """What is bad; un-ionized ammonia where the steps must not set it free, or chlorine has harmed the filter."""
    names = [each.name for each in found.troubles if is_drawn(each.name)]
    led = ["unionized"] if found.is_sour or "chlorine" in found.names else []
    return list(dict.fromkeys(led + ["unionized" if name == "tan" else name for name in names]))


def freed_words(without: Bands, helped: Bands, limit: float) -> str:
    """That the steps themselves may set ammonia free; empty where they do not, or it would be no other without."""
    most, most_without = (float(each.of("unionized")[:, HIGH].max()) for each in (helped, without))
    if most <= limit or most <= most_without * FREED:
        return ""
    return (
        f"Even so the new water may set ammonia free: up to {most:.2g} mg/L un-ionized by the forecast, where {limit:g} "
        "is the limit. Have the animals out or the ammonia bound first."
    )


def brought_words(last: tuple[DayRow, DayRow], brought: float) -> str:
    """Why there may be more ammonia in the end with the steps than without; empty where there is not."""
    plain, helped = last
    if not brought or helped.middle <= plain.middle:
        return ""
    return (
        f"In the end there is a little more ammonia with the steps than without: the new water's chloramine leaves "
        f"{brought:.2f} mg/L of ammonia nitrogen behind, which the filter has to take up first."
    )


@require_GET
@manager_required
def forecast_scores(request: HttpRequest) -> HttpResponse:
    """How often measurements fell within the bands of the forecasts made before them."""
    context = {"board": scores(moment_for().now)}
    return render(request, "filtration/forecast_scores.html", context)
