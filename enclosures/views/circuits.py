"""The waters: all of them at a glance, one of them whole, and its record on paper."""

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from enclosures import selectors
from enclosures.charts import readings_figure
from enclosures.help import help_for
from enclosures.models import Circuit
from enclosures.outlook import outlook
from enclosures.readings import reading_rows, unionized_sum
from enclosures.states import NAMES, bounds_of, judge, load_state, summary
from refuge.pages.panels import Page
from refuge.pages.subject import history_of, page_context, subject_page, whole_history
from refuge.people.access import volunteer_required
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for

ON_A_PAGE = 40


@require_GET
@volunteer_required
def circuit_list(request: HttpRequest) -> HttpResponse:
    """Every water at a glance, in walking order."""
    circuits = Paginator(selectors.circuits_in_walking_order(), ON_A_PAGE).get_page(request.GET.get("page"))
    moment = moment_for()
    facts = load_facts(frozenset(circuit.pk for circuit in circuits), moment)
    rows = selectors.circuit_rows(circuits, facts, moment)
    context = {"rows": rows, "circuits": circuits, "today": moment.today}
    return render(request, "enclosures/circuit_list.html", context)


@require_GET
@volunteer_required
def circuit_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One water: how it stands, what is due, who puts what into it, what cleans it, what happened."""
    page = _page(request, pk)
    context = page_context(request, page) | _water(page)
    return render(request, "enclosures/circuit_detail.html", context)


def _page(request: HttpRequest, pk: int) -> Page:
    circuit = get_object_or_404(Circuit.objects.select_related("water_source"), pk=pk)
    return subject_page(request, "circuit", circuit, circuit.pk)


def _water(page: Page) -> dict[str, Any]:
    """What the page of a water shows of the water itself: 3 queries."""
    circuit, facts = page.subject, page.facts.circuit[page.subject.pk]
    limits = page.moment.limits(circuit.pk)
    points = selectors.test_points(circuit.pk)
    changes = selectors.changes_of(circuit.pk, points[0].at) if points else []
    return {
        "circuit": circuit,
        "facts": facts,
        "enclosures": selectors.enclosures_of(circuit),
        "readings": reading_rows(facts, points, page.moment, page.system),
        "unionized": unionized_sum(facts),
        "water_state": summary(judge(facts, limits, page.today)),
        "load_state": load_state(facts.load_share, facts.animals),
        "outlook": outlook(facts, limits, page.today),
        "has_help": help_for(facts, limits, page.today) is not None,
        "waiting": [a for a in page.facts.animal.values() if a.quarantine is not None],
        "figure": readings_figure(
            points, {name: bounds_of(name, limits)[2:] for name in NAMES}, changes, page.system
        ),
    }


@require_GET
@volunteer_required
def circuit_history(request: HttpRequest, pk: int) -> HttpResponse:
    """More of a water's history, as a part of its page."""
    circuit = get_object_or_404(Circuit, pk=pk)
    context = {"history": history_of(request, "circuit", pk), "subject": circuit}
    return render(request, "pages/_history.html", context)


@require_GET
@volunteer_required
def circuit_record(request: HttpRequest, pk: int) -> HttpResponse:
    """A water's whole record, to read or print."""
    page = _page(request, pk)
    context = _water(page) | {"page": page, "today": page.today}
    context["entries"] = whole_history(request, "circuit", pk)
    return render(request, "enclosures/circuit_record.html", context)
