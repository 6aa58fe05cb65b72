"""Writes about filters: work done on them, and the states they go through."""

from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet

from filtration.by_plan import planned
from filtration.drains import drain_numbers, expect_all_anew, expect_anew
from filtration.models import FilterUnit, Maintenance, MediaLayer, Pump
from filtration.own_water import count_own_water, follow_edit
from refuge.errors import ClearmereError
from refuge.events import announce
from refuge.people.models import User
from refuge.people.selectors import site_today
from refuge.records import TAKEN_BACK, amend, record_once, void
from refuge.rules.facts import RUNNING
from refuge.rules.triggers import day_text

State = FilterUnit.State

# From each state, where a filter may go. It may not run before a leak test was passed.
NEXT_STATES: dict[str, tuple[str, ...]] = {
    State.BUILDING: (State.LEAK_TESTED,),
    State.LEAK_TESTED: (State.CYCLING, State.BUILDING, State.RESTING),
    State.CYCLING: (State.MATURE, State.DISTURBED, State.RESTING),
    State.MATURE: (State.DISTURBED, State.RESTING, State.CYCLING),
    State.DISTURBED: (State.MATURE, State.CYCLING, State.RESTING),
    State.RESTING: (State.CYCLING, State.BUILDING),
}


class FilterError(ClearmereError):
    """Something about a filter that cannot be recorded. The message is for the person who tried."""


@transaction.atomic
def maintenance_record(
    *,
    unit: FilterUnit,
    kind: str,
    by: User | None,
    at: datetime,
    uuid: UUID,
    is_new_flow: bool = False,
    **seen: Any,
) -> Maintenance:
    """Record work on a filter, with what was seen (columns of Maintenance, SI; litres where named so).

    A drain keeps what the model expected beside what was seen, so that the filter's own rates are corrected;
    a bucket test gives the flow. is_new_flow: somebody says that it is the flow when new. Raises FilterError when the numbers do not make the record.
    """
    earlier = Maintenance.everything.filter(uuid=uuid).first()
    if earlier is not None:
        return earlier
    values = {**seen, **_derived(unit, kind, seen, at)}
    record, is_new = record_once(Maintenance, uuid=uuid, filter=unit, kind=kind, by=by, at=at, **values)
    if is_new:
        _follow_up(unit, record, is_new_flow=is_new_flow)
        announce([unit.circuit_id])
    return record


def flow_from_bucket(bucket_l: float, seconds: float) -> float:
    """Flow [m3/h] from the time [s] to fill a known volume [L]; both above 0."""
    if not (bucket_l > 0 and seconds > 0):
        raise FilterError("Enter the size of the bucket and the seconds it took to fill.")
    return bucket_l / seconds * 3.6


def _derived(unit: FilterUnit, kind: str, seen: dict[str, Any], at: datetime) -> dict[str, Any]:
    if kind == Maintenance.Kind.BUCKET_TEST:
        return {"flow_m3_h": flow_from_bucket(seen.get("bucket_l") or 0, seen.get("bucket_seconds") or 0)}
    if kind == Maintenance.Kind.DRAIN:
        return drain_numbers(unit, seen, at)
    if kind in {Maintenance.Kind.LEAK_TEST, Maintenance.Kind.PROTECTION_TEST} and seen.get("passed") is None:
        raise FilterError("Say whether it passed.")
    return {}


def _follow_up(unit: FilterUnit, record: Maintenance, *, is_new_flow: bool) -> None:
    if record.kind == Maintenance.Kind.LEAK_TEST:
        _follow_leak_tests(unit)
    _expect(record, [record.at])
    if record.kind == Maintenance.Kind.BUCKET_TEST and (
        unit.commissioning_flow_m3_h is None or _was_first(unit, record)
    ):
        _take_as_new(unit, record.flow_m3_h or 0.0, is_said=is_new_flow)


def _expect(record: Maintenance, at: list[datetime]) -> None:
    """What was expected at later drains, after work that they follow from was entered late, corrected or struck out."""
    if record.kind == Maintenance.Kind.DRAIN:
        expect_anew(record.filter, at)
    if record.kind == Maintenance.Kind.RINSE:  # the first work on a filter says that it ran by then
        expect_all_anew(Q(filter__circuit=record.filter.circuit_id), min(at))


def _was_first(unit: FilterUnit, record: Maintenance) -> bool:
    """Whether the flow when new came from a bucket test that this one, entered late, came before."""
    tests = Maintenance.objects.filter(filter=unit, kind=Maintenance.Kind.BUCKET_TEST).exclude(pk=record.pk)
    first = tests.order_by("at", "pk").first()
    return first is not None and record.at < first.at and first.flow_m3_h == unit.commissioning_flow_m3_h


def _take_as_new(unit: FilterUnit, flow_m3_h: float, *, is_said: bool) -> None:
    """Keep the first flow as what later ones are held against, unless the plan says that it cannot be all of it."""
    plan = None if is_said else planned(unit)
    if plan is None or plan.fits(flow_m3_h):
        unit.commissioning_flow_m3_h = flow_m3_h
        unit.save(update_fields=["commissioning_flow_m3_h"])


@transaction.atomic
def filter_set_state(
    *,
    unit: FilterUnit,
    state: str,
    by: User | None,
    at: datetime,
    uuid: UUID,
    note: str = "",
    water_m3: float | None = None,
) -> Maintenance:
    """Move a filter on to another state, from the state it is in, and keep a record of it.

    water_m3: what stands in one that starts to run; it is part of its circuit's volume until it runs no more.

    Raises FilterError for a step that cannot be: a filter runs only after a leak test was passed since it was built,
    and a step, entered late or not, follows the one before it.
    """
    unit = FilterUnit.objects.select_for_update().get(pk=unit.pk)
    earlier = Maintenance.everything.filter(uuid=uuid).first()
    if earlier is not None:
        return earlier
    if state not in NEXT_STATES[unit.state]:
        allowed = " or ".join(State(each).label.lower() for each in NEXT_STATES[unit.state])
        raise FilterError(f"From “{unit.get_state_display().lower()}” it can only become {allowed}.")
    _check_time(unit, at)
    _check_leak_test(unit, state)
    _set_state(unit, state, site_today(at))
    count_own_water(unit, water_m3, by)
    record, _ = record_once(
        Maintenance,
        uuid=uuid,
        filter=unit,
        kind=Maintenance.Kind.STATE,
        by=by,
        at=at,
        new_state=state,
        note=note,
    )
    expect_all_anew(Q(filter__circuit=unit.circuit_id), at)  # who runs shares the water with all others
    announce([unit.circuit_id])
    return record


def _check_time(unit: FilterUnit, at: datetime) -> None:
    step = _steps(unit).order_by("-at").first()
    last = step.at.replace(second=0, microsecond=0) if step else at  # people enter minutes
    if at < last or site_today(at) < unit.state_since:
        since, now = max(unit.state_since, site_today(last)), unit.get_state_display().lower()
        raise FilterError(f"It has been “{now}” since {day_text(since)}.\nEnter a time after that.")


def _check_leak_test(unit: FilterUnit, state: str) -> None:
    """It may be called leak-tested, or begin to run, only while its last leak test says that it holds."""
    if state not in {State.LEAK_TESTED, State.CYCLING}:
        return
    test = _last_leak_test(unit)
    # One that runs already may have been tested before its record began.
    if test is None and unit.state not in RUNNING:
        raise FilterError("No leak test was passed since it was built. Record one first.")
    if test is not None and not test.passed:
        raise FilterError(
            f"It did not pass its leak test of {day_text(site_today(test.at))}.\n"
            "Repair it, test it again, and record that it passed."
        )


def _last_leak_test(unit: FilterUnit) -> Maintenance | None:
    """The latest leak test that stands, of those since the filter was last called “being built”."""
    tests = unit.maintenance.filter(kind=Maintenance.Kind.LEAK_TEST, voided_at__isnull=True)
    rebuilt = _steps(unit).filter(new_state=State.BUILDING).order_by("-at").first()
    if rebuilt is not None:
        tests = tests.filter(at__gt=rebuilt.at)
    return tests.order_by("-at", "-pk").first()


def _steps(unit: FilterUnit) -> QuerySet[Maintenance]:
    return Maintenance.objects.filter(filter=unit, kind=Maintenance.Kind.STATE)


def _follow_leak_tests(unit: FilterUnit) -> None:
    """A filter that stands still is as its last leak test says. One that runs is stopped by people, not by a record:
    its next step to cycling is refused."""
    unit.refresh_from_db(fields=["state"], from_queryset=FilterUnit.objects.select_for_update())
    test = _last_leak_test(unit)
    failed = not test.passed if test else unit.state == State.LEAK_TESTED
    on = site_today(test.at if test else None)
    if failed and unit.state in {State.LEAK_TESTED, State.RESTING}:
        _set_state(unit, State.BUILDING, on)
    if test and test.passed and unit.state == State.BUILDING:
        _set_state(unit, State.LEAK_TESTED, on)


def _set_state(unit: FilterUnit, state: str, on: date) -> None:
    unit.state, unit.state_since = state, on
    unit.save(update_fields=["state", "state_since"])


@transaction.atomic
def maintenance_amend(*, record: Maintenance, by: User, reason: str, **changes: Any) -> Maintenance:
    """Correct a maintenance record; what follows from its numbers is computed anew."""
    seen = {
        name: changes.get(name, getattr(record, name))
        for name in ("sediment_depth_m", "litres_drained", "bucket_l", "bucket_seconds")
    }
    if record.kind == Maintenance.Kind.BUCKET_TEST:
        changes["flow_m3_h"] = flow_from_bucket(seen["bucket_l"] or 0, seen["bucket_seconds"] or 0)
    if record.kind == Maintenance.Kind.DRAIN:
        at = changes.get("at", record.at)
        changes |= drain_numbers(record.filter, seen, at, own=record.pk)
    amended = amend(record=record, by=by, reason=reason, **changes)
    _follow_correction(amended, was=record.flow_m3_h, now=amended.flow_m3_h)
    _expect(record, [record.at, amended.at])
    announce([record.filter.circuit_id])
    return amended


@transaction.atomic
def maintenance_take_back(*, record: Maintenance, by: User, reason: str = TAKEN_BACK) -> None:
    """Strike out work that was not done, or not on this filter, with what the filter took from it.

    Repeated, it changes nothing.
    """
    void(record=record, by=by, reason=reason)
    _follow_correction(record, was=record.flow_m3_h, now=None)
    _expect(record, [record.at])
    announce([record.filter.circuit_id])


def _follow_correction(record: Maintenance, *, was: float | None, now: float | None) -> None:
    """A filter must not stay leak-tested, or keep a flow as its first one, by a record that no longer says so."""
    unit = record.filter
    if record.kind == Maintenance.Kind.LEAK_TEST:
        _follow_leak_tests(unit)
    if was is not None and was != now and unit.commissioning_flow_m3_h == was:
        unit.commissioning_flow_m3_h = now
        unit.save(update_fields=["commissioning_flow_m3_h"])


@transaction.atomic
def filter_save(*, unit: FilterUnit, layers: list[MediaLayer], by: User | None) -> FilterUnit:
    """Save a filter and its layers, numbered from the bottom; layers that are left out go.

    Where its state was entered with it, its water is counted from then on, or no more.
    """
    unit._history_user = by  # type: ignore[attr-defined]
    was = FilterUnit.objects.filter(pk=unit.pk).values_list("state", flat=True).first()
    follow_edit(unit, by)
    unit.save()
    if was != unit.state:
        count_own_water(unit, unit.water_m3, by)
    unit.layers.exclude(pk__in=[layer.pk for layer in layers if layer.pk]).delete()
    for place, layer in enumerate(layers, start=1):
        layer.filter, layer.position = unit, 1000 + place  # out of the way of those still to be renumbered
        layer.save()
    for place, layer in enumerate(layers, start=1):
        layer.position = place
        layer.save(update_fields=["position"])
    announce([unit.circuit_id])
    return unit


@transaction.atomic
def pump_save(*, pump: Pump, unit: FilterUnit) -> Pump:
    """Save the pump that feeds a filter."""
    pump.filter = unit
    pump.save()
    announce([unit.circuit_id])
    return pump
