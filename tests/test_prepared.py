"""Prepared queries find what the ORM finds, and their SQL is put together once for each shape of their values."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db.models.functions import TruncDate, TruncMonth

from enclosures.models import WaterTest
from refuge.prepared import prepared
from refuge.rounds.models import Task
from tests import factories as make

pytestmark = pytest.mark.django_db
NOON = datetime(2027, 3, 10, 12, tzinfo=UTC)


@pytest.fixture
def tests():
    waters = [make.CircuitFactory() for _ in range(3)]
    return [
        make.WaterTestFactory(
            circuit=water, at=NOON - timedelta(days=day, microseconds=day), ph=7.0 + day / 10
        )
        for water in waters
        for day in range(4)
    ]


@pytest.fixture
def asked():
    """A query that notes each time it is put together."""
    made = []

    @prepared
    def readings(circuits, since, zone=UTC):
        made.append(1)
        rows = WaterTest.objects.filter(at__gte=since).order_by("pk")
        if circuits is not None:
            rows = rows.filter(circuit__pk__in=circuits)
        return rows.values_list("pk", "at", "ph", "clarity", TruncDate("at", tzinfo=zone))

    return readings, made


def plain(circuits, since, zone=UTC):
    rows = WaterTest.objects.filter(at__gte=since).order_by("pk")
    if circuits is not None:
        rows = rows.filter(circuit__in=circuits)
    return list(rows.values_list("pk", "at", "ph", "clarity", TruncDate("at", tzinfo=zone)))


@pytest.mark.parametrize("how_many", [1, 2, 3, None])
@pytest.mark.parametrize("days", [0, 2, 9])
def test_finds_what_the_orm_finds(tests, asked, how_many, days):
    circuits = None if how_many is None else frozenset(test.circuit_id for test in tests[: 4 * how_many])
    since = NOON - timedelta(days=days)
    found = list(asked[0](circuits=circuits, since=since))
    assert found == plain(circuits, since)
    assert len(found) == {0: 1, 2: 2, 9: 4}[days] * (how_many or 3)  # each is a little older than its days


def test_is_put_together_once_for_any_values_and_asked_once(tests, asked, django_assert_num_queries):
    readings, made = asked
    for test in tests:
        with django_assert_num_queries(1):
            found = list(readings(circuits=[test.circuit_id], since=test.at))
        assert (test.pk, test.at) in [row[:2] for row in found]
        assert found == plain([test.circuit_id], test.at)
    assert len(made) == 1
    list(readings(circuits=[1, 2], since=NOON))
    list(readings(circuits=[8, 9], since=NOON))
    assert len(made) == 2


def test_what_is_no_value_is_part_of_the_shape(asked):
    readings, made = asked
    late = datetime(2027, 3, 10, 23, tzinfo=UTC)
    test = make.WaterTestFactory(at=late)
    east, west = ZoneInfo("Asia/Tokyo"), ZoneInfo("UTC")
    on = [next(readings(circuits=None, since=late, zone=zone))[4] for zone in (east, west)]
    assert on == [date(2027, 3, 11), date(2027, 3, 10)]
    assert (len(made), test.at) == (2, late)


def test_nothing_is_asked_for_nobody(asked, django_assert_num_queries):
    with django_assert_num_queries(0):
        assert list(asked[0](circuits=[], since=NOON)) == []


def test_what_was_found_before_is_not_kept(tests, asked):
    readings, _ = asked
    before = list(readings(circuits=None, since=NOON))
    make.WaterTestFactory(at=NOON)
    assert len(list(readings(circuits=None, since=NOON))) == len(before) + 1


class TestTimeZone:
    """The zone of whoever asks first must not stay in the SQL for everybody after."""

    @pytest.mark.parametrize(
        "make_rows",
        [
            lambda: Task.objects.annotate(day=TruncDate("opened_at")).values_list("day"),
            lambda: Task.objects.annotate(month=TruncMonth("opened_at")).values_list("month"),
            lambda: Task.objects.filter(opened_at__date__gt=date(2026, 5, 1)).values_list("pk"),
            lambda: Task.objects.filter(opened_at__year=2026).values_list("pk"),
            lambda: Task.objects.order_by("opened_at__hour").values_list("pk"),
        ],
        ids=["day", "month", "date", "year", "hour"],
    )
    def test_a_query_that_goes_by_the_one_in_force_is_refused(self, make_rows):
        with pytest.raises(ValueError, match="time zone in force"):
            prepared(make_rows)()

    def test_one_that_names_its_own_is_taken(self):
        day = TruncDate("opened_at", tzinfo=ZoneInfo("America/New_York"))
        assert list(prepared(lambda: Task.objects.annotate(day=day).values_list("day"))()) == []
