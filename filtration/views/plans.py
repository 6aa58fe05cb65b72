"""The planner of filters: one page that answers while sizes are typed, and the pages that follow from a plan."""

from typing import Any, cast

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django_htmx.http import trigger_client_event

from enclosures.models import Circuit
from filtration.plans import selectors as designs
from filtration.plans.entry import (
    PlanEntry,
    typed,
    with_columns,
    with_container,
    with_guard,
    with_layer,
    with_pump,
    without_layer,
)
from filtration.plans.models import FilterDesign
from filtration.plans.reading import layer_columns
from filtration.plans.services import design_delete, design_save
from filtration.views.plan_shown import shown, stand_of, whole_number
from refuge.errors import ClearmereError
from refuge.people.access import manager_required
from refuge.people.models import User

ON_A_PAGE = 12
# Which part of the page changes with what was asked for; everything else answers with the figures.
PARTS = {
    "add_layer": "stones",
    "remove_layer": "stones",
    "container": "container",
    "pump": "pump",
    "water": "water",
    "inlet": "inlet",
}
# The lip follows the container's height, and stands in another part.
ALONG = {"container": "return"}


@require_http_methods(["GET", "POST"])
@manager_required
def design_new(request: HttpRequest) -> HttpResponse:
    """?water= begins with a water; ?from= with a saved plan; ?proposal= with a container proposed for the water."""
    if request.method == "POST":
        return _answer(request, FilterDesign())
    return _page(request, FilterDesign(), _beginning(request))


@require_http_methods(["GET", "POST"])
@manager_required
def design_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """A saved plan in the planner. One that a filter was built by can only be saved as a new one."""
    plan = get_object_or_404(designs.plans(), pk=pk)
    if request.method == "POST":
        return _answer(request, plan)
    return _page(request, plan, typed(plan, layer_columns_of(plan), _system(request)))


def layer_columns_of(plan: FilterDesign) -> list[dict[str, Any]]:
    return layer_columns(designs.bed_layers(plan))


def _system(request: HttpRequest) -> str:
    return cast(User, request.user).unit_system


def _beginning(request: HttpRequest) -> QueryDict:
    """What the form of a new plan holds at first."""
    asked, system = request.GET, _system(request)
    if source := designs.plans().filter(pk=whole_number(asked.get("from"))).first():
        data = typed(source, layer_columns_of(source), system)
        data["name"] = f"{source.name[:60]}, changed"
        return data
    circuit = Circuit.objects.filter(pk=whole_number(asked.get("water"))).first()
    water = designs.asked_of(circuit) if circuit else None
    plan, layers = designs.plan_from(designs.beginning())
    stand, place = stand_of(request), whole_number(asked.get("proposal"))
    if water and (proposal := designs.proposal(water, stand, place)):
        plan, layers = designs.plan_from(proposal.design, side_by_side=proposal.count)
    data = typed(plan, layers, system)
    columns = {
        **(water.columns if water else {}),
        "newcomer_kg": stand.newcomer_kg,
        "is_alone": stand.is_alone,
    }
    return with_columns(data, columns, system)


def _page(request: HttpRequest, plan: FilterDesign, data: QueryDict) -> HttpResponse:
    entry = PlanEntry.read(data, _system(request), plan, request.refuge.price_per_kwh)
    return render(request, "filtration/design_plan.html", shown(entry))


def _answer(request: HttpRequest, plan: FilterDesign) -> HttpResponse:
    """What the button or the typing asked for: new figures, a part filled in, or the plan saved."""
    wanted, _, place = request.POST.get("do", "save").partition(":")
    if wanted in {"save", "save_new"}:
        return _save(request, FilterDesign() if wanted == "save_new" else plan)
    data = _changed(request, wanted, place)
    entry = PlanEntry.read(data, _system(request), plan, request.refuge.price_per_kwh)
    context = shown(entry)
    if not request.htmx:
        return render(request, "filtration/design_plan.html", context)
    if wanted not in PARTS:
        return render(request, "filtration/_plan_result.html", context | {"is_part": True})
    parts = {part.key: part for part in context["parts"]}
    context["part"], context["along"] = parts[PARTS[wanted]], parts.get(ALONG.get(wanted, ""))
    answer = render(request, "filtration/_plan_parts.html", context)
    return trigger_client_event(answer, "plan-changed", after="settle")


def _changed(request: HttpRequest, wanted: str, place: str) -> QueryDict:
    data, system = request.POST, _system(request)
    if wanted == "add_layer":
        return with_layer(data)
    if wanted == "remove_layer":
        return without_layer(data, whole_number(place) or 0)
    if wanted == "container":
        return with_container(data, system)
    if wanted == "pump":
        return with_pump(data, system)
    if wanted == "inlet":
        return with_guard(data, system)
    if wanted == "water" and (found := Circuit.objects.filter(pk=whole_number(data.get("circuit"))).first()):
        return with_columns(data, designs.asked_of(found).columns, system)
    return data


def _save(request: HttpRequest, plan: FilterDesign) -> HttpResponse:
    entry = PlanEntry.read(request.POST, _system(request), plan, request.refuge.price_per_kwh)
    if entry.may_be_saved():
        try:
            saved = design_save(
                design=entry.plan, layers=entry.layer_rows(), by=cast(User, request.user), uuid=entry.uuid
            )
        except ClearmereError as error:
            entry.form.add_error(None, str(error))
        else:
            messages.success(request, f"The plan “{saved}” is saved.")
            return redirect(saved)
    return render(request, "filtration/design_plan.html", shown(entry), status=422)


@require_GET
@manager_required
def design_list(request: HttpRequest) -> HttpResponse:
    """All plans, the last changed first."""
    found = Paginator(designs.plans(), ON_A_PAGE).get_page(request.GET.get("page"))
    rows = designs.plan_rows(found, request.refuge.price_per_kwh)
    return render(request, "filtration/design_list.html", {"rows": rows, "plans": found})


@require_POST
@manager_required
def design_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Throw a plan away; gone already is as good."""
    plan = FilterDesign.objects.filter(pk=pk).first()
    if plan is None:
        return redirect("design_list")
    try:
        design_delete(design=plan)
    except ClearmereError as error:
        messages.error(request, str(error))
        return redirect(plan)
    messages.success(request, f"The plan “{plan}” is thrown away.")
    return redirect("design_list")
