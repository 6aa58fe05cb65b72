"""What the loaded refuge holds. It is loaded once, inside a transaction that is rolled back after these tests."""

from collections import Counter
from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command
from django.db import transaction
from django.db.models import Count, F, Q

from enclosures.models import Circuit, Enclosure, WaterChange, WaterTest
from filtration.models import FilterHarm, FilterUnit, Maintenance
from filtration.nitrification import capacity_tan_g_day
from filtration.plans.selectors import plan_rows, plans
from husbandry.bioload import planned_daily_load
from husbandry.models import (
    Animal,
    Feeding,
    FeedingPlan,
    Food,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
    Quarantine,
    QuarantineCheck,
    QuarantineRestart,
)
from husbandry.quarantine_dates import day_count
from refuge.demo.accounts import PASSWORD, SIGN_INS
from refuge.demo.loading import NotEmpty, demo_load
from refuge.demo.place import OSSELMERE
from refuge.people.models import Refuge, User
from refuge.rounds.loaders import load_facts
from refuge.rounds.models import RuleFailure, Task
from refuge.rounds.planner import moment_for
from tests.demo.conftest import TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo")]

US_GALLON_M3 = 0.003785411784
RECORDS = (WaterTest, WaterChange, Feeding, Measurement, HealthRecord, HeadCount, Maintenance)


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker) -> Iterator[None]:
    with django_db_blocker.unblock():
        block = transaction.atomic()
        block.__enter__()
        demo_load(today=TODAY, seed=1)
    yield
    with django_db_blocker.unblock():
        transaction.set_rollback(True)
        block.__exit__(None, None, None)


class TestPlace:
    def test_is_marked_as_the_demo(self):
        assert Refuge.objects.get().is_demo

    def test_size_of_the_site(self):
        assert 20 <= Enclosure.objects.count() <= 28
        assert 8 <= Circuit.objects.count() <= 13
        assert 55 <= Animal.objects.filter(status="here").count() <= 65
        assert set(Animal.objects.values_list("status", flat=True)) == {
            "here",
            "released",
            "transferred",
            "died",
        }

    def test_nursery_comes_first_and_quarantine_last_on_the_walk(self):
        purposes = list(Enclosure.objects.values_list("purpose", flat=True))
        assert purposes[0] == "nursery"
        assert purposes[-1] == "quarantine"

    def test_pond_filter_holds_several_thousand_gallons(self):
        basin = FilterUnit.objects.get(code="F05")
        assert 3000 < basin.cross_section_m2 * basin.height_m / US_GALLON_M3 < 6000

    def test_filters_in_every_state_that_the_tour_needs(self):
        states = Counter(FilterUnit.objects.values_list("state", flat=True))
        assert states["building"] == 1
        assert states["cycling"] == 1
        assert states["mature"] >= 8

    def test_layers_fit_into_their_containers(self):
        for unit in FilterUnit.objects.prefetch_related("layers"):
            assert unit.void_height_m + sum(layer.depth_m for layer in unit.layers.all()) < unit.height_m


class TestPlansOfFilters:
    def test_one_does_and_one_has_a_fault_worth_reading(self):
        rows = {row.plan.name: row for row in plan_rows(plans())}
        good, fault = (rows[name] for name in ("Barrel for a big arrival", "Barrel with the old pond pump"))
        assert good.verdict.can_be_built
        # Its note says why: a shut return must not empty the tank.
        warned = {each.key for each in good.verdict.findings if each.severity == "warn"}
        # The other is the water's, whatever its filter: much food in little water.
        assert warned == {"shallow_intake", "alkalinity_used"}
        assert good.load.each < good.verdict.numbers.carries_tan_g_day
        assert not fault.verdict.can_be_built
        assert {"overtops", "fast_inlet"} <= {finding.key for finding in fault.verdict.findings}


class TestPeople:
    @pytest.mark.parametrize("username", SIGN_INS)
    def test_known_people_sign_in(self, username):
        person = authenticate(username=username, password=PASSWORD)
        assert person is not None
        assert person.role == username

    def test_roles_and_units(self):
        roles = Counter(User.objects.values_list("role", flat=True))
        assert roles == {"manager": 1, "staff": 3, "volunteer": 5}
        assert User.objects.filter(unit_system="us").count() == 1
        assert all(mail.endswith("@example.org") for mail in User.objects.values_list("email", flat=True))

    def test_volunteers_enter_part_of_the_work(self):
        by_role = Counter(HeadCount.objects.values_list("by__role", flat=True))
        assert by_role["volunteer"] > 1000

    def test_staff_work_is_not_done_by_volunteers(self):
        kinds = ["drain", "rinse", "protection_test", "leak_test", "state"]
        assert not Maintenance.objects.filter(kind__in=kinds, by__role="volunteer").exists()


class TestFilters:
    def test_one_pond_stood_without_flow_for_a_night(self):
        harm = FilterHarm.objects.get()
        assert (harm.filter.code, harm.kind, harm.hours) == ("F05", "no_flow", 9)
        assert harm.ended <= harm.entered_at


class TestAnimals:
    def test_everybody_here_has_one_open_placement_and_nobody_else_has(self):
        here = Animal.objects.annotate(
            places=Count("placements", filter=Q(placements__ends_at__isnull=True), distinct=True)
        )
        assert set(here.filter(status="here").values_list("places", flat=True)) == {1}
        assert set(here.exclude(status="here").values_list("places", flat=True)) == {0}

    def test_placements_say_the_circuit_of_their_enclosure(self):
        assert not Placement.objects.exclude(circuit=F("enclosure__circuit")).exists()

    def test_everybody_here_has_been_weighed(self):
        weighed = Measurement.objects.values("animal")
        assert not Animal.objects.filter(status="here").exclude(pk__in=weighed).exists()

    def test_lower_pond_is_in_winter_rest_and_the_hall_is_awake(self):
        here = Placement.objects.filter(ends_at__isnull=True)
        resting = here.filter(animal__brumating_since__isnull=False)
        assert resting.filter(enclosure__code="P4").count() == here.filter(enclosure__code="P4").count() > 0
        assert not resting.filter(enclosure__is_outdoor=False).exists()

    def test_pond_plans_fast_until_spring(self):
        until = FeedingPlan.objects.filter(ends_on__isnull=True, enclosure__circuit__code="W05").values_list(
            "fasting_until", flat=True
        )
        assert all(day is not None and day.month in (4, 5) for day in until)

    def test_every_subject_has_one_plan_in_force_for_a_food(self):
        rows = FeedingPlan.objects.filter(ends_on__isnull=True).values_list(
            "enclosure_id", "animal_id", "food_id"
        )
        assert len(rows) == len(set(rows))


class TestQuarantine:
    def test_days_so_far_are_spread_over_the_year(self):
        days = sorted(
            day_count(each, TODAY)
            for each in Quarantine.objects.filter(released_on__isnull=True).values_list(
                "clock_from", flat=True
            )
        )
        assert days == [10, 97, 200, 359]

    def test_one_ends_within_a_week(self):
        assert Quarantine.objects.filter(ends_on=TODAY + timedelta(days=7)).count() == 1

    def test_a_companion_restarted_a_clock(self):
        restart = QuarantineRestart.objects.get()
        assert restart.quarantine.clock_from == restart.on > restart.previous_clock_from
        assert restart.because_of.status == "died"

    def test_answers_belong_to_the_animal_and_come_on_or_after_the_day(self):
        answered = QuarantineCheck.objects.filter(answered_by__isnull=False)
        assert answered.count() > 40
        assert not answered.exclude(answered_by__animal=F("quarantine__animal")).exists()
        assert not answered.filter(answered_by__at__date__lt=F("due_on")).exists()

    def test_one_check_is_late(self):
        late = QuarantineCheck.objects.filter(answered_by__isnull=True, due_on__lt=TODAY)
        assert late.count() == 1


class TestForAnArrival:
    """A turtle of 55 kg, fed 1.36 kg of fish a week (facts of the trade: common practice, no source)."""

    def test_setup_a_is_free_on_a_mature_filter_that_can_carry_it_weekly_but_not_daily(self):
        setup = Enclosure.objects.get(code="Q1")
        assert not setup.placements.filter(ends_at__isnull=True).exists()
        assert setup.water_volume_m3 == pytest.approx(1.1)
        assert setup.circuit.water_source.disinfectant == "none"
        plan = next(each for each in OSSELMERE.filters if each.circuit == setup.circuit.code)
        assert setup.circuit.filters.get().state == "mature"
        fish = Food.objects.get(name="Channel catfish, wild")
        capacity = capacity_tan_g_day(plan.media_area_m2, 24)
        weekly, daily = (
            planned_daily_load(1.36, meals, fish.protein_fraction, fish.water_fraction).tan_g
            for meals in (1, 7)
        )
        assert weekly < 0.5 * capacity
        assert daily > 2 * capacity

    def test_the_free_half_of_setup_b_would_restart_a_clock(self):
        half = Enclosure.objects.get(code="Q3")
        assert not half.placements.filter(ends_at__isnull=True).exists()
        neighbour = Placement.objects.get(circuit=half.circuit, ends_at__isnull=True).animal
        assert neighbour.quarantines.filter(released_on__isnull=True).exists()


class TestRecords:
    @pytest.mark.parametrize("model", RECORDS)
    def test_rows_loaded_in_bulk_are_valid(self, model):
        rows = model.objects.order_by("pk")
        for row in [*rows[:25], *rows.reverse()[:25]]:
            row.full_clean()

    def test_meals_are_of_their_plan_and_place(self):
        assert not Feeding.objects.exclude(food=F("plan__food")).exists()
        assert not Feeding.objects.exclude(circuit=F("enclosure__circuit")).exists()
        assert not Feeding.objects.filter(refused=True).exclude(tan_g=0).exists()

    def test_meals_of_one_animal_were_served_where_it_lived(self):
        places = {}
        for row in Placement.objects.values_list("animal_id", "enclosure_id", "starts_at", "ends_at"):
            places.setdefault(row[0], []).append(row[1:])
        meals = Feeding.objects.filter(animal__isnull=False).values_list("animal_id", "enclosure_id", "at")
        for animal, enclosure, at in meals:
            assert any(
                where == enclosure and start <= at and (end is None or at < end)
                for where, start, end in places[animal]
            )

    def test_tap_water_never_came_in_without_a_conditioner(self):
        treated = WaterChange.objects.exclude(source__disinfectant="none")
        assert treated.exists()
        assert not treated.filter(Q(conditioner="") | Q(conditioner_g__isnull=True)).exists()

    def test_expected_sediment_agrees_with_what_the_program_reckons(self):
        """The story keeps its own books by the day; the program sums the meals since the last drain."""
        drains = Maintenance.objects.filter(filter__code="F12", kind="drain").order_by("-at")[:3]
        for drain in drains:
            moment = moment_for(now=drain.at - timedelta(hours=1))
            facts = load_facts(frozenset([drain.filter.circuit_id]), moment).filter[drain.filter_id]
            assert facts.sediment_l == pytest.approx(drain.predicted_sediment_l, rel=0.15)


class TestPlan:
    def test_the_day_is_planned_and_no_rule_failed(self):
        assert not RuleFailure.objects.exists()
        today = Task.objects.filter(status="open", due_on=TODAY)
        assert 25 <= today.count() <= 80
        assert {"husbandry.all_seen", "husbandry.feeding", "husbandry.quarantine_look"} <= set(
            today.values_list("rule", flat=True)
        )

    def test_a_few_tasks_are_overdue_mostly_of_what_is_neglected(self):
        overdue = Task.objects.filter(status="open", due_on__lt=TODAY)
        assert 5 <= overdue.count() <= 25
        assert overdue.filter(rule="filtration.pump_clean", subject_label__startswith="F03").exists()
        assert overdue.filter(rule="enclosures.water_test", subject_label__startswith="W02").exists()
        assert overdue.filter(rule="filtration.leak_test", subject_label__startswith="F13").exists()

    def test_the_pond_drains_in_years_a_heavy_eaters_barrel_in_months(self):
        def due(code):
            return Task.objects.get(rule="filtration.drain", subject_label__startswith=code).due_on

        drained = Maintenance.objects.filter(filter__code="F05", kind="drain").latest("at").at.date()
        assert due("F05") - drained > timedelta(days=2 * 365)
        drained = Maintenance.objects.filter(filter__code="F12", kind="drain").latest("at").at.date()
        assert timedelta(days=30) < due("F12") - drained < timedelta(days=183)

    def test_one_water_is_over_its_filters_capacity(self):
        facts = load_facts(None, moment_for(day=TODAY)).circuit.values()
        loads = {each.label[:3]: each.load_share for each in facts if not each.is_cycling}
        assert 1.0 < loads.pop("W04") < 1.4
        assert max(share or 0 for share in loads.values()) < 1.0


class TestRefusal:
    def test_command_refuses_a_database_that_holds_a_refuge(self):
        with pytest.raises(
            CommandError, match="empty database, and this one holds “Osselmere Turtle Refuge”"
        ):
            call_command("load_demo")

    def test_nothing_is_added(self):
        before = Feeding.objects.count()
        with pytest.raises(NotEmpty):
            demo_load(today=TODAY)
        assert Feeding.objects.count() == before
