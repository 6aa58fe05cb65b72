"""The manager's form for a filter: the container, its layers from the void up, its pump."""

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.forms import modelformset_factory
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from filtration.forms import FilterForm, LayerForm, PumpForm
from filtration.models import FilterUnit, MediaLayer
from filtration.services import filter_save, pump_save
from refuge.people.access import manager_required

MOST_LAYERS = 8
Layers = modelformset_factory(
    MediaLayer, form=LayerForm, extra=2, max_num=MOST_LAYERS, validate_max=True, can_delete=True
)


@require_http_methods(["GET", "POST"])
@manager_required
def filter_new(request: HttpRequest) -> HttpResponse:
    """?water= says which water it is for, where that is known."""
    water = request.GET.get("water", "")
    circuit_id = int(water) if water.isdecimal() and len(water) < 19 else None
    return _edit(request, FilterUnit(state_since=timezone.localdate(), circuit_id=circuit_id))


@require_http_methods(["GET", "POST"])
@manager_required
def filter_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _edit(request, get_object_or_404(FilterUnit.objects.select_related("pump"), pk=pk))


def _edit(request: HttpRequest, unit: FilterUnit) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    system = request.user.unit_system
    form = FilterForm(data, instance=unit, system=system)
    pump = PumpForm(
        data,
        instance=getattr(unit, "pump", None),
        system=system,
        prefix="pump",
        empty_permitted=not hasattr(unit, "pump"),
        use_required_attribute=False,
    )
    rows = MediaLayer.objects.filter(filter=unit.pk).order_by("position")
    layers = Layers(data, queryset=rows, prefix="layer", form_kwargs={"system": system})
    if request.method == "POST" and all([form.is_valid(), layers.is_valid(), pump.is_valid()]):
        saved = _save(request, form, layers, pump)
        messages.success(request, f"{saved} is saved.")
        return redirect(saved)
    context = {
        "form": form,
        "layers": layers,
        "pump": pump,
        "title": f"Change {unit}" if unit.pk else "Add a filter",
        "back": unit.get_absolute_url() if unit.pk else reverse("site_setup"),
    }
    wrong = form.errors or pump.errors or layers.total_error_count()
    return render(request, "filtration/filter_form.html", context, status=422 if wrong else 200)


@transaction.atomic
def _save(request: HttpRequest, form: Any, layers: Any, pump: Any) -> FilterUnit:
    kept = [each for each in layers.forms if each not in layers.deleted_forms and each.has_changed()]
    stays = [each for each in layers.initial_forms if each not in layers.deleted_forms]
    wanted = [*stays, *(each for each in kept if each not in stays)]
    unit = filter_save(
        unit=form.save(commit=False), layers=[each.save(commit=False) for each in wanted], by=request.user
    )
    if pump.has_changed():
        pump_save(pump=pump.save(commit=False), unit=unit)
    return unit
