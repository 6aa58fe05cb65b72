"""Writes about planned filters: keep a plan, throw one away, build a filter by one."""

from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from enclosures.models import Area, Circuit
from filtration.hydraulics.bed import BedLayer
from filtration.models import FilterUnit, MediaLayer, Pump
from filtration.plans.models import DesignLayer, FilterBuild, FilterDesign
from filtration.plans.reading import bed_layers, layer_columns, verdict_of
from filtration.services import FilterError, filter_save, pump_save
from refuge.people.models import User
from refuge.people.selectors import site_today


@transaction.atomic
def design_save(
    *, design: FilterDesign, layers: Iterable[Mapping[str, Any]], by: User, uuid: UUID | None = None
) -> FilterDesign:
    """Save a plan with its layers (filtration.plans.reading.LAYER_COLUMNS), numbered from the bottom.

    uuid: of a new one, made where it was typed; the same one again changes nothing and gives the plan that is
    there. Raises FilterError for a plan that a filter was built by: that one stands.
    """
    design.changed_at = timezone.now()
    if design._state.adding:
        earlier = _new(design, by, uuid or design.uuid)
        if earlier is not None:
            return earlier
    else:
        refuse_if_built(design)
        design.save()
        design.layers.all().delete()
    rows = [DesignLayer(design=design, position=place, **row) for place, row in enumerate(layers, start=1)]
    DesignLayer.objects.bulk_create(rows)
    return design


def _new(design: FilterDesign, by: User, uuid: UUID) -> FilterDesign | None:
    """Insert a plan; the one that the same entry made before, if there is one. Two clicks at once make one too."""
    earlier = FilterDesign.objects.filter(uuid=uuid).first()
    if earlier is not None:
        return earlier
    design.uuid, design.made_by = uuid, by
    try:
        with transaction.atomic():
            design.save()
    except IntegrityError:
        earlier = FilterDesign.objects.filter(uuid=uuid).first()
        if earlier is None:  # another constraint was broken, not this one
            raise
    return earlier


def refuse_if_built(design: FilterDesign) -> None:
    """Raises FilterError if a filter stands by this plan. Must run inside a transaction."""
    FilterDesign.objects.select_for_update().get(pk=design.pk)
    if design.builds.exists():
        raise FilterError(
            f"A filter was built by “{design.name}”, so this plan stays as it is. Save yours as a new one."
        )


@transaction.atomic
def design_delete(*, design: FilterDesign) -> None:
    """Throw a plan away. Raises FilterError for one that a filter was built by."""
    refuse_if_built(design)
    design.delete()


@transaction.atomic
def design_build(
    *,
    design: FilterDesign,
    uuid: UUID,
    code: str,
    name: str,
    circuit: Circuit,
    area: Area,
    is_protected: bool,
    by: User,
) -> FilterUnit:
    """Begin a filter by a plan: its sizes, layers and pump, in the state “being built”. Repeated, it is one filter.

    Its tasks follow after the commit; the first is the leak test. Raises FilterError for a plan that must not be
    built, and for a code that is taken.
    """
    FilterDesign.objects.select_for_update().get(pk=design.pk)
    earlier = FilterBuild.objects.select_related("filter").filter(uuid=uuid).first()
    if earlier is not None:
        return earlier.filter
    verdict = verdict_of(design, bed_layers(design))
    if not verdict.can_be_built:
        raise FilterError("This plan has mistakes that must be mended first. They stand in the planner.")
    unit = _begin(design, by, code=code, name=name, circuit=circuit, area=area)
    pump_save(pump=_pump(design, is_protected), unit=unit)
    FilterBuild.objects.create(uuid=uuid, design=design, filter=unit, by=by)
    return unit


def _begin(design: FilterDesign, by: User, **place: Any) -> FilterUnit:
    unit = FilterUnit(
        shape=design.shape,
        length_m=design.length_m,
        width_m=design.width_m,
        height_m=design.height_m,
        void_height_m=design.void_height_m,
        inlet_bore_m=design.inlet_bore_m,
        return_bore_m=design.return_bore_m,
        state=FilterUnit.State.BUILDING,
        state_since=site_today(),
        note=design.note,
        **place,
    )
    layers = [_media_layer(layer) for layer in bed_layers(design)]
    try:
        with transaction.atomic():
            return filter_save(unit=unit, layers=layers, by=by)
    except IntegrityError:
        if FilterUnit.objects.filter(code=unit.code).exists():
            raise FilterError(f"There is a filter {unit.code} already. Choose another code.") from None
        raise


def _media_layer(layer: BedLayer) -> MediaLayer:
    """The stones as they were measured, with the surface that follows, so that everything that asks the record for
    it (capacity, forecast) reckons with the stones that lie there."""
    surface = layer.measured_surface_m2_m3
    return MediaLayer(specific_surface_m2_m3=surface, **layer_columns([layer])[0])


def _pump(design: FilterDesign, is_protected: bool) -> Pump:
    return Pump(
        name=design.pump_name,
        rated_flow_m3_h=design.pump_max_flow_m3_h,
        shutoff_head_m=design.pump_shutoff_head_m,
        power_w=design.pump_power_w,
        is_protected=is_protected,
    )
