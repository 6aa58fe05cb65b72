"""Reads about the waters and enclosures, each a fixed number of queries for any number of rows."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, F, Min, Q, QuerySet

from enclosures.models import Area, Circuit, Enclosure, WaterChange, WaterSource, WaterTest
from enclosures.states import judge, load_state, summary
from enclosures.tested import unionized_or_none
from refuge.rounds.loaders import Moment
from refuge.rounds.models import Task
from refuge.rules.facts import CircuitFacts, Facts

TESTS_DRAWN = 160


@dataclass(frozen=True, slots=True)
class DueCount:
    """How much open work is due: today or before, and of that how much before today."""

    due: int = 0
    over: int = 0


@dataclass(frozen=True, slots=True)
class CircuitRow:
    """One water in the list."""

    circuit: Circuit
    facts: CircuitFacts
    readings: tuple[str, str]  # (state, words)
    load: tuple[str, str]
    last_test_on: date | None
    quarantines: int
    work: DueCount


@dataclass(frozen=True, slots=True)
class TestPoint:
    """One water test for drawings: readings by name, un-ionized ammonia computed. mg/L, nitrogen as N."""

    __test__ = False

    at: datetime
    values: dict[str, float | None]


def circuits_in_walking_order() -> QuerySet[Circuit]:
    """All waters as the round meets them; those without an enclosure last: 1 query."""
    return (
        Circuit.objects.select_related("water_source")
        .alias(
            rank=Min("enclosures__area__biosecurity_rank"),
            walk=Min("enclosures__area__position"),
            stop=Min("enclosures__position"),
        )
        .order_by(*_nulls_last("rank", "walk", "stop"), "code")
    )


def _nulls_last(*names: str) -> list[Any]:
    return [F(name).asc(nulls_last=True) for name in names]


def circuit_rows(circuits: Iterable[Circuit], facts: Facts, moment: Moment) -> list[CircuitRow]:
    """Waters with how they stand: 1 query beside the facts."""
    work = work_by("scope", moment.today)
    quarantines = Counter(a.circuit_id for a in facts.animal.values() if a.quarantine is not None)
    return [
        _circuit_row(circuit, facts.circuit[circuit.pk], quarantines[circuit.pk], work, moment)
        for circuit in circuits
        if circuit.pk in facts.circuit
    ]


def _circuit_row(
    circuit: Circuit, facts: CircuitFacts, quarantines: int, work: dict[Any, DueCount], moment: Moment
) -> CircuitRow:
    return CircuitRow(
        circuit=circuit,
        facts=facts,
        readings=summary(judge(facts, moment.limits(circuit.pk), moment.today)),
        load=load_state(facts.load_share, facts.animals),
        last_test_on=facts.tests[0].on if facts.tests else None,
        quarantines=quarantines,
        work=work.get(circuit.pk, DueCount()),
    )


def work_by(column: str, today: date) -> dict[Any, DueCount]:
    """Open work that is due, counted by a column of the tasks: 1 query."""
    rows = Task.objects.filter(status=Task.Status.OPEN, due_on__lte=today).values_list(column)
    counts = rows.annotate(due=Count("pk"), over=Count("pk", filter=Q(due_on__lt=today))).order_by()
    return {value: DueCount(due, over) for value, due, over in counts}


def enclosures_in_walking_order() -> QuerySet[Enclosure]:
    """All enclosures with area and water, those in use first in each area: 1 query."""
    return Enclosure.objects.select_related("area", "circuit").order_by(
        "area__biosecurity_rank", "area__position", "area__code", "-in_use", "position", "code"
    )


def enclosure_with_all(pk: int) -> QuerySet[Enclosure]:
    return Enclosure.objects.select_related("area", "circuit__water_source").filter(pk=pk)


TEST_COLUMNS = {
    "temperature": "temperature_c",
    "ph": "ph",
    "tan": "tan_mg_l",
    "nitrite": "nitrite_n_mg_l",
    "nitrate": "nitrate_n_mg_l",
    "alkalinity": "alkalinity_mg_l",
    "hardness": "hardness_mg_l",
    "oxygen": "oxygen_mg_l",
    "chlorine": "chlorine_mg_l",
    "clarity": "clarity",
}


def test_points(circuit_id: int, limit: int = TESTS_DRAWN) -> list[TestPoint]:
    """The newest tests of a water, oldest of them first: 1 query."""
    rows = WaterTest.objects.filter(circuit=circuit_id).order_by("-at", "-pk")
    newest = list(rows.values_list("at", *TEST_COLUMNS.values())[:limit])
    return [_point(at, dict(zip(TEST_COLUMNS, values, strict=True))) for at, *values in reversed(newest)]


test_points.__test__ = False  # type: ignore[attr-defined]


def _point(at: datetime, values: dict[str, float | None]) -> TestPoint:
    unionized = unionized_or_none(values["tan"], values["temperature"], values["ph"])
    return TestPoint(at, values | {"unionized": unionized})


def last_value(points: Sequence[TestPoint], name: str) -> tuple[datetime, float] | None:
    """When a reading was last taken, and what it was."""
    for point in reversed(points):
        if (value := point.values[name]) is not None:
            return point.at, value
    return None


def changes_of(circuit_id: int, since: datetime) -> list[tuple[datetime, float]]:
    """Water changes of a circuit from an instant on, oldest first, with their volume [m3]: 1 query."""
    rows = WaterChange.objects.filter(circuit=circuit_id, kind=WaterChange.Kind.CHANGE, at__gte=since)
    return list(rows.order_by("at").values_list("at", "volume_m3"))


def enclosures_of(circuit: Circuit) -> QuerySet[Enclosure]:
    """A water's enclosures in walking order: 1 query."""
    return enclosures_in_walking_order().filter(circuit=circuit)


def areas() -> QuerySet[Area]:
    """Areas in walking order with the number of their enclosures: 1 query."""
    return Area.objects.annotate(enclosure_count=Count("enclosures"))


def water_sources() -> QuerySet[WaterSource]:
    """Sources of water with the number of waters filled from them: 1 query."""
    return WaterSource.objects.annotate(circuit_count=Count("circuits"))


@dataclass(frozen=True, slots=True)
class EnclosureRow:
    """One enclosure in the list."""

    enclosure: Enclosure
    awake: int
    brumating: int
    quarantines: int
    work: DueCount

    @property
    def animals(self) -> int:
        return self.awake + self.brumating


def enclosure_rows(enclosures: Iterable[Enclosure], facts: Facts, moment: Moment) -> list[EnclosureRow]:
    """Enclosures with who lives in them and what is due there: 1 query beside the facts."""
    work = work_by("stop_path", moment.today)
    waiting = Counter(a.enclosure_id for a in facts.animal.values() if a.quarantine is not None)
    rows = []
    for each in enclosures:
        known = facts.enclosure.get(each.pk)
        awake, brumating = (known.awake, known.brumating) if known else (0, 0)
        due = work.get(each.get_absolute_url(), DueCount())
        rows.append(EnclosureRow(each, awake, brumating, waiting[each.pk], due))
    return rows
