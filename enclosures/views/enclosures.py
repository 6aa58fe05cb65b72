"""The enclosures: all of them by area, one of them whole, and the label on its wall."""

from itertools import groupby

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from enclosures import selectors
from enclosures.models import Enclosure
from enclosures.states import judge, summary
from refuge.pages.labels import label_context
from refuge.pages.subject import history_of, page_context, subject_page
from refuge.people.access import volunteer_required
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for

ON_A_PAGE = 80


@require_GET
@volunteer_required
def enclosure_list(request: HttpRequest) -> HttpResponse:
    """Every enclosure, area by area, as the round goes."""
    found = Paginator(selectors.enclosures_in_walking_order(), ON_A_PAGE).get_page(request.GET.get("page"))
    moment = moment_for()
    facts = load_facts(frozenset(each.circuit_id for each in found), moment)
    rows = selectors.enclosure_rows(found, facts, moment)
    areas = [(area, list(group)) for area, group in groupby(rows, key=lambda row: row.enclosure.area)]
    context = {"areas": areas, "enclosures": found, "today": moment.today}
    return render(request, "enclosures/enclosure_list.html", context)


@require_GET
@volunteer_required
def enclosure_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One enclosure: its water, who lives in it, what is due, what happened."""
    enclosure = get_object_or_404(selectors.enclosure_with_all(pk))
    page = subject_page(request, "enclosure", enclosure, enclosure.circuit_id)
    water = page.facts.circuit[enclosure.circuit_id]
    context = page_context(request, page) | {
        "enclosure": enclosure,
        "water": water,
        "facts": page.facts.enclosure.get(pk),
        "water_state": summary(judge(water, page.moment.limits(water.id), page.today)),
    }
    return render(request, "enclosures/enclosure_detail.html", context)


@require_GET
@volunteer_required
def enclosure_history(request: HttpRequest, pk: int) -> HttpResponse:
    """More of an enclosure's history, as a part of its page."""
    get_object_or_404(Enclosure, pk=pk)
    return render(request, "pages/_history.html", {"history": history_of(request, "enclosure", pk)})


@require_GET
@volunteer_required
def enclosure_label(request: HttpRequest, pk: int) -> HttpResponse:
    """A label to print: whoever scans it with a phone comes to this enclosure's page."""
    enclosure = get_object_or_404(selectors.enclosure_with_all(pk))
    text = f"{enclosure.area} · water {enclosure.circuit.code}"
    return render(request, "pages/label.html", label_context(enclosure, enclosure.code, enclosure.name, text))
