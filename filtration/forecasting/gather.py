"""Waters ready to be forecast: what they are, how they began, what has happened and what is planned.

Everything is computed anew from the records of the last weeks, so an amended or struck-out record counts at
once. Volumes in m3, concentrations in mg/L with nitrogen as N, hours from `began`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from filtration.forecast import AreaChange, Beginning, Circuit, Ensemble, Inputs, Scenario
from filtration.forecasting.beginning import beginning_of, circuit_of, has_meals_before
from filtration.forecasting.happenings import AHEAD_DAYS, AHEAD_HOURS, inputs_of
from filtration.forecasting.known import WINDOW, Known, opened
from filtration.forecasting.meals import planned_meals, usual_time
from filtration.forecasting.records import Fed, Records, read_records
from filtration.forecasting.sightings import Sighting, sightings
from filtration.forecasting.states import first_running, runs_at, state_at
from filtration.forecasting.unrecorded import unrecorded_meals
from refuge.errors import ClearmereError
from refuge.rounds.loaders import Moment, load_facts
from refuge.rules.facts import Facts


class NotForecast(ClearmereError):
    """A water that cannot be forecast; `lacks` says what is missing, in words."""

    def __init__(self, lacks: str) -> None:
        super().__init__(f"It cannot be forecast without {lacks}.")
        self.lacks = lacks


@dataclass(frozen=True, eq=False)
class Gathered:
    """One water. inputs: from `began` to two weeks after now, which is at `now_hour`; seed: its own, for the window."""

    known: Known
    circuit: Circuit
    beginning: Beginning
    inputs: Inputs
    seen: tuple[Sighting, ...]
    meals: tuple[Fed, ...]
    meals_ahead: tuple[Fed, ...]
    unrecorded: tuple[Fed, ...] = ()  # that it is taken to have been given before the first one written down

    @property
    def circuit_id(self) -> int:
        return self.known.circuit.id

    @property
    def began(self) -> datetime:
        return self.known.began

    @property
    def now_hour(self) -> int:
        return self.known.now_hour

    @property
    def now(self) -> datetime:
        """The full hour that the forecast starts from."""
        return self.began + timedelta(hours=self.now_hour)

    @property
    def seed(self) -> int:
        return self.circuit_id * 1_000_003 + opened(self.circuit_id, self.known.moment.now).toordinal()

    @property
    def is_young(self) -> bool:
        return any(state_at(unit, self.known.moment.now) == "cycling" for unit in self.known.units)

    def circuit_at(self, hour: int) -> Circuit:
        """The circuit as it was just before an hour: what changes at that hour is an event of it."""
        factor = 1.0
        for event in self.inputs.events:
            if isinstance(event, AreaChange) and event.hour < hour:
                factor *= event.factor
        return replace(self.circuit, media_area_m2=self.circuit.media_area_m2 * factor)


def gather(
    circuits: Iterable[int], moment: Moment, facts: Facts | None = None
) -> dict[int, Gathered | NotForecast]:
    """These waters ready to be forecast, or what each lacks. A fixed number of queries for any number of them."""
    wanted = frozenset(circuits)
    facts = facts or load_facts(wanted, moment)
    since = min((opened(pk, moment.now) for pk in wanted), default=moment.now)
    records = read_records(wanted, facts, since=since, until=moment.now, zone=moment.zone)
    return {pk: _gathered(pk, facts, records, moment) for pk in sorted(wanted & facts.circuit.keys())}


def gather_one(circuit_id: int, moment: Moment, facts: Facts | None = None) -> Gathered:
    """One water; raises NotForecast with what it lacks."""
    found = gather([circuit_id], moment, facts).get(circuit_id, NotForecast("being known"))
    if isinstance(found, NotForecast):
        raise found
    return found


def scenario_of(circuit_id: int, moment: Moment, *, facts: Facts | None = None) -> Scenario:
    """The water now, as its tests have narrowed it down, and what is planned for the next two weeks.

    Its hours count from now. Raises NotForecast. Change it with the methods of Scenario; the same records of the
    same hour always begin with the same members.
    """
    from filtration.forecasting.starts import from_start

    gathered = gather_one(circuit_id, moment, facts)
    return scenario_from(gathered, from_start(gathered).ensemble)


def scenario_from(gathered: Gathered, ensemble: Ensemble) -> Scenario:
    """The scenario of a water whose tests have been taken in."""
    now = gathered.now_hour
    return Scenario(gathered.circuit_at(now), gathered.inputs.between(now, now + AHEAD_HOURS), ensemble)


def _gathered(pk: int, facts: Facts, records: Records, moment: Moment) -> Gathered | NotForecast:
    _forget_before(opened(pk, moment.now), records, pk)
    known = Known(facts.circuit[pk], facts, records, moment, _start(pk, facts, records, moment))
    lacks = _lacks(known)
    if lacks:
        return NotForecast(lacks)
    water = circuit_of(known, moment.elevation_m)
    meals = [meal for meal in records.fed[pk] if meal.at >= known.began]
    usual = usual_time(meals, moment.zone)
    ahead = planned_meals(known.plans, now=moment.now, days=AHEAD_DAYS, at=usual, zone=moment.zone)
    unrecorded = unrecorded_meals(known, usual)
    return Gathered(
        known=known,
        circuit=water,
        beginning=beginning_of(known, water),
        inputs=inputs_of(known, [*unrecorded, *meals, *ahead]),
        seen=tuple(each for each in sightings(known.tests) if each.at >= known.began),
        meals=tuple(meals),
        meals_ahead=tuple(ahead),
        unrecorded=tuple(unrecorded),
    )


def _forget_before(first: datetime, records: Records, pk: int) -> None:
    """Rows are read as far back as any water wants them: each forgets what is before its own, whoever else is asked for."""
    records.tests[pk] = [test for test in records.tests[pk] if test.at > first - WINDOW]
    records.harmed[pk] = [harm for harm in records.harmed[pk] if harm.ended > first]
    records.renewed[pk] = [change for change in records.renewed[pk] if change.at > first]
    records.fed[pk] = [meal for meal in records.fed[pk] if meal.at > first]


def _start(pk: int, facts: Facts, records: Records, moment: Moment) -> datetime:
    """When the window begins: when a filter first ran in it, but not before anything was recorded of this water.

    A refuge that begins to keep records has fed its animals before: an empty past is no fast.
    """
    first = opened(pk, moment.now)
    running = first_running(records.units[pk], first, moment.now)
    if running is None or has_meals_before(facts, pk, moment.day(running)):
        return running or moment.now
    recorded = [each.at for each in (*records.fed[pk], *records.tests[pk]) if each.at >= running]
    is_young = all(state_at(u, running) == "cycling" for u in records.units[pk] if runs_at(u, running))
    return running if is_young else min(recorded, default=running)


def _lacks(known: Known) -> str:
    """What keeps a water from being forecast; empty when nothing does."""
    if known.circuit.volume_m3 <= 0:
        return "the sizes of its enclosures"
    if not any(runs_at(unit, known.moment.now) and unit.area_m2 > 0 for unit in known.units):
        return "a running filter with its media layers"
    return "" if known.circuit.tests else "a water test"
