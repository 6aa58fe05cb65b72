"""The largest meal on each day until a young filter is mature: its steps, words, picture and page."""

import re
from dataclasses import replace
from datetime import UTC, date, timedelta

import pytest
import time_machine
from django.urls import reverse

from filtration.forecast import Meal
from filtration.forecasting import services
from filtration.forecasting.gather import gather_one, scenario_of
from filtration.forecasting.largest import BASE, WHOLE, largest_of, meal_of_day, steps_of
from filtration.forecasting.lines import meal_lines
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.young import days_on, weeks_ahead
from husbandry.rules import feeding
from refuge.rounds.loaders import load_facts
from tests import factories as make
from tests.factories import UserFactory
from tests.filtration.a_water import NOW, a_water, moment

MONDAY = date(2027, 3, 8)


def told(shares):
    found = largest_of({"maturing": {"ladder": shares, "meal_kg": 0.4}}, MONDAY)
    assert found is not None
    return found


def test_days_with_as_good_as_the_same_share_are_one_step_of_the_least_of_them():
    steps = steps_of([0.0, 0.01, 0.3, 0.31, 0.29, 0.5, 0.9, 1.0, 1.05], 0.4, MONDAY)
    assert [(step.first.day, step.last.day, step.share) for step in steps] == [
        (8, 9, 0.0),
        (10, 12, 0.29),
        (13, 13, 0.5),
        (14, 14, 0.9),
        (15, 16, 1.0),
    ]
    assert [step.words for step in steps[:2]] == ["none", "{food:0.116}"]


@pytest.mark.parametrize(
    ("shares", "words"),
    [
        (
            [0.0, 0.0, 0.5, 1.1],
            "No meal until Wed 10 Mar, then at most {food:0.2}; the planned {food:0.4} from Thu 11 Mar.",
        ),
        (
            [0.25, 0.25, 1.0],
            "Until it is mature at most {food:0.1} a meal now; the planned {food:0.4} from Wed 10 Mar.",
        ),
        ([0.0, 0.0, 1.26], "No meal until Wed 10 Mar, then the planned {food:0.4}."),
        # The whole plan for a day is not the whole plan for good.
        (
            [0.25, 1.0, 0.5],
            "Until it is mature at most {food:0.1} a meal now; the planned {food:0.4} not within these weeks.",
        ),
        (
            [0.0, 0.0],
            "No meal is sure to keep the limits in the weeks looked at; the planned {food:0.4} not within these weeks.",
        ),
        ([1.2, 1.3], "The planned meals of {food:0.4} may be given whole."),
    ],
)
def test_the_words_say_when_and_how_much(shares, words):
    assert told(shares).words == words


@pytest.mark.parametrize(
    ("shares", "words", "share"),
    [
        ([1.0, 1.1], "", 1.0),
        ([0.3, 0.25, 0.5], "Its filter is cycling", 0.25),
        ([0.5, 0.0, 0.01, 0.2], "No food before Thu 11 Mar: its filter is cycling", 0.0),
        ([0.5, 0.0], "No food yet: its filter is cycling. Ask a manager", 0.0),
        ([0.4], "Its filter is cycling", 0.4),  # the last day of a ladder stands for those after it
        (
            [0.5, 0.42, 0.4, 0.9],
            "Its filter is cycling",
            0.4,
        ),  # as the step of its page says, not a little more
    ],
)
def test_what_may_be_fed_on_the_day_after_the_forecast(shares, words, share):
    meal = meal_of_day(shares, MONDAY, MONDAY + timedelta(days=1))
    assert (meal.words, meal.share) == (words, share)
    assert bool(meal.more) == (share == 0)


def test_the_picture_stands_as_high_as_the_share_of_the_plan():
    half = told([0.0, 0.5])
    assert half.line.split()[1] == f"{BASE:.1f}"
    high = float(half.line.split()[-1])
    assert BASE - high == pytest.approx((BASE - half.plan_y) / 2, abs=0.1)


def test_of_a_forecast_of_yesterday_the_page_shows_what_the_task_offers_today():
    shares = [0.1, 0.31, 0.3, 0.9, 1.0]
    tuesday = MONDAY + timedelta(days=1)
    found = largest_of({"maturing": {"ladder": shares, "meal_kg": 0.4}}, MONDAY, today=tuesday)
    assert found.steps[0].first == tuesday
    assert found.steps[0].share == meal_of_day(shares, MONDAY, tuesday).share == 0.3
    assert found.words.startswith("Until it is mature at most {food:0.12} a meal now")
    assert found.steps[-1].last == MONDAY + timedelta(days=4)


def test_a_mature_filter_has_none():
    assert largest_of({"maturing": None}, MONDAY) is None
    assert largest_of({}, MONDAY) is None


@pytest.mark.django_db
@pytest.mark.parametrize(("system", "units"), [("metric", "k?g"), ("us", "lb|oz")])
def test_the_page_of_a_young_filter_shows_it_in_each_readers_units(client, system, units):
    circuit = a_water(state="cycling", filter_days=12)
    circuit.plan.ration_kg = 1.0
    circuit.plan.save()
    services.forecast_waters([circuit.pk], moment=moment())
    maturing = WaterForecast.objects.get(circuit=circuit).outlook["maturing"]
    assert len(maturing["ladder"]) >= 7
    assert all(0 <= share <= 2 for share in maturing["ladder"])
    with time_machine.travel(NOW, tick=False):
        client.force_login(UserFactory(unit_system=system))
        page = client.get(reverse("water_forecast", args=[circuit.pk])).content.decode()
    assert "Largest meal until the filter is mature" in page
    table = page[page.index("Largest meal, and its share of the plan") :]
    assert re.search(rf"\d\xa0({units})</td>", table[: table.index("</table>")])


@pytest.fixture
def young():
    circuit = a_water(state="cycling", filter_days=4, meals=1, tests=1)
    circuit.plan.ration_kg = 0.1
    circuit.plan.save()
    services.forecast_waters([circuit.pk], moment=moment())
    return circuit


def plan_with(young, ladder, **columns):
    """The facts of its plan, as the task's rule knows them, by a forecast with this ladder; columns: of the plan, since."""
    row = WaterForecast.objects.get(circuit=young)
    row.outlook["maturing"]["ladder"] = ladder
    row.save()
    for name, value in columns.items():
        setattr(young.plan, name, value)
    young.plan.save()
    return load_facts(frozenset([young.pk]), moment()).plan[young.plan.pk]


@pytest.mark.django_db
class TestMature:
    def test_fed_little_at_first_it_takes_longer_than_on_the_whole_plan(self, young):
        gathered, scenario = gather_one(young.pk, moment()), scenario_of(young.pk, moment())
        meals = [Meal(hour, 3.0, 10.0) for hour in range(0, 70 * 24, 48)]
        weeks = weeks_ahead(gathered, scenario, meals)
        whole, ladder = days_on(weeks, [1.0]), days_on(weeks, [0.0] * 14 + [1.0])
        assert ladder.early > whole.early + 3
        assert ladder.middle > whole.middle

    def test_the_days_are_those_on_the_meals_that_the_ladder_allows(self, young):
        outlook = WaterForecast.objects.get(circuit=young).outlook["maturing"]
        whole = next(n for n, share in enumerate(outlook["ladder"]) if share >= WHOLE)
        assert any(share < WHOLE for share in outlook["ladder"][:7])  # else nothing is shown here
        # Nine in ten waters bear the whole plan from that day on: not long before most are mature for it.
        assert outlook["days"][1] <= whole + 7
        assert outlook["days"][2] >= whole - 7

    def test_the_page_the_task_and_the_what_if_say_the_same_days(self, young, client):
        early, middle, late, _ = WaterForecast.objects.get(circuit=young).outlook["maturing"]["days"]
        said = f"{early:.0f} to {late:.0f} days, most likely about {middle:.0f}"
        unit = next(iter(load_facts(frozenset([young.pk]), moment()).filter.values()))
        assert unit.days_to_mature == middle
        with time_machine.travel(NOW, tick=False):
            client.force_login(UserFactory(role="staff"))
            page = client.get(young.get_absolute_url()).content.decode()
            tried = client.get(reverse("what_if", args=[young.pk]), {"degrees": "3"}).content.decode()
            of_filter = client.get(unit.path).content.decode()
        assert f"Mature in {said}" in page
        assert f"before: {said}" in tried
        assert f"about {middle:.0f} days until mature" in of_filter

    def test_the_feeding_task_offers_no_more_than_the_forecast_bears(self, young):
        due = list(feeding(plan_with(young, [0.3, 0.5]), {}, moment().today))[-1]
        assert due.prefill == {"offered_kg": 0.03, "at_most_kg": 0.03}
        assert due.instruction.startswith("Its filter is cycling: {food:0.03}")
        assert due.reason.startswith("Only {food:0.03} for now. Its filter is cycling. Plan: {food:0.1}")
        assert plan_with(young, [0.97]).restraint == ("", 1.0)
        against, meal = feeding(plan_with(young, [0.0, 0.0, 0.4]), {}, moment().today)
        assert against.reason == "No food before Fri 12 Mar: its filter is cycling"
        assert "keeps ammonia and nitrite within their limits. Take out" in against.instruction
        assert meal.prefill == {
            "offered_kg": None,
            "at_most_kg": 0.0,
        }  # nothing is filled in that is not to be given

    @pytest.mark.parametrize(("share", "is_said"), [(0.3, False), (0.0, False), (0.97, True)])
    def test_a_meal_that_is_not_given_whole_is_not_said_to_clear(self, young, share, is_said):
        row = WaterForecast.objects.get(circuit=young)
        row.outlook["maturing"]["ladder"] = [share]
        row.outlook["clearing"] = [
            {"at": NOW.isoformat(), "kg": 0.1, "hours": [1.0, 5.0, 9.0, 1.0], "is_given": False}
        ]
        said = [line.words for line in meal_lines(row, NOW.date(), UTC)]
        assert any(words.startswith("Clear again") for words in said) == is_said

    def test_what_it_carries_today_is_what_its_forecast_sees_grown(self, young):
        scope = frozenset([young.pk])
        grown = WaterForecast.objects.get(circuit=young).outlook["maturing"]["grown"]
        assert 0 < grown < 0.5
        water = load_facts(scope, moment()).circuit[young.pk]
        assert water.capacity_tan_g_day == pytest.approx(grown * water.mature_capacity_tan_g_day)
        make.FilterUnitFactory(circuit=young, state="mature")  # a forecast knows one bed
        both = load_facts(scope, moment())
        assert all(unit.grown is None for unit in both.filter.values())
        assert both.circuit[young.pk].capacity_tan_g_day > water.mature_capacity_tan_g_day * 0.9

    def test_the_days_of_yesterdays_forecast_are_one_fewer(self, young):
        row = WaterForecast.objects.get(circuit=young)
        tomorrow = moment(NOW + timedelta(days=1))
        unit = next(iter(load_facts(frozenset([young.pk]), tomorrow).filter.values()))
        assert unit.days_to_mature == row.outlook["maturing"]["days"][1] - 1


@pytest.mark.django_db
class TestAnotherPlan:
    """Until the forecast is made anew, its shares are those of the plan that it was made for: 0.1 kg every two days."""

    @pytest.mark.parametrize(
        ("columns", "given_kg"),
        [
            ({"ration_kg": 0.1}, 0.03),
            ({"ration_kg": 0.2}, 0.03),
            ({"ration_kg": 0.05}, 0.03),
            ({"ration_kg": 0.02}, 0.02),  # less than is borne: as planned
            ({"every_days": 1, "ration_kg": 0.05}, 0.015),  # as much a day
            ({"every_days": 4, "ration_kg": 0.2}, 0.03),  # no more at once
        ],
    )
    def test_it_offers_what_the_old_ones_share_allows(self, young, columns, given_kg):
        plan = plan_with(young, [0.3], **columns)
        assert plan.given_kg == pytest.approx(given_kg)
        assert bool(plan.restraint[0]) == (plan.given_kg < plan.ration_kg)

    def test_a_tiny_meal_is_not_forbidden_because_a_large_one_was(self, young):
        assert plan_with(young, [0.01]).restraint[1] == 0
        assert plan_with(young, [0.01], ration_kg=0.002).given_kg == pytest.approx(0.001)

    def test_two_plans_share_what_one_was_allowed(self, young):
        animal = make.AnimalFactory(placed_in=young.tank, arrived_on=moment().today)
        second = make.FeedingPlanFactory(
            enclosure=None,
            animal=animal,
            food=young.plan.food,
            ration_kg=0.05,
            every_days=2,
            starts_on=moment().today,
        )
        first = plan_with(young, [0.3])
        both = load_facts(frozenset([young.pk]), moment()).plan
        assert first.given_kg + both[second.pk].given_kg == pytest.approx(0.03)

    def test_without_a_meal_in_its_forecast_a_new_plan_waits_for_one(self, young):
        row = WaterForecast.objects.get(circuit=young)
        row.outlook["maturing"] = None
        row.save()
        words, share = load_facts(frozenset([young.pk]), moment()).plan[young.plan.pk].restraint
        assert share == 0 and words.startswith("Wait some minutes: its filter is cycling")
        young.filters.update(state="mature")
        assert load_facts(frozenset([young.pk]), moment()).plan[young.plan.pk].restraint == ("", 1.0)

    def test_a_water_that_nobody_has_read_is_tested_before_its_first_meal(self):
        circuit = a_water(state="cycling", filter_days=0, meals=0, tests=0)
        scope = frozenset([circuit.pk])
        assert load_facts(scope, moment()).plan[circuit.plan.pk].restraint == (
            "Test the water first: its filter is cycling, and nobody has read it",
            0.0,
        )
        grown = make.FilterUnitFactory(circuit=circuit, state="mature")
        assert load_facts(scope, moment()).plan[circuit.plan.pk].restraint[1] == 1.0
        grown.delete()
        make.WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1))
        for days, share in (
            (0, 0.0),
            (1, 0.0),
            (2, 1.0),
        ):  # no forecast comes: then nobody waits for it any longer
            later = moment(NOW + timedelta(days=days))
            assert load_facts(scope, later).plan[circuit.plan.pk].restraint[1] == share

    def test_a_filter_that_was_called_mature_holds_no_meal(self, young):
        assert plan_with(young, [0.3]).restraint[1] == 0.3
        young.filters.update(state="mature")
        assert plan_with(young, [0.3]).restraint == ("", 1.0)

    def test_what_was_read_goes_first_and_of_two_shares_the_smaller(self, young):
        plan = plan_with(young, [0.3])
        assert replace(plan, warning="Harmed", share=0.25).restraint == ("Harmed", 0.25)
        assert replace(plan, warning="Harmed", share=0.5).restraint == ("Its filter is cycling", 0.3)
        assert replace(plan, unfed="No food until a test is good").restraint[1] == 0
        nothing = replace(plan, young="No food yet", young_share=0.0, unfed="Nitrite was 1.5")
        assert nothing.restraint[0] == "Nitrite was 1.5"
