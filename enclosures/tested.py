"""Water tests as the rules may know them: with what other tests lend to a reading, and what was changed since.

Un-ionized ammonia wants total ammonia, pH and warmth. Where a test left out one of the latter two, the test nearest
in time lends it; where none of the last weeks read the warmth, it is that of the water by heater or season. pH is
never assumed: without any, un-ionized ammonia is not known, and total ammonia's own limit has to warn.
"""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q

from enclosures.chemistry import unionized_ammonia_mg_l
from enclosures.models import WaterTest
from refuge.prepared import prepared
from refuge.rounds.loaders import Moment, of_waters
from refuge.rules.facts import TestFacts

TESTS_KEPT = 8  # enough to see two good ones in a row, or a run of near-zero ones
RECENT_DAYS = 60
READINGS = (
    "temperature_c",
    "ph",
    "tan_mg_l",
    "nitrite_n_mg_l",
    "nitrate_n_mg_l",
    "alkalinity_mg_l",
    "oxygen_mg_l",
    "chlorine_mg_l",
)


@dataclass(frozen=True, slots=True)
class Tested:
    """One stored test by its own readings, and its instant."""

    at: datetime
    facts: TestFacts


@prepared
def _rows(circuits: list[int], newest: list[int | None], since: datetime, until: datetime) -> Any:
    rows = WaterTest.objects.filter(Q(at__gte=since) | Q(pk__in=newest), at__lte=until)
    return of_waters(rows, circuits).order_by("-at", "-pk").values_list("circuit_id", "at", *READINGS)


def tests_of(last: Mapping[int, int | None], moment: Moment) -> dict[int, list[Tested]]:
    """The newest tests of each circuit: those of the recent weeks, and the last one (by its key) however old it is."""
    rows = _rows(
        circuits=list(last),
        newest=list(last.values()),
        since=moment.now - timedelta(days=RECENT_DAYS),
        until=moment.now,
    )
    tests: dict[int, list[Tested]] = defaultdict(list)
    for circuit_id, at, *values in rows:
        if len(tests[circuit_id]) < TESTS_KEPT:
            tests[circuit_id].append(Tested(at, _facts(moment.day(at), *values)))
    return tests


def _facts(on: date, temperature: float | None, ph: float | None, tan: float | None, *rest: Any) -> TestFacts:
    nitrite, nitrate, alkalinity, oxygen, chlorine = rest
    unionized = unionized_or_none(tan, temperature, ph)
    return TestFacts(
        on=on,
        temperature_c=temperature,
        ph=ph,
        tan=tan,
        nitrite=nitrite,
        nitrate=nitrate,
        alkalinity=alkalinity,
        oxygen=oxygen,
        chlorine=chlorine,
        unionized=unionized,
        unionized_ph=None if unionized is None else ph,
        unionized_temperature_c=None if unionized is None else temperature,
    )


def _with_unionized(test: TestFacts, ph: float | None, temperature_c: float | None) -> TestFacts:
    unionized = unionized_or_none(test.tan, temperature_c, ph)
    if unionized is None:
        return test
    return replace(test, unionized=unionized, unionized_ph=ph, unionized_temperature_c=temperature_c)


def unionized_or_none(tan: float | None, temperature: float | None, ph: float | None) -> float | None:
    if tan is None or temperature is None or ph is None or temperature < 0:
        return None
    return unionized_ammonia_mg_l(tan, temperature, ph)


def as_known_now(
    tests: Sequence[Tested], temperature_c: float, renewed_since: Callable[[datetime], float]
) -> tuple[TestFacts, ...]:
    """The tests, newest first, with what others lend them and the share of the water renewed since each.

    temperature_c: of the water now, for want of any reading.
    """
    return tuple(_renewed(_lent(each, tests, temperature_c), renewed_since(each.at)) for each in tests)


def _renewed(test: TestFacts, share: float) -> TestFacts:
    return replace(test, renewed_since=share) if share else test


def known_of(test: WaterTest, moment: Moment) -> TestFacts:
    """One stored test with what the others of its water lend it. One query."""
    own = Tested(test.at, _facts(moment.day(test.at), *(getattr(test, name) for name in READINGS)))
    others = tests_of({test.circuit_id: None}, moment).get(test.circuit_id, [])
    return _lent(own, [own, *others], test.circuit.usual_temperature_c)


def _lent(test: Tested, tests: Sequence[Tested], temperature_c: float) -> TestFacts:
    own = test.facts
    if own.tan is None or own.unionized is not None:
        return own
    warmth = _nearest(test.at, "temperature_c", tests)
    return _with_unionized(own, _nearest(test.at, "ph", tests), temperature_c if warmth is None else warmth)


def _nearest(at: datetime, name: str, tests: Sequence[Tested]) -> float | None:
    """A reading of the test nearest in time that has it: its own, if it has one."""
    read = [(abs(each.at - at), value) for each in tests if (value := getattr(each.facts, name)) is not None]
    return min(read)[1] if read else None
