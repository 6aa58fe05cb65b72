"""Where a forecast may begin: kept, trusted only while all before it is as it was, and leading to the same numbers."""

from datetime import timedelta

import numpy as np
import pytest

from enclosures.models import WaterChange
from filtration.forecasting import run, services, starts
from filtration.forecasting.gather import gather_one, scenario_of
from filtration.forecasting.known import STEP_DAYS, opened
from filtration.forecasting.models import ForecastStart, WaterForecast
from filtration.models import FilterUnit, Maintenance
from husbandry.models import Feeding
from tests.factories import FeedingFactory, WaterTestFactory
from tests.filtration.a_water import NOW, a_water, days_ago, moment

pytestmark = pytest.mark.django_db


def renew(circuit, at, kind="top_up", volume_m3=0.01):
    source = circuit.water_source
    return WaterChange.objects.create(circuit=circuit, at=at, kind=kind, volume_m3=volume_m3, source=source)


@pytest.fixture
def circuit():
    """A water whose forecast was made now, with meals and top-ups from before its window on."""
    circuit = a_water(meals=40, tests=6)
    for days in (3, 9, 20):
        renew(circuit, days_ago(days))
    services.forecast_waters([circuit.pk], moment=moment())
    return circuit


def kept(circuit, now=NOW):
    """What was kept of a water, if it still counts."""
    gathered = gather_one(circuit.pk, moment(now))
    return starts.usable(gathered, ForecastStart.objects.get(pk=circuit.pk))


def hours_of_this_week(circuit):
    """Later moments, six hours apart, until the water's window moves on."""
    later = [NOW + timedelta(hours=6 * n) for n in range(1, 4 * STEP_DAYS)]
    return [now for now in later if opened(circuit.pk, now) == opened(circuit.pk, NOW)]


class TestSameNumbers:
    @pytest.mark.parametrize("later", [0, -1])
    def test_going_on_from_a_start_is_as_good_as_running_the_whole(self, circuit, later):
        now = [NOW, *hours_of_this_week(circuit)][later]
        gathered, start = gather_one(circuit.pk, moment(now)), kept(circuit, now)
        assert start.taken == len(gathered.seen) == 6
        short, whole = run.assimilated(gathered, start), run.assimilated(gathered)
        assert np.array_equal(short.ensemble.states, whole.ensemble.states)
        assert np.array_equal(short.ensemble.scores, whole.ensemble.scores)
        assert short.ensemble.draws == whole.ensemble.draws

    def test_a_test_that_came_since_is_taken_in_from_there(self, circuit):
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=2), nitrate_n_mg_l=20, temperature_c=27)
        gathered = gather_one(circuit.pk, moment())
        start = kept(circuit)
        assert start.taken == len(gathered.seen) - 1
        short, whole = run.assimilated(gathered, start), run.assimilated(gathered)
        assert np.array_equal(short.ensemble.states, whole.ensemble.states)

    def test_what_the_last_test_contradicted_is_still_told(self, circuit):
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), tan_mg_l=8.0, ph=8.0)
        told = []
        for _ in range(2):
            services.forecast_waters([circuit.pk], moment=moment())
            told.append(WaterForecast.objects.get().outlook["disagreements"])
        assert kept(circuit).disagreements
        assert told[0]
        assert told[0] == told[1]

    def test_nothing_is_assimilated_twice(self, circuit, monkeypatch):
        first = bytes(WaterForecast.objects.get().bands)
        monkeypatch.setattr(run, "assimilate", lambda *args: pytest.fail("a test was taken in again"))
        services.forecast_waters([circuit.pk], moment=moment())
        scenario_of(circuit.pk, moment())
        assert bytes(WaterForecast.objects.get().bands) == first
        assert not WaterForecast.objects.get().failure


class TestTrust:
    def test_a_start_counts_until_the_window_moves_on(self, circuit):
        """Neither the clock nor the day, nor water topped up, nor a meal, changes what was before the last test."""
        for now in hours_of_this_week(circuit):
            FeedingFactory(enclosure=circuit.tank, at=now - timedelta(hours=3), offered_kg=0.1)
            renew(circuit, now - timedelta(hours=2))
            assert kept(circuit, now) is not None
        assert kept(circuit, NOW + timedelta(days=STEP_DAYS)) is None

    def test_a_new_month_changes_nothing_of_this_month(self):
        """Meals of the months before are known by the month: the span that is cut must not move with the day."""
        found = set()
        circuit = a_water(meals=120)
        for days in range(5):
            gathered = gather_one(circuit.pk, moment(NOW + timedelta(days=days)))
            if opened(circuit.pk, NOW + timedelta(days=days)) == opened(circuit.pk, NOW):
                found.add(repr(gathered.beginning))
        assert len(found) == 1

    @pytest.mark.parametrize(
        "change",
        [
            lambda water: FeedingFactory(enclosure=water.tank, at=days_ago(10), offered_kg=0.3),
            lambda water: renew(water, days_ago(5), "change", 0.2),
            lambda water: WaterTestFactory(circuit=water, at=days_ago(4), nitrate_n_mg_l=20.0),
            lambda water: water.water_tests.order_by("at").last().delete(),
            lambda water: water.water_tests.filter(at__lt=days_ago(10)).update(ph=8.4),
            lambda water: Feeding.objects.filter(at__lt=days_ago(8)).update(tan_g=9.0),
            lambda water: FilterUnit.objects.update(length_m=0.8),
            lambda water: Maintenance.objects.create(
                filter=FilterUnit.objects.get(), kind="bucket_test", at=days_ago(1), flow_m3_h=0.9
            ),
        ],
        ids=["meal", "change", "late test", "struck out", "amended", "meals amended", "size", "flow"],
    )
    def test_whatever_changes_the_past_makes_it_run_again(self, circuit, change):
        assert kept(circuit)
        change(circuit)
        assert kept(circuit) is None

    def test_the_forecast_of_a_day_gone_by_takes_no_start_from_today(self, circuit):
        before = ForecastStart.objects.get(pk=circuit.pk).digest
        then = moment(NOW - timedelta(days=12))
        services.forecast_waters([circuit.pk], moment=then, keeps_starts=False)
        assert WaterForecast.objects.filter(day=then.today).exists()
        assert ForecastStart.objects.get(pk=circuit.pk).digest == before
        assert kept(circuit)

    def test_another_model_trusts_no_start_of_this_one(self, circuit, monkeypatch):
        monkeypatch.setattr(starts, "model_version", lambda: "another")
        assert kept(circuit) is None

    def test_a_start_is_a_few_kilobytes(self, circuit):
        assert len(ForecastStart.objects.get().members) < 30_000
