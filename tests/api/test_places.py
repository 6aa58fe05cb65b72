"""Animals and places over the API."""

from datetime import UTC, datetime

import pytest

from husbandry.models import Placement
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def moved(refuge):
    """An animal that went from one tank to another on 10 January, 20:00 in New York (01:00 UTC on the 11th)."""
    first, second = make.EnclosureFactory(code="Q1"), make.EnclosureFactory(code="P1")
    animal = make.AnimalFactory(code="T1")
    move = datetime(2026, 1, 11, 1, 0, tzinfo=UTC)
    make.PlacementFactory(
        animal=animal, enclosure=first, starts_at=datetime(2025, 6, 1, tzinfo=UTC), ends_at=move
    )
    make.PlacementFactory(animal=animal, enclosure=second, starts_at=move)
    return animal


@pytest.mark.parametrize(
    ("on", "places"),
    [
        ("2025-05-30", []),
        ("2025-12-31", ["Q1"]),
        ("2026-01-10", ["P1", "Q1"]),  # the refuge's day, on which it was in both
        ("2026-01-11", ["P1"]),
    ],
)
def test_where_was_it_on_a_day(api, moved, on, places):
    rows = api.get(f"/api/placements/?animal={moved.pk}&on={on}").json()["results"]
    assert [row["enclosure_code"] for row in rows] == places


def test_an_animal_has_its_present_place(api, moved):
    gone = make.AnimalFactory(code="T2", status="released", left_on="2026-01-01", arrived_on="2025-01-01")
    rows = {row["code"]: row for row in api.get("/api/animals/").json()["results"]}
    assert rows["T1"]["place"]["enclosure_code"] == "P1" and rows["T1"]["place"]["ends_at"] is None
    assert rows[gone.code]["place"] is None
    here = Placement.objects.get(ends_at__isnull=True)
    for query in (f"enclosure={here.enclosure_id}", f"circuit={here.circuit_id}", "code=T1", "status=here"):
        found = api.get(f"/api/animals/?{query}").json()["results"]
        assert [row["code"] for row in found] == ["T1"], query
    was = Placement.objects.get(ends_at__isnull=False)
    assert api.get(f"/api/animals/?enclosure={was.enclosure_id}").json()["count"] == 0


def test_a_circuit_has_its_load_and_capacity(api):
    circuit = make.CircuitFactory()
    tank = make.EnclosureFactory(circuit=circuit)  # 2 m x 1 m x 0.5 m
    animal = make.AnimalFactory(placed_in=tank, mass_kg=55)
    make.FeedingPlanFactory(animal=animal, food__protein_fraction=0.164, ration_kg=1.36, every_days=7)
    make.FilterUnitFactory(circuit=circuit)
    empty = make.CircuitFactory()
    today = api.get(f"/api/circuits/{circuit.pk}/").json()["today"]
    assert today["volume_m3"] == pytest.approx(1.0)
    assert (today["animals"], today["mass_kg"]) == (1, 55)
    # 1.36 kg x 0.164 protein x 0.092 = 20.5 g a meal, one meal a week
    assert today["planned_tan_g_day"] == pytest.approx(1360 * 0.164 * 0.092 / 7)
    assert today["load_share"] == pytest.approx(today["tan_g_day"] / today["capacity_tan_g_day"])
    bare = api.get(f"/api/circuits/{empty.pk}/").json()["today"]
    assert bare["load_share"] is None and bare["capacity_tan_g_day"] is None


def test_weekdays_are_numbers(api):
    plan = make.FeedingPlanFactory(enclosure=make.EnclosureFactory(), every_days=None, weekdays=0b1000101)
    assert api.get(f"/api/feeding-plans/{plan.pk}/").json()["weekdays"] == [1, 3, 7]


@pytest.mark.parametrize("path", ["animals", "enclosures", "circuits", "filters", "placements", "foods"])
def test_places_and_animals_are_only_read(api, path):
    assert api.post(f"/api/{path}/", {}).status_code == 405
