"""What a what-if says of the meals of a young water: by its own forecast of after the change, not by today's share."""

import pytest
import time_machine

from filtration.forecasting import services
from filtration.what_if import ahead
from filtration.what_if.changes import Joined, OtherRation, SplitOff, Warmer, WithoutFilter
from filtration.what_if.facts import NEW
from filtration.what_if.kept import forget
from filtration.what_if.telling import given_words
from tests import factories as make
from tests.filtration.a_water import NOW, a_water, moment

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_kept():
    forget()
    with time_machine.travel(NOW, tick=False):
        yield
    forget()


@pytest.fixture
def young():
    """Four days old and never fed: its plan of 0.2 kg every other day is too much for it yet."""
    circuit = a_water(state="cycling", filter_days=4, meals=0, tests=1)
    services.forecast_waters([circuit.pk], moment=moment())
    return circuit


def after(water, *changes):
    """The plans' facts as the preview of the tasks gets them."""
    seen = {}

    def spy(change, *args, **kwargs):
        seen["after"] = change(None)
        return real(change, *args, **kwargs)

    real = ahead.preview
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ahead, "preview", spy)
        outlook = ahead.look(water, changes)
    return seen["after"], outlook


def test_before_says_what_the_stored_forecast_says(young):
    water = ahead.water_of(young.pk, moment())
    share = water.facts.plan[young.plan.pk].restraint[1]
    assert share < 1
    _, outlook = after(water, Warmer(0.5))
    assert outlook.given[0] == pytest.approx(share)


def test_a_smaller_ration_is_not_cut_again(young):
    water = ahead.water_of(young.pk, moment())
    share = water.facts.plan[young.plan.pk].young_share
    assert 0 < share < 0.5
    tiny = 0.2 * share / 2
    facts, outlook = after(water, OtherRation(young.plan.pk, ration_kg=tiny))
    assert facts.plan[young.plan.pk].given_kg == pytest.approx(tiny)
    assert outlook.given == (pytest.approx(share), 1.0)


def test_a_larger_one_is_offered_no_more_than_the_water_bears(young):
    water = ahead.water_of(young.pk, moment())
    old = water.facts.plan[young.plan.pk].given_kg
    facts, _ = after(water, OtherRation(young.plan.pk, ration_kg=0.3))
    assert facts.plan[young.plan.pk].given_kg == pytest.approx(old, rel=0.1)


def test_without_its_cycling_filter_no_forecast_of_a_growing_one_holds_a_meal(young):
    mature = make.FilterUnitFactory(
        circuit=young, area=young.tank.area, state="mature", state_since=NOW.date()
    )
    services.forecast_waters([young.pk], moment=moment())
    water = ahead.water_of(young.pk, moment())
    cycling = next(unit for unit in water.facts.filter.values() if unit.id != mature.pk)
    facts, _ = after(water, WithoutFilter(cycling.id, 0.5, 0.5))
    assert facts.plan[young.plan.pk].young == ""


def test_joined_with_a_mature_water_its_meals_go_by_the_water_they_would_share(young):
    mature = a_water()
    water = ahead.water_of(mature.pk, moment(), (young.pk,))
    assert water.facts.plan[young.plan.pk].young_share < 1
    other = ahead.scenario_as_it_is(water.others[young.pk])
    facts, outlook = after(water, Joined(young.pk, other))
    shares = {plan.young_share for plan in facts.plan.values()}
    assert len(shares) == 1  # one water, one share
    assert shares.pop() > water.facts.plan[young.plan.pk].young_share
    assert outlook.maturing is None  # the water that was asked about had no young filter


def test_a_part_that_is_split_off_takes_no_share_with_it(young):
    tank = make.EnclosureFactory(circuit=young, area=young.tank.area)
    animal = make.AnimalFactory(placed_in=tank, arrived_on=NOW.date())
    plan = make.FeedingPlanFactory(enclosure=None, animal=animal, food=young.plan.food, starts_on=NOW.date())
    services.forecast_waters([young.pk], moment=moment())
    water = ahead.water_of(young.pk, moment())
    facts, _ = after(water, SplitOff(tank.pk, None, 0.3, 0.0, 0.5))
    assert facts.plan[plan.pk].circuit_id == NEW
    assert facts.plan[plan.pk].young == ""


def test_a_meal_that_would_be_allowed_again_is_told(young):
    young.plan.ration_kg = 1.0
    young.plan.save()
    services.forecast_waters([young.pk], moment=moment())
    water = ahead.water_of(young.pk, moment())
    assert water.facts.plan[young.plan.pk].restraint[1] == 0
    facts, outlook = after(water, OtherRation(young.plan.pk, ration_kg=0.004))
    assert facts.plan[young.plan.pk].restraint == ("", 1.0)
    assert [shift.kind for shift in outlook.shifts if shift.title == "Feed"] == ["allowed"]
    assert outlook.given == (0.0, 1.0)


@pytest.mark.parametrize(
    ("shares", "words"),
    [
        ((0.3, 1.0), "Today: the whole meal; before: 30\xa0% of the meal."),
        ((0.0, 0.25), "Today: 25\xa0% of the meal; before: no food."),
        ((None, 0.25), "Today: 25\xa0% of the meal; before: no plan."),
        ((1.0, 1.0), ""),
        ((None, None), ""),
    ],
)
def test_what_may_be_given_today_in_words(shares, words):
    assert given_words(shares) == words
