"""The filters: all of them at a glance, one of them whole, its label."""

from dataclasses import replace
from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from enclosures.states import load_state
from filtration import selectors
from filtration.charts import filter_figure
from filtration.drawing import cross_section
from filtration.forecasting.selectors import latest_forecast
from filtration.forecasting.told import FORECAST_COUNTS_DAYS
from filtration.lying import ran_before_records
from filtration.models import FilterUnit
from filtration.nitrification import within_range
from filtration.plans.selectors import surface_of
from filtration.plans.words import could_run_over, limits_load
from filtration.rules import rinse_limit_g_l
from filtration.running import own_load, running
from filtration.services import NEXT_STATES
from filtration.solids import DEFAULT_MODEL, depth_from_litres
from filtration.upkeep import drain_ahead, rinse_ahead
from filtration.views.plan_shown import short_name, verdict_context
from filtration.young_life import FORBIDDEN, next_step, way_of
from refuge.pages.labels import label_context
from refuge.pages.panels import Page
from refuge.pages.subject import RecordButton, history_of, page_context, subject_page
from refuge.people.access import volunteer_required
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from refuge.rules.facts import RUNNING, FilterFacts
from refuge.units import show

ON_A_PAGE = 60


@require_GET
@volunteer_required
def filter_list(request: HttpRequest) -> HttpResponse:
    """Every filter at a glance, in walking order."""
    units = Paginator(selectors.filters(), ON_A_PAGE).get_page(request.GET.get("page"))
    moment = moment_for()
    facts = load_facts(frozenset(unit.circuit_id for unit in units), moment)
    context = {"rows": selectors.filter_rows(units, facts, moment), "filters": units, "today": moment.today}
    return render(request, "filtration/filter_list.html", context)


@require_GET
@volunteer_required
def filter_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One filter: cut in half, what lies in it, how it flows, what it carries, what was done."""
    unit = get_object_or_404(selectors.filters(), pk=pk)
    page = subject_page(request, "filter", unit, unit.circuit_id)
    facts = page.facts.filter[unit.pk]
    shared = page_context(request, page, leave_out=FORBIDDEN.get(unit.state, ()))
    context = shared | _way(page, facts, shared["record_buttons"])
    return render(
        request,
        "filtration/filter_detail.html",
        context | _filter(page, request.refuge.price_per_kwh),
    )


def _way(page: Page, facts: FilterFacts, buttons: list[RecordButton]) -> dict[str, Any]:
    """Where a new filter stands on its way, and of what may be recorded the one thing that comes next."""
    build = getattr(page.subject, "build", None)
    planned_on = page.moment.day(build.design.made_at) if build else None
    built_on = page.moment.day(build.at) if build else None
    shown: dict[str, Any] = {"way": way_of(facts, page.today, planned_on=planned_on, built_on=built_on)}
    step = next_step(facts)
    first = next((each for each in buttons if step and each.key == step.recorder), None)
    if step and first:
        shown |= {
            "next_step": replace(first, title=step.words),
            "record_buttons": [each for each in buttons if each is not first],
        }
    return shown


def _filter(page: Page, site_price: float | None = None) -> dict[str, Any]:
    """What the page of a filter shows of the filter itself: 3 queries."""
    unit: FilterUnit = page.subject
    row = selectors.filter_rows([unit], page.facts, page.moment)[0]
    facts, water = row.facts, page.facts.circuit[unit.circuit_id]
    limits = page.moment.limits(unit.circuit_id, unit.pk)
    limit_l = limits["filtration.drain_share"] * facts.void_l
    depth = depth_from_litres(facts.sediment_l, facts.cross_section_m2)
    new_flow = facts.commissioning_flow_m3_h
    outlook = _outlook(page)
    return {
        "unit": unit,
        "row": row,
        "facts": facts,
        "harm_percent": round(100 * facts.harm_left_today),
        "water": water,
        "own_tan_g_day": own_load(water, row.mature_capacity) if facts.state in RUNNING else None,
        "load_state": load_state(water.load_share, water.animals),
        "limit_l": limit_l,
        "limit_m3": limit_l / 1000,
        "sediment_m3": facts.sediment_l / 1000,
        "is_more_below": facts.last_drain_on is None
        and ran_before_records(facts, page.facts.fed.get(unit.circuit_id, []), page.today),
        "void_m3": facts.void_l / 1000,
        "sediment_depth_m": depth,
        "sediment_model": DEFAULT_MODEL,
        "digested_percent_a_day": 100 * DEFAULT_MODEL.decay_per_day(within_range(facts.temperature_c)),
        "drain_ahead": drain_ahead(facts, limit_l, outlook),
        "rinse_flow_share": limits["filtration.rinse_flow_share"],
        "rinse_limit_g_l": rinse_limit_g_l(facts, limits),
        "rinse_ahead": rinse_ahead(facts, rinse_limit_g_l(facts, limits), outlook),
        "may_see_steps": hasattr(unit, "build") and page.user.may_act_as("staff"),
        "next_states": [FilterUnit.State(each).label for each in NEXT_STATES[unit.state]],
        "layers": list(reversed(unit.layers.all())),
        **_how_it_runs(page, row, depth, site_price),
        "figure": filter_figure(
            **selectors.work_series(unit),
            limit_l=limit_l,
            least_flow_m3_h=new_flow * limits["filtration.rinse_flow_share"] if new_flow else None,
            system=page.system,
        ),
    }


def _outlook(page: Page) -> dict[str, Any]:
    """What the water's forecast of these days says; empty without one: 1 query."""
    forecast = latest_forecast(page.subject.circuit_id, page.moment.today)
    is_fresh = forecast and (page.moment.today - forecast.day).days <= FORECAST_COUNTS_DAYS
    return forecast.outlook if forecast and is_fresh else {}


def _how_it_runs(
    page: Page, row: selectors.FilterRow, sediment_depth_m: float, site_price: float | None
) -> dict[str, Any]:
    """Its flow and its levels, and the drawing with them; without them only what is built: 1 query."""
    unit = page.subject
    tanks = [each for each in page.facts.enclosure.values() if each.circuit_id == unit.circuit_id]
    others = [each for each in page.facts.filter.values() if each.circuit_id == unit.circuit_id]
    found = running(
        unit,
        row.facts,
        page.facts.circuit[unit.circuit_id],
        surface_m2=surface_of(unit.circuit_id),
        is_outdoor=any(each.is_outdoor for each in tanks),
        mature_g_day=row.mature_capacity,
        others=[each for each in others if each.id != unit.pk],
        site_price_per_kwh=site_price,
    )
    if found.verdict is not None:
        shown = verdict_context(found.verdict, page.system, sediment_depth_m)
        if found.now is not None:
            numbers = found.now.numbers
            shown |= {"limits_flow": found.limits_flow}
            shown |= {
                "limits_load": f"{found.now_words}. {limits_load(numbers)}",
                "runs_over": f"{found.now_words}. {could_run_over(numbers)}",
            }
        if row.facts.flow:
            shown |= {"flow_words": show(row.facts.flow.value, "flow", page.system), "free_m": None}
        return {"running": found, **shown}
    layers = [(short_name(each.medium), each.depth_m) for each in unit.layers.all()]
    drawing = cross_section(
        length_m=unit.length_m,
        height_m=unit.height_m,
        void_height_m=unit.void_height_m,
        layers=layers,
        sediment_depth_m=sediment_depth_m,
    )
    return {"running": found, "drawing": drawing}


@require_GET
@volunteer_required
def filter_history(request: HttpRequest, pk: int) -> HttpResponse:
    """More of a filter's history, as a part of its page."""
    get_object_or_404(FilterUnit, pk=pk)
    return render(request, "pages/_history.html", {"history": history_of(request, "filter", pk)})


@require_GET
@volunteer_required
def filter_label(request: HttpRequest, pk: int) -> HttpResponse:
    """A label to print for the filter."""
    unit = get_object_or_404(selectors.filters(), pk=pk)
    text = f"{unit.area} · water {unit.circuit.code}"
    return render(request, "pages/label.html", label_context(unit, unit.code, unit.name, text))
