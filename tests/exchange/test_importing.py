"""A file read in: what it would do, what is wrong with it, and then all of it or nothing."""

from datetime import UTC, date, datetime

import pytest
from django.utils import timezone

from enclosures.models import Area, Circuit, Enclosure, WaterTest
from husbandry.models import Animal, Feeding, Measurement, Placement, Species
from husbandry.services import feeding_record
from refuge.exchange.importing import import_file, preview
from refuge.exchange.registry import importable
from refuge.people.models import User
from refuge.records import void
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager(db):
    make.RefugeFactory()
    return make.UserFactory(manager=True)


@pytest.fixture
def bring(manager):
    def run(key, *lines, how=import_file):
        return how(key=key, content="\n".join(lines).encode(), name="list.csv", by=manager)

    return run


def told(outcome):
    return [(each.row, each.column, each.words) for each in outcome.mistakes]


class TestPreview:
    def test_it_says_what_would_happen_and_keeps_nothing(self, bring):
        make.AreaFactory(code="A1", name="Yard", biosecurity_rank=0)
        make.AreaFactory(code="A2", name="Barn", biosecurity_rank=1)
        lines = ["code,name,biosecurity_rank", "A1,Yard,0", "A2,Long barn,1", "A3,Pond,0"]
        outcome = bring("areas", *lines, how=preview)
        assert outcome.counts == [1, 1, 1]
        assert [(row.number, row.state, row.changes) for row in outcome.rows] == [
            (2, "unchanged", []),
            (3, "changed", [("name", "Barn", "Long barn")]),
            (4, "new", []),
        ]
        assert set(Area.objects.values_list("name", flat=True)) == {"Yard", "Barn"}

    def test_no_plan_is_made_for_what_was_taken_back(self, bring, django_capture_on_commit_callbacks):
        make.CircuitFactory(code="W9")
        with django_capture_on_commit_callbacks() as callbacks:
            bring("water_tests", "circuit,at,ph", "W9,2026-01-05 08:00,7.2", how=preview)
        assert callbacks == []
        with django_capture_on_commit_callbacks() as callbacks:
            bring("water_tests", "circuit,at,ph", "W9,2026-01-05 08:00,7.2")
        assert len(callbacks) == 1


class TestThings:
    def test_enclosures_with_units_words_and_defaults(self, bring):
        make.AreaFactory(code="A1")
        make.CircuitFactory(code="W1x")
        outcome = bring(
            "enclosures",
            "code;name;area;circuit;purpose;shape;length_m;width_m;water_depth_m;is_outdoor;measured_volume_m3",
            "P1;North pond;a1;w1X;;Round;12 ft;;2,5 ft;yes;",
            "P2;Tub;A1;W1x;Quarantine;rectangle;2;1;0,5;x;200 gal",
        )
        assert told(outcome) == [] and outcome.new == 2
        pond, tub = Enclosure.objects.get(code="P1"), Enclosure.objects.get(code="P2")
        assert (pond.length_m, pond.water_depth_m) == (pytest.approx(3.6576), pytest.approx(0.762))
        assert (pond.shape, pond.purpose, pond.is_outdoor, pond.in_use) == ("round", "resident", True, True)
        assert tub.measured_volume_m3 == pytest.approx(0.7570824)
        assert tub.history.get().history_change_reason == "File list.csv"

    def test_what_a_file_leaves_out_stays(self, bring, manager):
        make.EnclosureFactory(code="P1", note="Leaks", is_outdoor=True, position=7)
        outcome = bring("enclosures", "code,name", "p1,South pond")
        assert told(outcome) == [] and outcome.changed == 1
        pond = Enclosure.objects.get()
        assert (pond.code, pond.name, pond.note, pond.is_outdoor, pond.position) == (
            "P1",
            "South pond",
            "Leaks",
            True,
            7,
        )
        assert pond.history.first().history_user == manager

    def test_the_same_file_twice_changes_nothing(self, bring):
        lines = ["code,name,biosecurity_rank,position", "A1,Yard,0,1", "A2,Barn,1,2"]
        assert bring("areas", *lines).counts == [2, 0, 0]
        assert bring("areas", *lines).counts == [0, 0, 2]
        assert Area.objects.count() == 2

    def test_mistakes_name_row_and_column_and_nothing_is_kept(self, bring):
        make.AreaFactory(code="YARD")
        make.CircuitFactory(code="WA")
        outcome = bring(
            "enclosures",
            "code,name,area,circuit,shape,length_m,width_m,water_depth_m",
            "P1,Good,YARD,WA,rectangle,2,1,0.5",
            "P2,Bad,YRD,WA,square,2,1,0.5",
            "P3,Bad,YARD,WA,oval,nan,1,3 lb",
            "P4,Bad,YARD,WA,rectangle,501,,0.5",
            ",Bad,YARD,WA,round,1,,0.5",
        )
        assert [(row, column) for row, column, _ in told(outcome)] == [
            (3, "area"),
            (3, "shape"),
            (4, "length_m"),
            (4, "water_depth_m"),
            (5, "length_m"),
            (5, "width_m"),
            (6, "code"),
        ]
        words = {(row, column): text for row, column, text in told(outcome)}
        assert words[3, "area"].startswith("There is no area “YRD” here. Did you mean “YARD”?")
        assert "none of: rectangle, round, oval" in words[3, "shape"]
        assert "does not measure this" in words[4, "water_depth_m"]
        assert not Enclosure.objects.exists()

    def test_the_same_code_twice_in_a_file(self, bring):
        outcome = bring("areas", "code,name", "A1,Yard", "a1,Other")
        assert [(row, column) for row, column, _ in told(outcome)] == [(3, "")]
        assert "same as row 2" in told(outcome)[0][2]

    def test_an_occupied_enclosure_is_not_re_plumbed_by_a_file(self, bring):
        tank = make.EnclosureFactory(code="P1")
        make.AnimalFactory(placed_in=tank)
        make.CircuitFactory(code="WB")
        outcome = bring("enclosures", "code,circuit", "P1,WB")
        assert [(row, column) for row, column, _ in told(outcome)] == [(2, "circuit")]
        assert Enclosure.objects.get().circuit == tank.circuit

    def test_a_whole_refuge_from_nothing(self, bring):
        for key, *lines in [
            ("areas", "code,name", "A1,Yard"),
            ("water_sources", "name,disinfectant,ph", "Well,none,7.1"),
            ("circuits", "code,name,water_source,extra_volume_m3", "C1,Pond water,well,200 L"),
            ("enclosures", "code,name,area,circuit,length_m,width_m,water_depth_m", "P1,Pond,A1,C1,4,3,1"),
            ("species", "name,adult_mass_kg", "River turtle,121 lb"),
            ("foods", "name,water_fraction,protein_fraction,source", "Smelt,0.78,0.17,food table"),
            ("animals", "code,name,species,arrived_on,enclosure", "T1,Ada,river turtle,2024-05-01,P1"),
            ("feedings", "animal,at,food,offered_kg", "T1,2026-01-05,Smelt,3 lb"),
            ("water_tests", "circuit,at,nitrate_n_mg_l,basis", "C1,2026-01-05 08:00,44.27,ion"),
            ("measurements", "animal,at,mass_kg", "T1,2026-01-05,55"),
        ]:
            outcome = bring(key, *lines)
            assert told(outcome) == [] and outcome.counts == [1, 0, 0], key
        assert Circuit.objects.get().extra_volume_m3 == pytest.approx(0.2)
        assert Species.objects.get().adult_mass_kg == pytest.approx(54.88, abs=0.01)
        assert Placement.objects.get().starts_at == datetime(2024, 5, 1, tzinfo=UTC)
        # 62.004 / 14.007 = 4.427 mg of nitrate hold 1 mg of nitrogen (standard atomic weights)
        assert WaterTest.objects.get().nitrate_n_mg_l == pytest.approx(10, rel=1e-4)
        assert Measurement.objects.get().at == datetime(2026, 1, 5, 12, tzinfo=UTC)

    @pytest.mark.parametrize("resource", importable(), ids=lambda each: each.key)
    def test_numbers_past_every_bound_are_mistakes_not_faults(self, bring, resource):
        make.AreaFactory(code="A1")
        tank = make.EnclosureFactory(code="P1", circuit__code="C1")
        make.AnimalFactory(code="T1", placed_in=tank, species__name="River turtle")
        make.FoodFactory(name="Smelt")
        make.WaterSourceFactory(name="Well")
        good = {
            "code": "X1", "name": "X", "area": "A1", "circuit": "C1", "water_source": "Well", "species": "River turtle",
            "animal": "T1", "enclosure": "P1", "food": "Smelt", "at": "2026-01-05", "arrived_on": "2026-01-05",
            "disinfectant": "none", "source": "table", "length_m": "1", "width_m": "1", "water_depth_m": "1",
            "offered_kg": "1", "water_fraction": "0.5", "protein_fraction": "0.2", "usual_temperature_c": "20",
        }  # fmt: skip
        names = list(resource.import_columns())
        numbers = [name for name in names if name not in good or name in {"length_m", "offered_kg"}]
        for name in [
            n for n in numbers if n.endswith(("_m", "_kg", "_c", "_l", "_m3", "_fraction", "ph", "position"))
        ]:
            for value in ["nan", "inf", "-1e300", "1e300", "a lot", "=1+1"]:
                row = {**{n: good.get(n, "") for n in names}, name: value}
                outcome = bring(resource.key, ",".join(names), ",".join(row.values()))
                assert {each.column for each in outcome.mistakes} == {name}, (name, value, outcome.mistakes)


class TestAnimals:
    def test_a_file_moves_nobody(self, bring):
        tank = make.EnclosureFactory(code="P1")
        make.EnclosureFactory(code="P2")
        make.AnimalFactory(code="T1", placed_in=tank)
        outcome = bring("animals", "code,enclosure", "T1,P2")
        assert told(outcome)[0][:2] == (2, "enclosure") and "lives in P1" in told(outcome)[0][2]
        assert bring("animals", "code,enclosure", "T1,p1").unchanged == 1
        assert bring("animals", "code,name,enclosure", "T1,Ada,").changed == 1

    def test_a_newcomer_to_a_quarantine_is_taken_in_on_its_page(self, bring):
        tank = make.EnclosureFactory(code="Q1")
        make.QuarantineFactory(animal=make.AnimalFactory(placed_in=tank))
        make.SpeciesFactory(name="River turtle")
        outcome = bring("animals", "code,species,arrived_on,enclosure", "T9,River turtle,2026-01-05,Q1")
        assert told(outcome)[0][:2] == (2, "enclosure") and "start anew" in told(outcome)[0][2]
        assert not Animal.objects.filter(code="T9").exists()

    @pytest.mark.parametrize(
        ("cells", "column"),
        [
            ("T9,River turtle,2200-01-01,here,,", "arrived_on"),
            ("T9,River turtle,2026-01-05,here,2026-02-01,", "left_on"),
            ("T9,River turtle,2026-01-05,died,,", "left_on"),
            ("T9,River turtle,2026-01-05,died,2025-02-01,", "left_on"),
            ("T9,River turtle,2026-01-05,sold,,", "status"),
            ("T9,Sea turtle,2026-01-05,here,,", "species"),
            ("T9,River turtle,soon,here,,", "arrived_on"),
            ("T9,River turtle,2026-01-05,here,,900000000000001", "transponder"),
        ],
    )
    def test_what_does_not_fit(self, bring, cells, column):
        make.AnimalFactory(code="T1", species__name="River turtle", transponder="900000000000001")
        outcome = bring("animals", "code,species,arrived_on,status,left_on,transponder", cells)
        assert [each[1] for each in told(outcome)] == [column]

    def test_two_new_animals_with_one_transponder(self, bring):
        make.SpeciesFactory(name="River turtle")
        lines = [
            "code,species,arrived_on,transponder",
            *(f"T{n},River turtle,2026-01-05,9001" for n in (1, 2)),
        ]
        outcome = bring("animals", *lines)
        assert told(outcome)[0][:2] == (3, "") and "belongs to another one" in told(outcome)[0][2]
        assert not Animal.objects.exists()


class TestRecords:
    def test_the_same_file_twice_makes_no_second_record(self, bring):
        make.CircuitFactory(code="W9")
        lines = ["circuit,at,ph,tan_mg_l", "W9,2026-01-05 08:00,7.2,0.25", "W9,2026-01-06 08:00,7.3,0"]
        assert bring("water_tests", *lines).counts == [2, 0, 0]
        assert bring("water_tests", *lines).counts == [0, 0, 2]
        assert WaterTest.objects.count() == 2

    def test_a_changed_row_is_an_amendment(self, bring, manager):
        make.CircuitFactory(code="W9")
        bring("water_tests", "circuit,at,ph,tan_mg_l,note", "W9,2026-01-05 08:00,7.2,0.25,Windy")
        outcome = bring("water_tests", "circuit,at,ph", "W9,2026-01-05 08:00,7.8")
        assert outcome.counts == [0, 1, 0]
        assert outcome.rows[0].changes == [("ph", "7.2", "7.8")]
        test = WaterTest.objects.get()
        assert (test.ph, test.tan_mg_l, test.note) == (7.8, 0.25, "Windy")
        newest, first = test.history.all()
        assert (first.ph, newest.history_change_reason, newest.history_user) == (
            7.2,
            "File list.csv",
            manager,
        )

    def test_a_uuid_says_which_record_it_is(self, bring):
        test = make.WaterTestFactory(circuit__code="W9", at=datetime(2026, 1, 5, 8, tzinfo=UTC), ph=7.2)
        outcome = bring("water_tests", "uuid,circuit,at,ph", f"{test.uuid},W9,2026-01-05 09:30,7.2")
        assert outcome.counts == [0, 1, 0]
        assert WaterTest.objects.get().at == datetime(2026, 1, 5, 9, 30, tzinfo=UTC)

    def test_a_file_does_not_say_of_what_a_record_is(self, bring):
        test = make.WaterTestFactory(circuit__code="W9")
        make.CircuitFactory(code="W8")
        outcome = bring("water_tests", "uuid,circuit,at,ph", f"{test.uuid},W8,2026-01-05,7")
        assert [each[:2] for each in told(outcome)] == [(2, "circuit")]

    def test_what_was_struck_out_stays_so(self, bring, manager):
        test = make.WaterTestFactory(circuit__code="W9", ph=7.2)
        void(record=test, by=manager, reason="Other tank")
        outcome = bring("water_tests", "uuid,circuit,at,ph", f"{test.uuid},W9,2026-01-05,6")
        assert outcome.counts == [0, 0, 1] and "struck out" in outcome.rows[0].label
        assert not WaterTest.objects.exists()

    def test_two_meals_of_one_moment_need_times_that_differ(self, bring):
        make.AnimalFactory(code="T1", placed_in=make.EnclosureFactory())
        make.FoodFactory(name="Smelt")
        make.FoodFactory(name="Crab")
        head = "animal,at,food,offered_kg"
        same = bring("feedings", head, "T1,2026-01-05,Smelt,1", "T1,2026-01-05,Smelt,1")
        assert told(same)[0][0] == 3 and "times that differ" in told(same)[0][2]
        assert bring("feedings", head, "T1,2026-01-05,Smelt,1", "T1,2026-01-05,Crab,1").new == 2

    def test_a_meal_is_computed_as_the_service_does(self, bring, manager):
        tank = make.EnclosureFactory()
        animal = make.AnimalFactory(code="T1", placed_in=tank)
        food = make.FoodFactory(name="Smelt", phosphorus_fraction=0.003)
        moments = [datetime(2026, 1, day, 12, tzinfo=UTC) for day in (5, 6)]
        bring(
            "feedings",
            "animal,at,food,offered_kg,left_kg,refused",
            "T1,2026-01-05,Smelt,1.5,0.25,no",
            "T1,2026-01-06,Smelt,1.5,0.25,yes",
        )
        names = (
            "tan_g",
            "solids_g",
            "left_kg",
            "offered_kg",
            "refused",
            "enclosure",
            "circuit",
            "animal",
            "food",
        )
        brought = [[getattr(each, name) for name in names] for each in Feeding.objects.order_by("at")]
        Feeding.objects.all().delete()
        from uuid import uuid4

        for moment, refused in zip(moments, (False, True), strict=True):
            feeding_record(
                by=manager, at=moment, uuid=uuid4(), food=food, animal=animal, offered_kg=1.5, left_kg=0.25,
                refused=refused,
            )  # fmt: skip
        typed = [[getattr(each, name) for name in names] for each in Feeding.objects.order_by("at")]
        assert brought == typed
        assert brought[0][0] == pytest.approx(1.25 * food.protein_fraction * 92)

    def test_a_meal_was_where_the_animal_was(self, bring):
        first, second = make.EnclosureFactory(code="P1"), make.EnclosureFactory(code="P2")
        animal = make.AnimalFactory(code="T1", arrived_on=date(2025, 1, 1))
        moved = datetime(2026, 1, 5, 12, tzinfo=UTC)
        make.PlacementFactory(
            animal=animal, enclosure=first, starts_at=datetime(2025, 1, 1, tzinfo=UTC), ends_at=moved
        )
        make.PlacementFactory(animal=animal, enclosure=second, starts_at=moved)
        make.FoodFactory(name="Smelt")
        head = "animal,at,food,offered_kg"
        assert (
            told(bring("feedings", head, "T1,2026-01-05 11:59,Smelt,1", "T1,2026-01-05 12:00,Smelt,1")) == []
        )
        assert [meal.enclosure.code for meal in Feeding.objects.order_by("at")] == ["P1", "P2"]
        outcome = bring("feedings", head, "T1,2024-12-31,Smelt,1", ",2024-12-31,Smelt,1")
        assert [each[:2] for each in told(outcome)] == [(2, "animal"), (3, "animal")]

    def test_nothing_read_and_nothing_to_read(self, bring):
        make.CircuitFactory(code="W9")
        outcome = bring(
            "water_tests",
            "circuit,at,ph,nitrate_n_mg_l",
            "W9,2026-01-05,,",
            "W9,,7,",
            "W9,2200-01-05,7,",
            'W9,2026-01-06,7,"1,200"',
        )
        assert [each[:2] for each in told(outcome)] == [(2, ""), (3, "at"), (4, "at"), (5, "nitrate_n_mg_l")]

    def test_it_is_entered_by_whoever_brings_it_and_now(self, bring, manager):
        make.CircuitFactory(code="W9")
        bring("water_tests", "circuit,at,ph", "W9,2020-01-05,7")
        test = WaterTest.objects.get()
        assert test.by == manager and (timezone.now() - test.entered_at).total_seconds() < 60

    def test_many_rows_cost_no_more_queries_than_few(self, bring):
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        make.AnimalFactory(code="T1", placed_in=make.EnclosureFactory())
        make.FoodFactory(name="Smelt")

        def cost(day, count):
            lines = [f"T1,2026-01-{day:02} 08:{n:02},Smelt,1" for n in range(count)]
            with CaptureQueriesContext(connection) as queries:
                assert bring("feedings", "animal,at,food,offered_kg", *lines).new == count
            return sum("SAVEPOINT" not in each["sql"] for each in queries)

        assert cost(1, 2) == cost(2, 50)


def test_whoever_brings_a_file_is_no_longer_needed_for_the_rows_it_made(bring, manager):
    """A person who leaves stays named in what they brought."""
    make.CircuitFactory(code="W9")
    bring("water_tests", "circuit,at,ph", "W9,2020-01-05,7")
    User.objects.filter(pk=manager.pk).update(is_active=False)
    assert WaterTest.objects.get().by == manager
