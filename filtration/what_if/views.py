"""The page on which something is tried out on a water before anything is saved. Reads only."""

from functools import partial
from typing import Any, cast

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.http import require_GET
from django.views.decorators.vary import vary_on_headers

from enclosures.models import Circuit
from filtration.views.forecasts import step_shown
from filtration.what_if.ahead import Water, look, water_now, water_while_typing
from filtration.what_if.forms import WhatIfForm
from filtration.what_if.ready import ready_made
from filtration.what_if.shown import GROUPS, shown
from refuge.people.access import staff_required
from refuge.people.models import User
from refuge.rounds.planner import moment_for


@require_GET
@staff_required
@vary_on_headers("HX-Request", "HX-History-Restore-Request")
def what_if(request: HttpRequest, pk: int) -> HttpResponse:
    """A water before and after the changes in the address; only what follows from them while they are typed.

    What takes longest of it, a young filter's weeks, then follows by itself: ?weeks=1 asks for it.
    """
    circuits = {each.pk: each for each in Circuit.objects.only("code", "name")}
    if pk not in circuits:
        raise Http404("There is no such water.")
    names = {each.pk: str(each) for each in circuits.values()}
    is_part = bool(request.htmx) and not request.htmx.history_restore_request
    read = water_while_typing if is_part else water_now
    moment = partial(moment_for, refuge=request.refuge)  # type: ignore[attr-defined]
    water = read(pk, moment, _joined(request.GET, names, pk))
    form = WhatIfForm(request.GET, water=water, names=names, system=cast(User, request.user).unit_system)
    form.is_valid()
    context = _context(circuits[pk], water, form, with_weeks=not is_part or "weeks" in request.GET)
    if is_part:
        return render(request, "filtration/_what_if_outcome.html", context | {"is_part": True})
    return render(request, "filtration/what_if.html", context, status=422 if form.errors else 200)


def _context(circuit: Circuit, water: Water, form: WhatIfForm, *, with_weeks: bool) -> dict[str, Any]:
    """A water that cannot be forecast offers no changes: what is missing comes first."""
    outlook = look(water, form.changes() if water.gathered else [], with_weeks=with_weeks)
    groups = [(title, help_, _bound(form, names)) for title, help_, names in GROUPS if water.gathered]
    told = shown(outlook, water)
    return told | {
        "circuit": circuit,
        "form": form,
        "groups": [group for group in groups if group[2]],
        "water": water,
        "today": water.moment.today,
        "mistakes": [form[name] for name in form.errors],
        "ready": ready_made(water) if water.gathered else [],
        "steps": [step_shown(*each) for each in told["steps"]],
    }


def _bound(form: WhatIfForm, names: tuple[str, ...]) -> list[Any]:
    return [form[name] for name in names if name in form.fields]


def _joined(typed: QueryDict, names: dict[int, str], own: int) -> tuple[int, ...]:
    """The water that is to be joined, if it is one."""
    wanted = typed.get("join", "")
    return (int(wanted),) if wanted.isdecimal() and int(wanted) in names and int(wanted) != own else ()
