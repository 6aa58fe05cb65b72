"""The numbers the rules go by: every limit in words, its history, and a new value with what it changes."""

from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from refuge.people.access import manager_required, require_role, staff_required
from refuge.people.models import Role, User
from refuge.rounds import limit_pages
from refuge.rounds.limit_forms import LimitForm
from refuge.rounds.loaders import Moment, load_facts
from refuge.rounds.planner import moment_for
from refuge.rounds.services import limit_set
from refuge.rules.facts import Facts
from refuge.rules.limits import LimitSpec, limits
from refuge.rules.triggers import day_text


@require_GET
@staff_required
def limit_list(request: HttpRequest) -> HttpResponse:
    """Every limit with the value in force. Staff may read it."""
    return render(request, "rounds/limit_list.html", {"groups": limit_pages.limit_groups(moment_for())})


@require_http_methods(["GET", "POST"])
@staff_required
def limit_detail(request: HttpRequest, key: str) -> HttpResponse:
    """One limit: what it is, where it differs, who set it; a manager sets it here."""
    spec, moment = _spec(key), moment_for()
    facts = load_facts(None, moment)
    form = _form(request.POST if request.method == "POST" else None, spec, moment, facts)
    if request.method == "POST":
        require_role(cast(User, request.user), Role.MANAGER)
        if form.is_valid():
            return _save(request, spec, form)
    context = _context(spec, moment, facts, form) | _preview(spec, moment, facts, form)
    return render(request, "rounds/limit_detail.html", context, status=422 if form.errors else 200)


@require_GET
@manager_required
def limit_preview(request: HttpRequest, key: str) -> HttpResponse:
    """What the value typed so far would change. Writes nothing."""
    spec, moment = _spec(key), moment_for()
    facts = load_facts(None, moment)
    form = _form(request.GET, spec, moment, facts)
    return render(request, "rounds/_limit_preview.html", {"form": form} | _preview(spec, moment, facts, form))


def _spec(key: str) -> LimitSpec:
    if key not in limits:
        raise Http404("There is no such limit.")
    return limits[key]


def _form(data: Any, spec: LimitSpec, moment: Moment, facts: Facts) -> LimitForm:
    places = limit_pages.choices_for(spec, limit_pages.place_labels(facts))
    initial = {"place": "site:0", "from_on": moment.today}
    return LimitForm(data, initial=initial, spec=spec, places=places, today=moment.today)


def _context(spec: LimitSpec, moment: Moment, facts: Facts, form: LimitForm) -> dict[str, Any]:
    labels = limit_pages.place_labels(facts)
    tasks, count = limit_pages.tasks_by_limit(spec.key)
    return {
        "spec": spec,
        "form": form,
        "setting": (setting := limits.resolve(spec.key, moment.overrides)),
        "in_force": spec.said(setting.value),
        "default": spec.said(spec.default),
        "own_values": limit_pages.own_values(spec.key, moment, labels),
        "history": limit_pages.history(spec.key, labels),
        "tasks": tasks,
        "tasks_count": count,
        "today": moment.today,
    }


def _preview(spec: LimitSpec, moment: Moment, facts: Facts, form: LimitForm) -> dict[str, Any]:
    """The moves a sensible value would make; None before there is one."""
    form.errors  # noqa: B018  (runs the checks; a form that was never sent has none)
    if not form.can_preview:
        return {"moves": None}
    place, value = form.cleaned_data["place"], form.cleaned_data["value"]
    scopes = limit_pages.scopes_of(place, facts)
    return {"moves": limit_pages.moves(moment, spec.key, place, value, scopes), "today": moment.today}


def _save(request: HttpRequest, spec: LimitSpec, form: LimitForm) -> HttpResponse:
    data = form.cleaned_data
    kind, scope_id = data["place"]
    limit_set(
        key=spec.key,
        scope_kind=kind,
        scope_id=scope_id,
        value=data["value"],
        reason=data["reason"],
        from_on=data["from_on"],
        by=cast(User, request.user),
    )
    said = spec.said(data["value"]) if data["value"] is not None else "back to the wider value"
    messages.success(
        request, f"{spec.title}: {said}, from {day_text(data['from_on'])}. The plan is made anew."
    )
    return redirect("limit_detail", key=spec.key)
