"""What happened to the filters of a water, as events of its forecast.

Where a parameter of the members says how much is lost (no oxygen in a standing bed, chlorine in the water), it decides
and so spreads over them; what is lost beyond that is the middle of what is known (filtration.survival), taken to the
power of each member's own "harm".
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from filtration.forecast import Damage, PumpStop, WaterChange
from filtration.forecast.inputs import Event
from filtration.forecasting.known import AHEAD_HOURS, Known
from filtration.forecasting.parts import FILM_DAYS, Parts
from filtration.forecasting.records import Harmed, Renewed
from filtration.forecasting.states import share_of, shares_with
from filtration.survival import NEARLY_ALL, chlorinated, left_after, stood_still

# A change of water this near to untreated water getting in is the same water.
SAME_WATER = timedelta(hours=12)
# So near to each other, readings of chlorine and untreated water are the same chlorine.
SAME_CHLORINE = timedelta(days=1)
# A filter that is called disturbed within these days is so by what happened to it.
SAME_HARM = timedelta(days=14)
WITHOUT_FLOW = frozenset({"no_flow", "dry"})


def harms(known: Known) -> list[Event]:
    """Pump stops, untreated water and losses of bacteria since the window began."""
    here = [each for each in known.records.harmed[known.circuit.id] if each.ended >= known.began]
    raw = [event for each in here if each.kind == "chlorine" for event in _chlorine(known, each)]
    own = sorted((each for each in here if each.kind != "chlorine"), key=lambda each: each.ended)
    stops, films = _stops(_standing(known, own)), Parts(FILM_DAYS)
    return [
        *raw,
        *_chlorine_read(known),
        *stops,
        *(loss for each in own for loss in _loss(known, each, stops, films)),
    ]


def _standing(known: Known, harmed: Iterable[Harmed]) -> dict[int, dict[int, float]]:
    """The filters that stand without flow in each hour, and what part each is of all that run; two records of one stop
    of one filter are the same stop."""
    found: dict[int, dict[int, float]] = defaultdict(dict)
    for each in harmed:
        share = share_of(each.filter_id, known.units, each.at)
        if each.kind in WITHOUT_FLOW and share > 0:
            for hour in range(*_hours(known, each)):
                found[hour][each.filter_id] = share
    return found


def _hours(known: Known, harmed: Harmed) -> tuple[int, int]:
    """The first hour of it and the one after its last, within the window; what still stands does so to the end of what
    is forecast: nobody knows when it will run again."""
    first = max(known.hour(harmed.at), 0)
    if harmed.is_open:
        return first, known.now_hour + AHEAD_HOURS
    return first, max(min(known.hour(harmed.ended), known.now_hour), first)


def _stops(standing: dict[int, dict[int, float]]) -> list[PumpStop]:
    """One stop for each stretch of hours with the same filters: what stands at the same time adds up."""
    found: list[PumpStop] = []
    before: dict[int, float] = {}
    for hour in sorted(standing):
        goes_on = found and found[-1].hour + found[-1].hours == hour and standing[hour] == before
        if goes_on:
            found[-1] = replace(found[-1], hours=found[-1].hours + 1)
        else:
            share = sum(standing[hour].values())
            found.append(PumpStop(hour, 1, 1.0 if share > NEARLY_ALL else share))
        before = standing[hour]
    return found


def _loss(known: Known, harmed: Harmed, stops: Iterable[PumpStop], films: Parts) -> Iterator[Damage]:
    """What one filter loses, by the middle of what is known, as its part of what all of them hold.

    While all stand the step itself sees to what their beds lose: what it takes is not taken again. What still stands
    takes no part in what is forecast, whatever lives in it.
    """
    if harmed.is_open:
        return
    first, last = _hours(known, harmed)
    left = left_after(harmed.kind, hours=harmed.hours).middle
    if harmed.kind in WITHOUT_FLOW:
        for stop in stops:
            together = min(last, stop.hour + stop.hours) - max(first, stop.hour)
            if stop.share == 1.0 and together > 0:
                left = min(left / stood_still(together).middle, 1.0)
    if left < 1:
        shares = shares_with(harmed.filter_id, known.units, harmed.at)
        kept = films.kept(shares, harmed.filter_id, left, harmed.ended)
        if kept < 1:
            yield Damage(max(min(known.hour_of_event(harmed.ended), last), first), kept, kept)


def _chlorine(known: Known, harmed: Harmed) -> Iterator[Event]:
    """Untreated water that nobody recorded as a change of water: it took the place of as much of the old."""
    if harmed.at < known.began or harmed.volume_m3 is None or harmed.source_id is None:
        return
    if any(_is_same(harmed, each) for each in known.records.renewed[known.circuit.id]):
        return
    hour, source = known.hour_of_event(harmed.at), known.records.sources[harmed.source_id]
    yield WaterChange(hour, harmed.volume_m3, source, is_neutralised=False)


def _chlorine_read(known: Known) -> Iterator[Damage]:
    """Total chlorine read above its limit harms every film of the water, unless untreated water was recorded within a day.

    By what was read, which is the dose in the mixed water; of several readings within a day the highest, since they
    tell of the same chlorine. It comes after what else the test read.
    """
    most = known.moment.limits(known.circuit.id)["water.chlorine_mg_l"]
    told = [each.at for each in known.records.harmed[known.circuit.id] if each.kind == "chlorine"]
    read = [(test.at, test.chlorine) for test in known.tests if test.chlorine and test.chlorine > most]
    news = [(at, dose) for at, dose in read if all(abs(at - each) > SAME_CHLORINE for each in told)]
    while news and (first := news[0][0]):
        same = [dose for at, dose in news if at - first <= SAME_CHLORINE]
        news = news[len(same) :]
        if first >= known.began:
            left = chlorinated(max(same)).middle
            yield Damage(known.hour_of_event(first), left, left)


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
