"""The page of a what-if: who may, what it compares, what it refuses beside the field, and that it writes nothing."""

import re
from datetime import timedelta
from urllib.parse import quote
from uuid import uuid4

import pytest
from django.utils import timezone

from filtration.harms.services import harm_record
from filtration.what_if.forms import DegreesField
from filtration.what_if.kept import forget
from husbandry.models import Animal, FeedingPlan
from refuge.rounds.loaders import load_facts
from refuge.rounds.models import Task
from refuge.rounds.planner import moment_for
from refuge.rules.engine import evaluate
from refuge.rules.triggers import day_text
from tests import factories as make
from tests.filtration.what_if.pages import part, text

pytestmark = pytest.mark.django_db


def _undated(reason: str) -> str:
    return re.sub(r"\d+ \w{3} \d{4}", "", reason)


class TestWhoMay:
    def test_volunteers_may_not(self, client, path):
        client.force_login(make.UserFactory(role="volunteer"))
        assert client.get(path).status_code == 403

    def test_managers_may(self, client, path):
        client.force_login(make.UserFactory(manager=True))
        assert client.get(path).status_code == 200

    def test_no_such_water(self, staff, tank):
        assert staff.get("/waters/999/what-if/").status_code == 404


class TestCompared:
    def test_without_a_change_it_is_the_water_as_it_is(self, staff, path):
        shown = text(staff.get(path))
        assert "As it is" in shown and "Nothing is changed yet" in shown
        assert "What the work would be" not in shown

    def test_the_picture_is_of_what_the_first_sentence_says_and_every_value_says_how_it_stands(
        self, staff, path
    ):
        context = staff.get(path).context
        verdict, rows = context["verdict"], context["rows"]
        assert context["first"] in rows and len(context["others"]) == len(rows) - 1
        if verdict.kind != "good":
            assert verdict.words.startswith(context["first"].name)
        assert {row.kind for row in rows} <= {"risk", "calm", "low"}
        assert all((row.kind == "calm") == ("stays" in row.words) for row in rows)

    def test_the_same_meal_daily_is_plainly_worse_than_weekly(self, staff, path):
        shown = text(staff.get(path, {"plan_every_days": "1", "plan_ration_kg": "1.36"}))
        assert re.search(
            r"Worse: \S.* is likely too high from .+?, for [\d.]+ of 14 days; before (none|[\d.]+)", shown
        )
        assert re.search(r"In two weeks: 14 meals, 19\.04 kg ; before: 2 meals, 2\.72 kg", shown)

    def test_where_nothing_is_fed_nothing_is_fed_otherwise(self, staff, path):
        FeedingPlan.objects.update(ends_on=timezone.localdate())
        shown = text(staff.get(path))
        assert "Feed differently" not in shown
        assert "Another animal" in shown

    def test_a_new_rhythm_alone_shares_out_the_food_of_a_week(self, staff, path):
        shown = text(staff.get(path, {"plan_every_days": "1"}))
        assert "14 meals, 2.72 kg" in shown
        assert "194 g" in shown  # in the reason of the meal that moves
        assert "In a week it is the same food" in shown

    def test_the_part_for_typing_brings_mistakes_and_headline_along(self, staff, path):
        answer = part(staff, path, {"degrees": "4"})
        body = answer.content.decode()
        assert "<html" not in body
        assert 'id="what-if-brief"' in body and "hx-swap-oob" in body
        assert "id_degrees_error" in body

    def test_another_food_counts_by_its_protein_on_the_changed_side_only(self, staff, path):
        leaves = make.FoodFactory(name="Leaves", protein_fraction=0.02, water_fraction=0.9)
        answer = staff.get(path, {"plan_food": leaves.pk})
        shown, outlook = text(answer), answer.context["outlook"]
        assert "Leaves, 2 % protein" in shown
        assert outlook.food_kg[0] == outlook.food_kg[1]
        ratio = outlook.after.planned_tan_g_day / outlook.before.planned_tan_g_day
        assert ratio == pytest.approx(0.02 / 0.164)
        ammonia = next(each for each in outlook.courses if each.bound.quantity == "unionized")
        assert ammonia.after.worst_chance <= ammonia.before.worst_chance
        nitrate = next(each for each in outlook.courses if each.bound.quantity == "nitrate")
        assert nitrate.before.bands[-1][2] > nitrate.after.bands[-1][2]
        # 1.36 kg a week at 16.4 and 2 % protein, of which 9.2 % is ammonia nitrogen: Timmons & Ebeling
        assert "0.4 g TAN a day ; before: 2.9" in shown

    def test_a_rich_food_is_worse_for_a_plan_and_for_a_newcomer(self, staff, path, tank):
        from husbandry.models import Food

        rich = make.FoodFactory(name="Meal", protein_fraction=0.6, water_fraction=0.1)
        plain = Food.objects.get(name="Whole carp")
        loads = [
            staff.get(path, {"mass_kg": "20", "food": food.pk, "enclosure": tank.pk}).context["outlook"].after
            for food in (plain, rich)
        ]
        assert loads[1].planned_tan_g_day > loads[0].planned_tan_g_day
        assert "Worse" in text(
            staff.get(path, {"plan_food": rich.pk, "plan_every_days": "1", "plan_ration_kg": "1.36"})
        )

    def test_whose_meals_change_must_be_said_where_there_are_several(self, staff, path, tank):
        food = make.FoodFactory()
        make.FeedingPlanFactory(animal=make.AnimalFactory(placed_in=tank, mass_kg=2), food=food)
        answer = staff.get(path, {"plan_food": food.pk})
        assert answer.status_code == 422
        assert "Choose whose meals are to change" in text(answer)

    def test_a_young_filter_says_when_it_is_mature_on_either_plan_and_at_either_warmth(
        self, staff, path, tank
    ):
        begun = timezone.localdate() - timedelta(days=7)
        tank.circuit.filters.update(state="cycling", state_since=begun)
        tank.circuit.water_tests.update(tan_mg_l=1.0, nitrite_n_mg_l=0.5)  # as of one that is still growing
        days = {
            typed: re.search(
                r"mature in (?:perhaps not within \d+ days|\d+ to .+?, most likely about (\d+)) ; before",
                shown,
            )
            for typed in ("4", "-8")
            for shown in [text(staff.get(path, {"degrees": typed}))]
        }
        warm, cold = (int(found[1] or 99) for found in days.values())
        assert warm < cold
        fasting = text(staff.get(path, {"plan_every_days": "7", "plan_ration_kg": "0.05"}))
        assert "Filter mature in" in fasting

    def test_what_takes_longest_follows_by_itself_while_somebody_types(self, staff, path, tank):
        tank.circuit.filters.update(state="cycling", state_since=timezone.localdate() - timedelta(days=14))
        part, typed = {"HX-Request": "true"}, {"plan_every_days": "1", "plan_ration_kg": "0.3"}
        soon = staff.get(path, typed, headers=part).content.decode()
        assert re.search(r'hx-trigger="load"[^>]*weeks', soon)
        assert "Filter mature in" not in text(staff.get(path, typed, headers=part))
        later = staff.get(path, typed | {"weeks": "1"}, headers=part)
        assert 'hx-trigger="load"' not in later.content.decode()
        assert "Filter mature in" in text(later)
        assert 'hx-trigger="load"' not in staff.get(path, typed).content.decode()
        tank.circuit.filters.update(state="mature")
        forget()
        assert 'hx-trigger="load"' not in staff.get(path, typed, headers=part).content.decode()

    def test_a_mature_filter_says_nothing_of_it(self, staff, path):
        assert "Filter mature in" not in text(staff.get(path, {"degrees": "4"}))

    def test_another_animal_brings_its_tasks_and_its_quarantine(self, staff, path, tank):
        from husbandry.models import Food

        data = {"mass_kg": "121 lb", "food": Food.objects.get().pk, "enclosure": tank.pk}
        shown = text(staff.get(path, data))
        assert "Quarantine check , The newcomer" in shown
        assert "4 meals" in shown

    def test_a_lost_filter_takes_its_work_along(self, staff, path, tank):
        unit = tank.circuit.filters.get()
        shown = text(staff.get(path, {"lose": unit.pk}))
        assert "Drain the sediment , F1 Barrel" in shown and "Worse" in shown

    def test_without_any_filter_it_carries_nothing_and_says_what_to_do(self, staff, path, tank):
        unit = tank.circuit.filters.get()
        answer = staff.get(path, {"lose": unit.pk})
        shown, verdict = text(answer), answer.context["verdict"]
        assert verdict.kind == "act"
        assert re.match(
            r"No filter: carries 0 of [\d.]+ g TAN a day, and 1 animal lives in it", verdict.words
        )
        assert "With the change no filter runs: it carries 0" in shown
        assert "Test ammonia, nitrite and pH every day" in shown and "Give no food" in shown
        assert "not known" not in shown

    def test_animals_without_food_are_no_reason_to_do_without_a_filter(self, staff, path, tank):
        FeedingPlan.objects.update(ends_on=timezone.localdate())
        unit = tank.circuit.filters.get()
        answer = staff.get(path, {"lose": unit.pk})
        assert answer.context["verdict"].words.startswith("No filter: carries 0")
        assert "No difference" not in text(answer)
        test = next(each for each in answer.context["outlook"].shifts if each.title == "Water test")
        assert test.after < test.before
        assert test.after <= timezone.localdate() + timedelta(
            days=2
        )  # three days after the last, by the rules

    def test_a_stop_asks_for_what_a_recorded_one_asks_for(self, staff, path, tank):
        """The same hours tried out here, and recorded: the same tasks, the same words."""
        told = staff.get(path, {"stop_hours": "12"}).context["outlook"].shifts
        began = timezone.now() - timedelta(hours=12)
        unit = tank.circuit.filters.get()
        harm_record(unit=unit, kind="no_flow", by=None, at=began, uuid=uuid4(), hours=12.0)
        plan = evaluate(load_facts(frozenset([tank.circuit_id]), moment_for()), {}, timezone.localdate())
        wanted = {each.rule.title: each for each in plan.wanted}
        by_title = {each.title: each for each in told}
        review, feed = by_title["Say whether the filter is disturbed"], by_title["Feed"]
        assert (review.kind, feed.kind) == ("new", "otherwise")
        for mine in (review, feed):
            reasons = [each.text for each in wanted[mine.title].reasons]
            assert any(_undated(mine.reason) == _undated(each) for each in reasons), (mine.reason, reasons)
        assert "no food until ammonia and nitrite are read near zero" in feed.reason
        test = by_title["Water test"]
        assert test.after <= timezone.localdate() + timedelta(days=2)

    @pytest.mark.parametrize("hours", ["1", "12", "48"])
    def test_a_stop_is_never_called_better(self, staff, path, hours):
        verdict = staff.get(path, {"stop_hours": hours}).context["verdict"]
        assert verdict.kind in ("watch", "act")
        assert not verdict.words.startswith("Better")
        assert f"Pumps off for {hours} hour" in verdict.words + verdict.more

    def test_a_join_with_a_quarantine_is_told_before_anything_else(self, staff, path, tank):
        other = make.EnclosureFactory(circuit__name="Other water")
        make.FilterUnitFactory(circuit=other.circuit)
        make.WaterTestFactory(circuit=other.circuit, alkalinity_mg_l=150)
        make.AnimalFactory(code="T7", name="Moss", placed_in=other, mass_kg=3)
        began = timezone.localdate() - timedelta(days=100)
        make.QuarantineFactory(
            animal=Animal.objects.get(code="T1"), started_on=began, clock_from=began, days=365
        )
        verdict = staff.get(path, {"join": other.circuit_id}).context["verdict"]
        ends = day_text(timezone.localdate() + timedelta(days=365))
        assert verdict.kind == "act"
        assert verdict.words.startswith(f"Quarantine starts anew for T1 Fossil: it would end on {ends}")
        assert "Exposed to a quarantine: T7 Moss" in verdict.more

    def test_no_day_that_has_gone_by_is_shown(self, staff, path, tank):
        """Fed two days ago, once a week: daily meals begin today, not yesterday."""
        told = staff.get(path, {"plan_every_days": "1"}).context["outlook"].shifts
        feed = next(each for each in told if each.title == "Feed")
        assert feed.is_due_now
        assert all(
            day is None or day >= timezone.localdate() for each in told for day in (each.before, each.after)
        )
        assert "due now" in text(staff.get(path, {"plan_every_days": "1"}))

    def test_a_join_compares_with_the_waters_as_one(self, staff, path):
        other = make.EnclosureFactory(circuit__name="Other water")
        make.FilterUnitFactory(circuit=other.circuit)
        make.WaterTestFactory(circuit=other.circuit, alkalinity_mg_l=150)
        shown = text(staff.get(path, {"join": other.circuit_id}))
        assert "Before and after" in shown
        assert "Water test" in shown

    def test_what_is_split_off_is_told_apart(self, staff, path, tank):
        shown = text(staff.get(path, {"split": tank.pk}))
        assert "What is split off," in shown
        assert "on its own" in shown

    def test_a_danger_in_what_is_split_off_is_drawn_first(self, staff, path, tank):
        context = staff.get(path, {"split": tank.pk}).context
        assert "What is split off: No filter" in context["verdict"].words
        assert context["first"].name.startswith("What is split off: ")
        assert len(context["others"]) == len(context["rows"])

    def test_nothing_is_written(self, staff, path, tank):
        staff.get(path, {"plan_every_days": "1", "degrees": "3", "stop_hours": "12"})
        assert FeedingPlan.objects.get().every_days == 7
        assert not Task.objects.exists()

    def test_a_water_that_cannot_be_forecast_says_why(self, staff, tank):
        bare = make.EnclosureFactory()
        shown = text(staff.get(f"/waters/{bare.circuit_id}/what-if/"))
        assert "cannot be forecast without a running filter" in shown

    def test_what_is_missing_has_a_way_to_it(self, staff, tank):
        bare = make.EnclosureFactory()
        path = f"/waters/{bare.circuit_id}/what-if/"
        assert f'href="/waters/{bare.circuit_id}/">' in staff.get(path).content.decode().split("<form")[1]
        make.FilterUnitFactory(circuit=bare.circuit)
        assert f'href="/record/water_test/{bare.circuit_id}/?next={quote(path, safe="")}"' in (
            staff.get(path).content.decode()
        )

    def test_a_water_never_tested_offers_no_changes_and_takes_none(self, staff, tank):
        bare = make.EnclosureFactory()
        make.FilterUnitFactory(circuit=bare.circuit)
        animal = make.AnimalFactory(placed_in=bare, mass_kg=5)
        make.FeedingPlanFactory(animal=animal)
        shown = text(
            staff.get(f"/waters/{bare.circuit_id}/what-if/", {"plan_every_days": "1", "degrees": "3"})
        )
        assert "cannot be forecast without a water test" in shown
        assert "Feed differently" not in shown

    def test_us_units_are_read_and_shown(self, client, path):
        client.force_login(make.UserFactory(manager=True, unit_system="us"))
        shown = text(client.get(path, {"plan_ration_kg": "6", "degrees": "5 F"}))
        assert "12.00 lb" in shown  # two meals of 6 lb


class TestRefused:
    @pytest.mark.parametrize(
        ("typed", "field", "words"),
        [
            ({"plan_ration_kg": "much"}, "plan_ration_kg", "no amount that can be read"),
            ({"plan_ration_kg": "500"}, "plan_ration_kg", "more than can be right"),
            ({"plan_every_days": "0"}, "plan_every_days", "lies between 1 and 60 days"),
            ({"degrees": "warm"}, "degrees", "no number of degrees"),
            ({"degrees": "nan"}, "degrees", "no number of degrees"),
            ({"degrees": "40"}, "degrees", "more than can be meant"),
            ({"stop_hours": "1000"}, "stop_hours", "lies between 1 and 336 hours"),
            ({"mass_kg": "55"}, "food", "Choose what it eats"),
            ({"lose": "777"}, "lose", "none of the answers offered"),
        ],
    )
    def test_beside_the_field_and_nothing_typed_is_lost(self, staff, path, typed, field, words):
        answer = staff.get(path, typed)
        assert answer.status_code == 422
        [(_, value)] = typed.items()
        body = answer.content.decode()
        place = body.index(f'id="id_{field}_error"')
        assert words in body[place : place + 900]
        assert f'value="{value}"' in body or field == "lose"
        assert "Before and after" in body or "As it is" in body

    def test_a_water_that_lacks_something_cannot_be_joined(self, staff, path):
        bare = make.EnclosureFactory()
        answer = staff.get(path, {"join": bare.circuit_id})
        assert answer.status_code == 422
        assert "It lacks a running filter" in text(answer)

    @pytest.mark.parametrize("join", ["x", "-3", "99999999999999999999", "0"])
    def test_nonsense_in_the_address_is_no_server_error(self, staff, path, join):
        assert staff.get(path, {"join": join}).status_code in (200, 422)


@pytest.mark.parametrize(
    ("typed", "system", "degrees"),
    [("3", "metric", 3), ("-4,5", "metric", -4.5), ("9", "us", 5), ("9 F", "metric", 5), ("5 °C", "us", 5)],
)
def test_degrees_are_differences(typed, system, degrees):
    field = DegreesField()
    field.system = system
    assert field.clean(typed) == pytest.approx(degrees)
