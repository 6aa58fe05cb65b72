"""What happened to the filters of a water, as events of its forecast.

Where a parameter of the members says how much is lost (no oxygen in a standing bed, chlorine in the water), it decides
and so spreads over them; what is lost beyond that is the middle of what is known (filtration.survival), taken to the
power of each member's own "harm".
"""

from collections.abc import Iterator
from datetime import datetime, timedelta

from filtration.forecast import Damage, PumpStop, WaterChange
from filtration.forecast.inputs import Event
from filtration.forecasting.known import Known
from filtration.forecasting.records import Harmed, Renewed
from filtration.forecasting.states import share_of
from filtration.survival import NEARLY_ALL, left_after, stood_still

# A change of water this near to untreated water getting in is the same water.
SAME_WATER = timedelta(hours=12)
# A filter that is called disturbed within these days is so by what happened to it.
SAME_HARM = timedelta(days=14)
WITHOUT_FLOW = frozenset({"no_flow", "dry"})


def harms(known: Known) -> list[Event]:
    """Pump stops, untreated water and losses of bacteria since the window began."""
    events: list[Event] = []
    for each in known.records.harmed[known.circuit.id]:
        if each.ended < known.began:
            continue
        events += _chlorine(known, each) if each.kind == "chlorine" else _loss(known, each)
    return events


def _loss(known: Known, harmed: Harmed) -> Iterator[Event]:
    """A filter without flow takes no part meanwhile. Where it is the only one, the step sees to what its bed loses; of
    one among several that is a loss by the middle of what is known."""
    share = share_of(harmed.filter_id, known.units, harmed.at)
    left = left_after(harmed.kind, hours=harmed.hours).middle
    first = max(known.hour(harmed.at), 0)
    last = max(min(known.hour(harmed.ended), known.now_hour), first)
    if harmed.kind in WITHOUT_FLOW and share > 0:
        is_only = share > NEARLY_ALL
        if last > first:
            yield PumpStop(first, last - first, 1.0 if is_only else share)
        if is_only:
            left = min(left / stood_still(harmed.hours or 0.0).middle, 1.0)
    kept = 1 - share * (1 - left)
    if kept < 1:
        yield Damage(last, kept, kept)


def _chlorine(known: Known, harmed: Harmed) -> Iterator[Event]:
    """Untreated water that nobody recorded as a change of water: it took the place of as much of the old."""
    if harmed.at < known.began or harmed.volume_m3 is None or harmed.source_id is None:
        return
    if any(_is_same(harmed, each) for each in known.records.renewed[known.circuit.id]):
        return
    hour, source = known.hour_of_event(harmed.at), known.records.sources[harmed.source_id]
    yield WaterChange(hour, harmed.volume_m3, source, is_neutralised=False)


def untreated(known: Known, renewed: Renewed) -> float:
    """How much [m3] of a recorded change of water, or top-up, got in untreated."""
    told = [each for each in known.records.harmed[known.circuit.id] if each.kind == "chlorine"]
    return max((each.volume_m3 or 0.0 for each in told if _is_same(each, renewed)), default=0.0)


def _is_same(harmed: Harmed, renewed: Renewed) -> bool:
    return harmed.source_id == renewed.source_id and abs(harmed.at - renewed.at) <= SAME_WATER


def is_told(known: Known, filter_id: int, when: datetime) -> bool:
    """Whether a filter that is called disturbed is so by something that was recorded, and so counts already."""
    return any(
        each.at <= when <= each.ended + SAME_HARM and each.ended >= known.began
        for each in known.records.harmed[known.circuit.id]
        if each.filter_id == filter_id or each.kind == "chlorine"
    )
