"""Which filters ran when, from their recorded changes of state. Plain Python beside the rows' own types."""

from collections.abc import Sequence
from datetime import datetime

from filtration.forecasting.records import Unit
from refuge.rules.facts import RUNNING

# What a filter was before a change of state, where no earlier record says so.
BEFORE = {
    "building": "building",
    "leak_tested": "building",
    "cycling": "leak_tested",
    "mature": "cycling",
    "disturbed": "mature",
    "resting": "mature",
}


def timeline(unit: Unit) -> list[tuple[datetime, str]]:
    """Every change of state, oldest first. The day written on the filter itself counts where no record tells."""
    if unit.changes and unit.changes[-1][1] == unit.state:
        return list(unit.changes)
    known = [change for change in unit.changes if change[0] < unit.since]
    return [*known, (unit.since, unit.state)]


def state_at(unit: Unit, at: datetime) -> str:
    """The state at an instant."""
    changes = timeline(unit)
    passed = [state for when, state in changes if when <= at]
    return passed[-1] if passed else BEFORE[changes[0][1]]


def runs_at(unit: Unit, at: datetime) -> bool:
    return state_at(unit, at) in RUNNING


def shares_with(filter_id: int, units: Sequence[Unit], at: datetime) -> dict[int, float]:
    """The part (0 to 1) of the media area of each filter that ran at an instant, and of this one whether it ran or not."""
    areas = {unit.id: unit.area_m2 for unit in units if runs_at(unit, at) or unit.id == filter_id}
    total = sum(areas.values())
    return {pk: area / total for pk, area in areas.items()} if total else {}


def share_of(filter_id: int, units: Sequence[Unit], at: datetime) -> float:
    """A filter's part (0 to 1) of the media area that ran at an instant."""
    return shares_with(filter_id, units, at).get(filter_id, 0.0)


def running_since(unit: Unit, at: datetime) -> datetime | None:
    """Since when a filter that runs at an instant has been running without a break; None: longer than is known."""
    since = None
    for when, state in timeline(unit):
        if when > at:
            break
        if state == "cycling" or (state in RUNNING and since is None and BEFORE[state] not in RUNNING):
            since = when
        elif state not in RUNNING:
            since = None
    return since


def first_running(units: Sequence[Unit], start: datetime, end: datetime) -> datetime | None:
    """The first instant in [start, end] at which any of the filters ran; None if none did."""
    if any(runs_at(unit, start) for unit in units):
        return start
    starts = [
        when
        for unit in units
        for when, state in timeline(unit)
        if start < when <= end and state in RUNNING and unit.area_m2 > 0
    ]
    return min(starts, default=None)
