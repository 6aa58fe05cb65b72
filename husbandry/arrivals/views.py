"""The page on which a manager takes an animal in: what it is, where it could go, and what that would change."""

from datetime import date
from typing import Any, cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods
from django_htmx.http import HttpResponseClientRedirect

from husbandry.arrivals.effects import quarantine_steps
from husbandry.arrivals.forms import OUTLOOK_FIELDS, ArrivalForm
from husbandry.arrivals.newcomer import ACT_FROM, PENALTIES, WATCH_FROM, agreement, proposed_ration_kg
from husbandry.arrivals.places import choice_for, next_code
from husbandry.models import Animal
from husbandry.moves import RestartNotAgreed, restarts_for
from husbandry.services import HusbandryError
from husbandry.stays import arrival_take_in
from refuge.people.access import manager_required
from refuge.people.models import User
from refuge.rounds.loaders import Moment
from refuge.rounds.planner import moment_for
from refuge.rules.triggers import day_text

BEGIN = "begin_kg"  # a tap on what is safe to begin with: kg, whatever the units of the reader
NOT_AGREED = "Nothing was saved: this starts a quarantine anew.\nAgree to it, or choose another place."


@require_http_methods(["GET", "POST"])
@manager_required
def arrival_new(request: HttpRequest) -> HttpResponse:
    """One page: what is known of the animal above, the ranked places below. Saved once for each entry."""
    moment = moment_for()
    form = _form(request, moment, request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            animal = _take_in(form, cast(User, request.user), moment.today)
            return _taken_in(request, animal)
        except RestartNotAgreed as refusal:
            form.add_error(*_not_agreed(form, refusal))
        except HusbandryError as refusal:
            form.add_error("code", str(refusal))
    return _page(request, form, moment)


def _not_agreed(form: ArrivalForm, refusal: RestartNotAgreed) -> tuple[str, str]:
    """The field and the words. What the page shows to agree to is of an animal that comes today."""
    if _came_before(form) is None:
        return "restart_agreed", NOT_AGREED
    names = ", ".join(str(each.quarantine.animal) for each in refusal.restarts)
    return "here_since", (
        f"{names} would begin quarantine anew from then.\nLeave this empty to take it in as of today, or choose "
        "another place."
    )


def _came_before(form: ArrivalForm) -> date | None:
    """The day on which it came, of one that lives here already."""
    since: date | None = form.cleaned_data.get("here_since")
    return since if since and since < timezone.localdate() else None


@require_GET
@manager_required
def arrival_outlook(request: HttpRequest) -> HttpResponse:
    """The part of the page that follows from what is typed so far. Writes nothing."""
    moment = moment_for()
    form = _form(request, moment, request.GET)
    context = {"is_part": True, "begun": bool(request.GET.get(BEGIN))}
    if context["begun"]:
        data = request.GET.copy()
        data["ration_kg"] = form.shown_ration(request.GET[BEGIN])
        form = _form(request, moment, data)
    return render(request, "husbandry/_arrival_outlook.html", _outlook(form, moment) | context)


def _form(request: HttpRequest, moment: Moment, data: Any) -> ArrivalForm:
    initial = {
        "code": next_code(),
        "quarantine_days": int(moment.limits()["husbandry.quarantine_days"]),
        "enclosure": request.GET.get("enclosure"),
    }
    system = cast(User, request.user).unit_system
    return ArrivalForm(data, request.FILES or None, initial=initial, system=system)


def _page(request: HttpRequest, form: ArrivalForm, moment: Moment) -> HttpResponse:
    known = form if form.is_bound else _as_if_typed(form)
    context = {"form": form, "outlook_fields": ",".join(OUTLOOK_FIELDS)} | _outlook(known, moment)
    name = "_arrival_form" if request.htmx else "arrival_new"
    return render(request, f"husbandry/{name}.html", context, status=422 if form.errors else 200)


def _as_if_typed(form: ArrivalForm) -> ArrivalForm:
    """The untouched form, read as if its proposals had been typed."""
    proposed = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
    return ArrivalForm(proposed, initial=form.initial, system=form.system)


def _outlook(form: ArrivalForm, moment: Moment) -> dict[str, Any]:
    form.is_valid()
    newcomer, data = form.newcomer(), form.cleaned_data
    chosen = data.get("enclosure")
    mass, every = data.get("mass_kg"), data.get("every_days") or 7
    return {
        "outlook_form": form,
        "newcomer": newcomer,
        "today": moment.today,
        "choice": choice_for(newcomer, chosen.pk if chosen else None, moment, form.system),
        "steps": quarantine_steps(newcomer, _came_before(form) or moment.today)
        if "quarantine_days" not in form.errors
        else [],
        "agreed": data.get("restart_agreed"),
        "proposal_kg": proposed_ration_kg(mass, every) if mass else None,
        "every_days": every,
        "not_understood": form.not_understood(),
        "penalties": PENALTIES.values(),
        "watch_from": WATCH_FROM,
        "act_from": ACT_FROM,
        "begin_fields": ",".join((*OUTLOOK_FIELDS, BEGIN)),
    }


def _take_in(form: ArrivalForm, by: User, today: date) -> Animal:
    data = form.cleaned_data
    enclosure = data["enclosure"]
    since = _came_before(form)
    restarts = [] if since else restarts_for(enclosure.circuit_id, today)
    shown = agreement(enclosure.pk, ((each.quarantine.pk, each.ends_on) for each in restarts))
    return arrival_take_in(
        uuid=data["uuid"],
        arrival=form.arrival(),
        enclosure=enclosure,
        by=by,
        at=timezone.now(),
        today=today,
        since=since,
        quarantine_days=data["quarantine_days"],
        rations=form.rations(),
        restart_agreed=bool(shown) and data["restart_agreed"] == shown,
        vet_override=data["vet_override"],
    )


def _taken_in(request: HttpRequest, animal: Animal) -> HttpResponse:
    messages.success(request, f"{animal} is taken in. {_what_next(animal)}")
    if request.htmx:
        return HttpResponseClientRedirect(animal.get_absolute_url())
    return redirect(animal)


def _what_next(animal: Animal) -> str:
    quarantine = animal.quarantines.filter(released_on__isnull=True).first()
    if quarantine is None:
        return "What is due for it is on its page."
    next_two = quarantine.checks.order_by("due_on")[:2]
    steps = [f"{check.get_kind_display().lower()} by {day_text(check.due_on)}" for check in next_two]
    steps.append(f"quarantine to {day_text(quarantine.ends_on)}")
    return f"What happens next: a look every day; {'; '.join(steps)}."
