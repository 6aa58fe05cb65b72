"""What follows from plans of filters: what would do for a water, two compared, parts, steps, the building."""

from typing import Any, cast
from uuid import uuid4

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from enclosures.models import Circuit
from filtration.designing.assess import Verdict
from filtration.designing.parts import parts_list
from filtration.designing.steps import build_steps
from filtration.models import FilterUnit
from filtration.plans import selectors as designs
from filtration.plans import services as design_services
from filtration.plans.forms import BuildForm
from filtration.plans.models import FilterDesign
from filtration.plans.reading import bed_layers, verdict_of
from filtration.plans.words import compared, findings_apart
from filtration.views.plan_shown import found, verdict_context, whole_number
from refuge.errors import ClearmereError, OutOfRange
from refuge.forms import QuantityField, UnitForm
from refuge.people.access import manager_required, staff_required
from refuge.people.models import User
from refuge.units import to_shown

REFUSED = (
    "The sums cannot take the sizes of this plan. Open it in the planner: the mistake stands at its field."
)


class StandForm(UnitForm):
    """What the record of a water does not say: who will join it, and where the filter would stand."""

    newcomer = QuantityField("mass", above=0, high=5000, label="Animals to come, together", required=False)
    floor = QuantityField(
        "length", low=-10, high=10, label="Floor of the container over the tank’s water", required=False
    )
    alone = forms.BooleanField(label="For the whole load, without the filters it has", required=False)


@require_GET
@manager_required
def design_propose(request: HttpRequest) -> HttpResponse:
    """What would do for a water, the best first, each with why."""
    circuits = Circuit.objects.order_by("code")
    circuit = circuits.filter(pk=whole_number(request.GET.get("water"))).first()
    form, stand = _stand(request)
    context: dict[str, Any] = {"circuits": circuits, "circuit": circuit, "form": form, "stand": stand}
    if circuit is not None:
        asked, system = designs.asked_of(circuit), _system(request)
        context |= {
            "asked": asked,
            "load": designs.planned_load(asked, stand),
            "cards": [
                {"proposal": each, "place": designs.place_of(each), **verdict_context(each.verdict, system)}
                for each in designs.proposals(asked, stand)
            ],
        }
    return render(request, "filtration/design_propose.html", context)


def _stand(request: HttpRequest) -> tuple[StandForm, designs.Stand]:
    """The form as it was sent, else with what is usual; what cannot be read counts as what is usual."""
    usual, system, data = designs.Stand(), _system(request), request.GET.copy()
    if not data.get("floor"):
        data["floor"] = f"{to_shown(usual.floor_above_water_m, 'length', system):.1f}"
    form = StandForm(data, system=system)
    form.is_valid()
    floor = form.cleaned_data.get("floor")
    return form, designs.Stand(
        form.cleaned_data.get("newcomer"),
        usual.floor_above_water_m if floor is None else floor,
        bool(form.cleaned_data.get("alone")),
    )


@require_GET
@manager_required
def design_compare(request: HttpRequest) -> HttpResponse:
    """Two plans side by side: ?plan= twice."""
    wanted = [whole_number(each) for each in request.GET.getlist("plan")]
    plans = {plan.pk: plan for plan in designs.plans().filter(pk__in=[pk for pk in wanted if pk])}
    chosen = [
        designs.plan_row(plans[pk], request.refuge.price_per_kwh)
        for pk in dict.fromkeys(wanted)
        if pk in plans
    ]
    if len(chosen) != 2 or any(row.verdict is None for row in chosen):
        messages.warning(request, "Tick two plans that the sums can take, and compare them.")
        return redirect("design_list")
    first, second = (cast(Verdict, row.verdict) for row in chosen)
    system = _system(request)
    only = zip(chosen, findings_apart(first, second), strict=True)
    context = {
        "rows": compared(first, second, system),
        "sides": [
            {"plan": row.plan, **verdict_context(cast(Verdict, row.verdict), system)} for row in chosen
        ],
        "only": [{"plan": row.plan, **found(findings)} for row, findings in only],
    }
    return render(request, "filtration/design_compare.html", context)


def _system(request: HttpRequest) -> str:
    return cast(User, request.user).unit_system


def _judged(pk: int) -> tuple[FilterDesign, Verdict | None]:
    """A plan with its verdict; None where the sums refuse its sizes."""
    plan = get_object_or_404(designs.plans(), pk=pk)
    try:
        return plan, verdict_of(plan, bed_layers(plan))
    except OutOfRange:
        return plan, None


@require_GET
@staff_required
def design_parts(request: HttpRequest, pk: int) -> HttpResponse:
    """What to buy and gather, to tick off on paper."""
    plan, verdict = _judged(pk)
    if verdict is None:
        return _refused(request, plan)
    parts = parts_list(verdict.numbers.design)
    context = {"plan": plan, "parts": parts, **verdict_context(verdict, _system(request))}
    return render(request, "filtration/design_parts.html", context)


@require_GET
@staff_required
def design_steps(request: HttpRequest, pk: int) -> HttpResponse:
    """How to build it, each step with its check and its cautions, to take along on paper."""
    plan, verdict = _judged(pk)
    if verdict is None:
        return _refused(request, plan)
    context = {"plan": plan, "steps": build_steps(verdict), **verdict_context(verdict, _system(request))}
    return render(request, "filtration/design_steps.html", context)


def _refused(request: HttpRequest, plan: FilterDesign) -> HttpResponse:
    messages.error(request, REFUSED)
    return redirect(plan if cast(User, request.user).is_manager else reverse("filter_list"))


@require_http_methods(["GET", "POST"])
@manager_required
def design_build(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin the filter: its code, its water, where it stands. The tasks follow from the plan of the day."""
    plan, verdict = _judged(pk)
    system = _system(request)
    data = request.POST if request.method == "POST" else None
    initial = {
        "name": plan.name,
        "circuit": plan.circuit_id,
        "area": designs.area_of(plan.circuit_id),
        "code": designs.next_code(),
    }
    form = BuildForm(data, initial=initial, system=system)
    if data is not None and form.is_valid():
        try:
            unit = _build(form, plan, cast(User, request.user))
        except ClearmereError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{unit} is being built. It may not run before a leak test was passed.")
            return redirect(unit)
    context: dict[str, Any] = {"plan": plan, "form": form}
    if verdict is not None:
        context |= verdict_context(verdict, system)
    return render(request, "filtration/design_build.html", context, status=422 if form.errors else 200)


def _build(form: BuildForm, plan: FilterDesign, by: User) -> FilterUnit:
    values = dict(form.cleaned_data)
    uuid = values.pop("uuid") or uuid4()
    return design_services.design_build(design=plan, uuid=uuid, by=by, **values)
