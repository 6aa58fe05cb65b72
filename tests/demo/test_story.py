"""The story by itself: it follows its causes, stays within its days, and is the same when told again."""

import random
import subprocess
import sys
from dataclasses import fields
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from statistics import mean
from zoneinfo import ZoneInfo

import pytest

from husbandry.bioload import release_share
from husbandry.quarantine_dates import planned_end
from refuge.demo.daybook import Daybook
from refuge.demo.growth import grown_kg
from refuge.demo.happenings import Story
from refuge.demo.kinds import NO_FOOD_BELOW_C
from refuge.demo.place import OSSELMERE, TIME_ZONE
from refuge.demo.story import tell
from refuge.demo.waters import Nature, Waste, Water
from refuge.demo.weather import Weather, pond_mean_c
from refuge.demo.world import build_world
from tests.demo.conftest import TODAY

ZONE = ZoneInfo(TIME_ZONE)
RECORDED = ("meals", "readings", "renewals", "upkeep", "weighings", "health", "counts")


def stamps(story):
    return [each.stamp for name in RECORDED for each in getattr(story, name)]


def tan_of(story, circuit):
    return [(each.stamp.at, each.values["tan_mg_l"]) for each in story.readings if each.circuit == circuit]


class TestTell:
    def test_same_seed_and_day_tell_the_same_story(self):
        first, again = (tell(today=TODAY, seed=5, history_days=60) for _ in range(2))
        for each in fields(Story):
            assert getattr(first, each.name) == getattr(again, each.name), each.name

    def test_another_seed_tells_another_story(self):
        one, other = (tell(today=TODAY, seed=seed, history_days=30) for seed in (1, 2))
        assert one.meals != other.meals
        assert one.readings != other.readings

    def test_dates_move_with_today(self):
        later = TODAY + timedelta(days=40)
        lasts = [
            max(stamp.at for stamp in stamps(tell(today=day, seed=1, history_days=30)))
            for day in (TODAY, later)
        ]
        assert [last.astimezone(ZONE).date() for last in lasts] == [
            TODAY - timedelta(days=1),
            later - timedelta(days=1),
        ]

    def test_nothing_is_told_of_today_and_all_of_working_hours(self, story):
        # What was copied from paper lies before the first day; everything else within the story's days.
        first = TODAY - timedelta(days=548)
        for stamp in stamps(story):
            local = stamp.at.astimezone(ZONE)
            assert local.date() < TODAY
            assert time(7, 0) <= local.time() <= time(21, 40)
            assert stamp.entered_at > stamp.at
            assert local.date() >= first or "notebook" in stamp.note

    def test_covers_eighteen_months(self, story):
        days = {each.stamp.at.astimezone(ZONE).date() for each in story.counts}
        assert len(days) == 548

    def test_moments_are_utc(self, story):
        assert {stamp.at.tzinfo for stamp in stamps(story)} == {UTC}


class TestAnimals:
    def test_nobody_is_in_two_places(self, story):
        for code in story.animals:
            path = sorted(
                (each.starts_at, each.ends_at or datetime.max.replace(tzinfo=UTC))
                for each in story.residences
                if each.animal == code
            )
            assert all(end <= start for (_, end), (start, _) in pairwise(path))

    def test_whoever_is_here_has_one_open_place(self, story):
        openly = [each.animal for each in story.residences if each.ends_at is None]
        assert sorted(openly) == sorted(code for code, told in story.animals.items() if told.status == "here")

    def test_nobody_leaves_quarantine_before_its_end_unless_dead(self, story):
        died = {code for code, told in story.animals.items() if told.status == "died"}
        for each in story.quarantines:
            assert each.ends_on == planned_end(each.clock_from, each.days)
            if each.released_on and each.animal not in died:
                assert each.released_on >= each.ends_on

    def test_nobody_moves_outdoors_in_the_cold(self, story):
        ponds = {each.code for each in OSSELMERE.enclosures if each.is_outdoor}
        begun = datetime.combine(TODAY - timedelta(days=547), time(), tzinfo=UTC)
        moved = [each for each in story.residences if each.enclosure in ponds and each.starts_at > begun]
        assert all(pond_mean_c(each.starts_at.date()) > NO_FOOD_BELOW_C for each in moved)

    def test_the_young_grow_faster_than_the_old(self, story):
        def gain(code):
            masses = [each.mass_kg for each in story.weighings if each.animal == code]
            return masses[-1] / masses[0]

        young = {each.animal for each in story.residences if each.enclosure == "N3"}
        heavy = {each.animal for each in story.residences if each.enclosure == "R7"}
        assert min(map(gain, young)) > 1.5
        assert 0.97 < mean(map(gain, heavy)) < 1.1

    def test_outdoor_animals_are_fed_only_in_warm_water(self, story):
        pond = Weather(Daybook(TODAY), 1).outdoors()
        meals = [each for each in story.meals if each.circuit == "W05"]
        assert len(meals) > 200
        assert all(pond[each.stamp.at.astimezone(ZONE).date()] >= NO_FOOD_BELOW_C for each in meals)

    def test_the_heaviest_eat_the_usual_ration_once_a_week(self, story):
        boulder = next(
            each.animal for each in story.residences if each.enclosure == "Q7" and not each.ends_at
        )
        meals = [each for each in story.meals if each.animal == boulder]
        days = [each.stamp.at.astimezone(ZONE).date() for each in meals]
        assert mean(each.offered_kg for each in meals) == pytest.approx(1.36, rel=0.02)
        assert mean((b - a).days for a, b in pairwise(days)) == pytest.approx(7, abs=0.3)


class TestWater:
    def test_ammonia_peaks_after_the_first_meal_on_a_young_filter(self, story):
        first_meal = min(each.stamp.at for each in story.meals if each.circuit == "W09")
        before = [tan for at, tan in tan_of(story, "W09") if at < first_meal + timedelta(hours=12)]
        peak_at, peak = max(tan_of(story, "W09"), key=lambda each: each[1])
        assert peak > max(1.0, 2 * max(before))
        assert timedelta(days=1) <= peak_at - first_meal <= timedelta(days=6)

    def test_more_load_on_the_filter_more_ammonia(self, story):
        means = {code: mean(tan for _, tan in tan_of(story, code)) for code in ("W04", "W08", "W11")}
        assert means["W04"] > 3 * means["W08"] > 3 * means["W11"]

    def test_nitrate_climbs_where_the_water_is_no_longer_changed(self, story):
        nitrate = [
            each.values["nitrate_n_mg_l"]
            for each in story.readings
            if each.circuit == "W03" and "nitrate_n_mg_l" in each.values
        ]
        assert nitrate[-1] > 40 > 3 * mean(nitrate[:10])

    def test_tests_stop_where_nobody_does_them(self, story):
        last = max(each.stamp.at for each in story.readings if each.circuit == "W02")
        assert TODAY - last.date() > timedelta(days=30)

    def test_waste_is_released_as_the_sums_say(self):
        waste = Waste(gut_g=20.0)
        released = sum(waste.released_g(0.25, 23.0) for _ in range(12))
        assert released == pytest.approx(20.0 * release_share(3.0, 23.0), rel=1e-9)

    @pytest.mark.parametrize("capacity", [0.0, 0.4, 9.0])
    def test_no_nitrogen_is_lost_or_made(self, capacity):
        water = Water(1.3, tan=0.4, nitrite=0.1, nitrate=5.0, waste=Waste(gut_g=15.0))
        before = 1.3 * (0.4 + 0.1 + 5.0) + 15.0
        for _ in range(40):
            water.pass_time(0.25, 24.0, capacity, capacity, 0.0)
        after = 1.3 * (water.tan + water.nitrite + water.nitrate) + water.waste.gut_g + water.waste.loose_g
        assert after == pytest.approx(before, rel=1e-9)
        assert min(water.tan, water.nitrite, water.nitrate) >= 0

    def test_waters_differ_in_what_nobody_measures(self):
        natures = [Nature.drawn(random.Random(f"1:nature:{each.code}")) for each in OSSELMERE.circuits]
        assert len({each.excretion for each in natures}) == len(natures)
        assert all(0.5 < each.excretion < 2 and 0.1 < each.half_ammonia < 1.6 for each in natures)
        water = Water(1.3, waste=Waste(), nature=natures[0])
        water.feed(10.0)
        assert water.waste.gut_g == pytest.approx(10 * natures[0].excretion)

    def test_a_film_shrinks_within_weeks_of_hunger_and_fills_within_days(self):
        state = build_world(Daybook(TODAY), 1).circuits["W08"]
        state.capacity_when_mature_g_day = 9.0

        def after(days, fed_g):
            for _ in range(days):
                state.fed_today_g = fed_g
                state.remember_load()
            return state.film

        assert 0.6 < after(14, 0.0) < 0.75
        assert 0.2 <= after(120, 0.0) < 0.25
        assert after(14, 3.0) > 0.8

    def test_ph_of_a_water_at_rest_and_at_work(self):
        """At rest 2.2 mg/L of CO2 and 120 mg/L of alkalinity: 6.36 + log10(2.398 / 0.0500) = 8.04; work makes more CO2."""
        resting, busy = (Water(1.3, flow_m3_day=40.0, waste=Waste(gut_g=gut)) for gut in (0.0, 20.0))
        for water in (resting, busy):
            water.tan = 0.0
            for _ in range(8):
                water.pass_time(0.25, 24.0, 9.0, 9.0, 0.0)
        assert resting.ph == pytest.approx(8.04, abs=0.02)
        assert 6.8 < busy.ph < resting.ph - 0.2

    def test_ph_stays_within_what_keepers_see(self, story):
        read = [each.values["ph"] for each in story.readings]
        assert min(read) >= 6.0
        assert max(read) <= 9.0
        assert 7.5 < mean(read) < 8.3


class TestFilters:
    def test_the_neglected_filter_runs_at_about_half_and_no_other_does(self, story):
        shares = {
            plan.code: [
                each.seen["flow_m3_h"] / plan.flow_m3_h
                for each in story.upkeep
                if each.filter == plan.code and each.kind == "bucket_test"
            ][-1:]
            for plan in OSSELMERE.filters
        }
        assert 0.4 < shares.pop("F03")[0] < 0.6
        assert min(share[0] for share in shares.values() if share) > 0.65

    def test_drains_teach_what_truly_settles(self, story):
        drains = [each.seen for each in story.upkeep if each.filter == "F12" and each.kind == "drain"]
        surprise = [each["observed_sediment_l"] / each["predicted_sediment_l"] for each in drains]
        factor = next(each.sediment_factor for each in OSSELMERE.filters if each.code == "F12")
        assert surprise[0] == pytest.approx(factor, rel=0.2)
        assert mean(surprise[-3:]) == pytest.approx(1, abs=0.12)

    def test_every_drain_and_rinse_is_followed_by_a_bucket_test(self, story):
        def days(*kinds):
            return {
                (each.filter, each.stamp.at.astimezone(ZONE).date())
                for each in story.upkeep
                if each.kind in kinds and "notebook" not in each.stamp.note
            }

        assert days("drain", "rinse") <= days("bucket_test")


def test_grown_kg_rises_towards_its_final_weight_only_in_the_warm():
    assert grown_kg(1.0, 30.0, 0.13, 12.0, 100) == pytest.approx(1.0)
    masses = [1.0]
    for _ in range(6000):
        masses.append(grown_kg(masses[-1], 30.0, 0.13, 26.0, 10))
    assert all(a <= b <= 30.0 for a, b in pairwise(masses))
    assert masses[-1] == pytest.approx(30.0, rel=0.01)


@pytest.mark.parametrize(
    ("month", "day", "expected"),
    [(11, 1, date(2025, 11, 1)), (10, 26, date(2026, 10, 26)), (2, 29, date(2026, 2, 28))],
)
def test_latest_finds_the_last_such_day_at_least_a_month_ago(month, day, expected):
    assert Daybook(TODAY).latest(month, day, at_least_ago=30) == expected


def test_story_imports_no_django():
    look = "import sys, refuge.demo.story; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", look], check=False).returncode == 0
