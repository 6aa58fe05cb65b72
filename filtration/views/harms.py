"""After something happened to a filter: what is left, what to do now, and for staff the step to 'disturbed'."""

from typing import Any, cast
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from filtration.harms.advice import steps
from filtration.harms.models import FilterHarm
from filtration.harms.selectors import aftermath
from filtration.harms.services import harm_take_back
from filtration.harms.standing import as_it_stands, flowed_at
from filtration.harms.words import harm_words
from filtration.models import FilterUnit
from filtration.selectors import STATES
from filtration.services import NEXT_STATES, filter_set_state
from filtration.views.forecasts import step_shown
from refuge.errors import ClearmereError
from refuge.people.access import staff_required, volunteer_required
from refuge.people.models import User
from refuge.rounds.cautions import cautions_of
from refuge.rounds.forms import WhyForm
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from refuge.rounds.services import NOT_YOURS, may_amend
from refuge.units import spoken

DISTURBED = FilterUnit.State.DISTURBED
CAUTIONS = ("unplug", "foul_gas", "slips", "hands")


@require_GET
@volunteer_required
def filter_harm(request: HttpRequest, pk: int) -> HttpResponse:
    """What is left of a filter after one thing that happened to it, and what to do now."""
    harm = _standing(pk)
    unit: FilterUnit = harm.filter
    moment = moment_for()
    facts = load_facts(frozenset([unit.circuit_id]), moment)
    found = aftermath(harm, facts, moment)
    user = cast(User, request.user)
    own = facts.filter[unit.pk]
    limits = moment.limits(unit.circuit_id, unit.pk)
    much = found.left.middle <= limits["filtration.harm_left_share"]
    advised = steps(
        harm.kind,
        found.left,
        quiet_tests=int(limits["water.quiet_tests"]),
        hours=harm.hours,
        volume_m3=harm.volume_m3,
    )
    context: dict[str, Any] = {
        "harm": harm,
        "unit": unit,
        "words": spoken(harm_words(harm), user.unit_system),
        "row_kind": STATES[unit.state],
        "found": found,
        "left": found.left,
        "percent": {name: round(getattr(found.left, name) * 100) for name in ("low", "middle", "high")},
        "left_today": round(own.harm_left_today * 100),
        "counts": own.harm is not None,
        "steps": [step_shown(*each) for each in advised],
        "cautions": cautions_of(CAUTIONS),
        "is_much": much,
        "asks_for_word": much and own.harm is not None and DISTURBED in NEXT_STATES[unit.state],
        "may_say": user.may_act_as("staff"),
        "uuid": uuid4(),
        "may_amend": may_amend(record=harm, by=user),
        "why": WhyForm(),
    }
    return render(request, "filtration/harm.html", context)


@require_POST
@staff_required
def filter_harm_disturbed(request: HttpRequest, pk: int) -> HttpResponse:
    """Call the filter disturbed by what happened. The same form sent twice changes nothing more."""
    harm = _standing(pk)
    try:
        key = UUID(request.POST.get("uuid", ""))
    except ValueError:
        raise Http404("This form is not one of ours.") from None
    note = spoken(harm_words(harm), "metric")
    try:
        filter_set_state(
            unit=harm.filter,
            state=DISTURBED,
            by=cast(User, request.user),
            at=timezone.now(),
            uuid=key,
            note=note,
        )
        messages.success(request, f"{harm.filter} is disturbed now: its water is tested more often.")
    except ClearmereError as problem:
        messages.error(request, str(problem))
    return redirect(harm)


@require_POST
@volunteer_required
def filter_harm_strike_out(request: HttpRequest, pk: int) -> HttpResponse:
    """It did not happen, or not to this filter. Whoever may correct it may strike it out, and says why."""
    harm, why = _standing(pk), WhyForm(request.POST)
    by = cast(User, request.user)
    if not may_amend(record=harm, by=by):
        raise PermissionDenied(NOT_YOURS)
    if not why.is_valid():
        messages.error(request, "Say why it is struck out: the reason stays beside the record.")
        return redirect(harm)
    harm_take_back(record=harm, by=by, reason=why.cleaned_data["why"])
    messages.success(request, "Struck out: it counts no more.")
    return redirect(harm.filter)


def _standing(pk: int) -> FilterHarm:
    """One that was not struck out, with its filter, as it stands now."""
    now = timezone.now()
    rows = FilterHarm.objects.select_related("filter__circuit", "source", "by").annotate(
        flowed=flowed_at(now)
    )
    harm = get_object_or_404(rows.prefetch_related("filter__layers"), pk=pk)
    return as_it_stands(harm, harm.flowed, now)
