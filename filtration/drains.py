"""The numbers of a drain: what was expected just before it, and how much sediment what was seen stands for."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from filtration.models import FilterUnit, Maintenance
from filtration.solids import let_out_ratio, litres_from_depth
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for

JUST_BEFORE = timedelta(microseconds=1)


def drain_numbers(
    unit: FilterUnit, seen: dict[str, Any], at: datetime, *, own: int | None = None
) -> dict[str, float | None]:
    """Columns of a drain that follow from what was seen at an instant. own: its key, if it is recorded already."""
    return {
        **expected_before(unit, at, own=own),
        "observed_sediment_l": observed_sediment_l(unit, seen, own=own),
    }


def expected_before(unit: FilterUnit, at: datetime, *, own: int | None = None) -> dict[str, float | None]:
    """Litres of sediment that the model expected just before an instant, and the filter's own factor in them.

    By what was recorded of the time before it, however late. own: a drain that does not count.
    """
    with transaction.atomic():
        # Looked at as if its own record were not there, and put back at once.
        Maintenance.objects.filter(pk=own).update(voided_at=timezone.now())
        moment = moment_for(now=at - JUST_BEFORE)
        facts = load_facts(frozenset([unit.circuit_id]), moment).filter.get(unit.pk)
        transaction.set_rollback(True)
    return {
        "predicted_sediment_l": facts.sediment_l if facts else None,
        "predicted_factor": facts.correction if facts else None,
    }


def observed_sediment_l(unit: FilterUnit, seen: dict[str, Any], *, own: int | None = None) -> float | None:
    """Litres of sediment seen: from its depth, else of the water that was let out with it until it ran clear.

    The latter by what this filter's drains with both have shown (see `solids.let_out_ratio`); where that is more than
    the void holds, it says nothing.
    """
    depth, drained = seen.get("sediment_depth_m"), seen.get("litres_drained")
    if depth is not None:
        return litres_from_depth(depth, unit.cross_section_m2)
    if drained is None:
        return None
    sediment = float(drained) / let_out_ratio(_both(unit, own))
    return sediment if sediment <= unit.void_volume_m3 * 1000 else None


def _both(unit: FilterUnit, own: int | None) -> list[tuple[float, float]]:
    """(litres let out, litres of sediment by its depth) of the drains that say both: 1 query."""
    rows = Maintenance.objects.filter(filter=unit, kind=Maintenance.Kind.DRAIN, litres_drained__gt=0)
    known = rows.filter(sediment_depth_m__gt=0).exclude(pk=own)
    pairs = known.values_list("litres_drained", "sediment_depth_m")
    return [(out, litres_from_depth(depth or 0, unit.cross_section_m2)) for out, depth in pairs if out]


def expect_all_anew(of: Q, after: datetime) -> None:
    """After something that changes what comes to these filters was entered late: all their drains since, in order."""
    drains = Maintenance.objects.filter(of, kind=Maintenance.Kind.DRAIN, at__gt=after).select_related(
        "filter"
    )
    for drain in drains.order_by("at", "pk"):
        Maintenance.objects.filter(pk=drain.pk).update(
            **expected_before(drain.filter, drain.at, own=drain.pk)
        )


def expect_anew(unit: FilterUnit, after: Iterable[datetime]) -> None:
    """After a drain was entered late, corrected or struck out: what was expected at the next drain after each instant."""
    drains = Maintenance.objects.filter(filter=unit, kind=Maintenance.Kind.DRAIN)
    found = [drains.filter(at__gt=at).order_by("at", "pk").first() for at in after]
    for pk, at in {(drain.pk, drain.at) for drain in found if drain is not None}:
        # What follows from other records is no correction of this one: its history stays as it is.
        drains.filter(pk=pk).update(**expected_before(unit, at, own=pk))
