"""What the rules may know of what happened to filters."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from math import prod
from typing import Any

from django.db.models import Q

from enclosures.rules import quiet_since
from filtration.harms.advice import first_meals, first_share
from filtration.harms.models import FilterHarm
from filtration.harms.standing import as_it_stands, flowed_at
from filtration.harms.words import harm_words
from filtration.nitrification import within_range
from filtration.survival import left_after, regrown
from refuge.prepared import prepared
from refuge.rounds.loaders import Moment, Scopes, of_waters
from refuge.rules.facts import RUNNING, CircuitFacts, Facts, FilterFacts, HarmFacts, PlanFacts
from refuge.rules.limits import LimitsFor

GROWN_BACK = 0.95  # share of the bacteria from which harm is over by itself
COUNTS_DAYS = 60  # after it a filter has grown back, or somebody has said otherwise
COLUMNS = (
    "pk",
    "filter_id", "filter__circuit_id",
    "kind", "at", "hours", "runs_again", "volume_m3", "source__total_chlorine_mg_l", "substance", "flowed_at",
)  # fmt: skip


@prepared
def _harm_rows(scopes: Scopes, since: datetime, until: datetime) -> Any:
    rows = FilterHarm.objects.filter(Q(at__gt=since) | Q(runs_again=False), at__lte=until)
    told = rows.annotate(flowed_at=flowed_at(until)).order_by("at", "pk")
    return of_waters(told, scopes, "filter__circuit").values_list(*COLUMNS)


def harms_of(
    scopes: Scopes, moment: Moment, circuits: dict[int, CircuitFacts]
) -> dict[int, dict[int | None, list[HarmFacts]]]:
    """Recent harms by water, then by filter, oldest first: 1 query. Under None those that reach all of its filters."""
    since = moment.now - timedelta(days=COUNTS_DAYS)
    rows = _harm_rows(scopes=scopes, since=since, until=moment.now)
    found: dict[int, dict[int | None, list[HarmFacts]]] = defaultdict(lambda: defaultdict(list))
    for pk, filter_id, circuit_id, *row in rows:
        if circuit_id not in circuits:
            continue
        harm = _harm(pk, row, circuits[circuit_id].volume_m3, moment)
        if harm.on > moment.day(since):
            found[circuit_id][None if row[0] == FilterHarm.Kind.CHLORINE else filter_id].append(harm)
    return found


def _harm(pk: int, row: list[Any], water_m3: float, moment: Moment) -> HarmFacts:
    kind, at, hours, runs_again, volume_m3, chlorine_mg_l, substance, flowed = row
    stored = FilterHarm(pk=pk, kind=kind, at=at, hours=hours, volume_m3=volume_m3, substance=substance)
    stored.runs_again = runs_again
    record = as_it_stands(stored, flowed, moment.now)
    mixed = mixed_mg_l(volume_m3, chlorine_mg_l, water_m3)
    left = left_after(kind, hours=record.hours, chlorine_mg_l=mixed)
    return HarmFacts(
        moment.day(record.ended),
        harm_words(record),
        left.middle,
        record.get_absolute_url(),
        began_on=None if record.runs_again else moment.day(at),
    )


def mixed_mg_l(volume_m3: float | None, chlorine_mg_l: float | None, water_m3: float) -> float:
    """Total chlorine in a water [mg/L] once untreated water is mixed in; it cannot be more than at the tap."""
    if not volume_m3 or not chlorine_mg_l:
        return 0.0
    return chlorine_mg_l * min(volume_m3 / water_m3, 1.0) if water_m3 > 0 else chlorine_mg_l


def with_harms(
    unit: FilterFacts,
    found: dict[int | None, list[HarmFacts]],
    circuit: CircuitFacts,
    near_zero: float,
    moment: Moment,
) -> FilterFacts:
    """A filter with the worst that happened to it since somebody last said how it is, and what is left of it today.

    Whoever calls it mature says that what came before is over; a disturbed one is what they left behind.
    """
    own = sorted([*found.get(unit.id, []), *found.get(None, [])], key=lambda each: each.on)
    unit = replace(unit, stands=next((each for each in own if each.is_open), None))
    is_disturbed = unit.state == "disturbed"
    counts = [each for each in own if is_disturbed or each.on >= unit.state_since]
    celsius = within_range(unit.temperature_c)
    left = prod(regrown(each.left, max((moment.today - each.on).days, 0), celsius) for each in counts)
    if not counts or (left > GROWN_BACK and not is_disturbed):
        return unit
    worst = min(counts, key=lambda each: each.left)
    quiet = quiet_since(counts[-1].on, circuit.tests, near_zero)
    return replace(unit, harm=worst, harm_left_today=left, quiet_since_harm=quiet)


def tell_water(facts: Facts, circuit_id: int, limits: LimitsFor) -> None:
    """What harm to its running filters means for a water and the meals in it, until its tests have been quiet."""
    here = [unit for unit in facts.filter.values() if unit.circuit_id == circuit_id]
    open_still = [
        unit for unit in here if unit.state in RUNNING and unit.quiet_since_harm < limits["water.quiet_tests"]
    ]
    harm = gravest(open_still, limits["filtration.harm_left_share"])
    if harm is None:
        return
    water = facts.circuit[circuit_id] = replace(facts.circuit[circuit_id], harm=harm)
    is_quiet = quiet_since(harm.on, water.tests, limits["water.near_zero_mg_l"]) > 0
    words = feeding_words(harm, is_quiet=is_quiet)
    for pk, plan in list(facts.plan.items()):
        if plan.circuit_id == circuit_id:
            facts.plan[pk] = _fed_after(plan, harm, words, is_quiet=is_quiet)


def _fed_after(plan: PlanFacts, harm: HarmFacts, words: str, *, is_quiet: bool) -> PlanFacts:
    if is_quiet:
        return replace(plan, warning=words, share=first_share(harm.left))
    return replace(plan, unfed=plan.unfed or words)


def feeding_words(harm: HarmFacts, *, is_quiet: bool) -> str:
    """What whoever feeds must know. is_quiet: the newest test since was near zero."""
    what = f"Its filter was harmed ({harm.words}, {harm.over})"
    if is_quiet:
        return f"{what}: {first_meals(harm.left)} until the tests stay near zero"
    return f"{what}: no food until ammonia and nitrite are read near zero"


def gravest(units: Iterable[FilterFacts], share: float) -> HarmFacts | None:
    """The newest harm that left no more than `share` of a filter's bacteria."""
    grave = [unit.harm for unit in units if unit.harm is not None and unit.harm.left <= share]
    return max(grave, key=lambda each: each.on, default=None)
