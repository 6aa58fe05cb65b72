"""Water that went and came: changed, topped up, let out with sediment, lost to the air. Volumes m3."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from filtration.forecast import TopUp, WaterChange
from filtration.forecast.inputs import Event
from filtration.forecasting.harms import SAME_WATER, untreated
from filtration.forecasting.known import Known
from filtration.forecasting.records import Renewed

FIRST_WEEK = timedelta(days=7)


def renewals(known: Known) -> list[Event]:
    """Water changed and added. It is taken as treated, which is asked for at every change, but for what was told.

    What only replaces water let out with sediment is a change: that water took along what was dissolved in it.
    """
    events: list[Event] = []
    for each, refilled in refills(known):
        if each.at < known.began:
            continue
        raw_share = min(untreated(known, each) / each.volume_m3, 1.0)
        for kind, volume in ((WaterChange, refilled), (TopUp, each.volume_m3 - refilled)):
            events += _parts(known, each, kind, volume, raw_share)
    return events


def _parts(
    known: Known, renewed: Renewed, kind: type[WaterChange | TopUp], volume: float, raw_share: float
) -> Iterator[Event]:
    hour, source = known.hour_of_event(renewed.at), known.records.sources[renewed.source_id]
    for share, is_neutralised in ((1 - raw_share, True), (raw_share, False)):
        if volume * share > 0:
            yield kind(hour, volume * share, source, is_neutralised=is_neutralised)


def refills(known: Known) -> Iterator[tuple[Renewed, float]]:
    """Each change and top-up, and how much of it took the place of water that was let out: all of a change."""
    renewed, drains = known.records.renewed[known.circuit.id], list(_let_out(known))
    missing = 0.0
    for each in renewed:
        while drains and drains[0][0] <= each.at:
            missing += drains.pop(0)[1]
        refilled = min(missing, each.volume_m3) if each.is_top_up else each.volume_m3
        missing -= refilled if each.is_top_up else 0.0
        yield each, refilled


def _let_out(known: Known) -> Iterator[tuple[datetime, float]]:
    """When and how much water went out with sediment, unless a change recorded about then tells of the same water."""
    changes = [each.at for each in known.records.renewed[known.circuit.id] if not each.is_top_up]
    for each in known.records.worked[known.circuit.id]:
        is_told = any(abs(at - each.at) <= SAME_WATER for at in changes)
        if each.let_out_m3 and each.at >= known.began and not is_told:
            yield each.at, each.let_out_m3


def evaporation_m3_day(known: Known) -> float:
    """Water lost to the air: as much as was topped up and did not replace what was let out, until the window last moved
    on; in its first week, until now."""
    until = known.whole_weeks_until
    if until < known.began + FIRST_WEEK:
        until = known.moment.now
    added = sum(
        each.volume_m3 - refilled for each, refilled in refills(known) if known.began <= each.at <= until
    )
    return added / max(known.hour(until) / 24, 1.0)
