"""The pages of waters and enclosures, and how a water stands."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from enclosures.charts import readings_figure
from enclosures.models import Area, Circuit, Enclosure
from enclosures.selectors import test_points as points_of
from enclosures.states import how_it_stands
from refuge.rules.facts import Reading
from tests.factories import (
    AnimalFactory,
    AreaFactory,
    CircuitFactory,
    EnclosureFactory,
    FilterUnitFactory,
    RefugeFactory,
    UserFactory,
    WaterSourceFactory,
    WaterTestFactory,
)

pytestmark = pytest.mark.django_db
TODAY = date(2026, 5, 1)


def queries(client, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


def full_water():
    enclosure = EnclosureFactory()
    FilterUnitFactory(circuit=enclosure.circuit)
    AnimalFactory(placed_in=enclosure, mass_kg=3.0)
    WaterTestFactory(circuit=enclosure.circuit)
    return enclosure


@pytest.mark.parametrize("name", ["circuit_list", "enclosure_list", "site_setup"])
def test_a_list_costs_the_same_for_any_number_of_waters(client, manager, name):
    full_water()
    few = queries(client, reverse(name))
    for _ in range(5):
        full_water()
    assert queries(client, reverse(name)) == few


def test_a_waters_page_costs_the_same_however_much_is_in_it(client, manager):
    enclosure = full_water()
    few = queries(client, enclosure.circuit.get_absolute_url())
    for _ in range(5):
        other = EnclosureFactory(circuit=enclosure.circuit)
        AnimalFactory(placed_in=other, mass_kg=2.0)
        WaterTestFactory(circuit=enclosure.circuit, at=timezone.now() - timedelta(days=2))
        FilterUnitFactory(circuit=enclosure.circuit)
    assert queries(client, enclosure.circuit.get_absolute_url()) == few


def test_an_enclosures_page_costs_the_same_for_any_number_of_animals(client, manager):
    enclosure = full_water()
    few = queries(client, enclosure.get_absolute_url())
    for _ in range(5):
        AnimalFactory(placed_in=enclosure, mass_kg=2.0)
    assert queries(client, enclosure.get_absolute_url()) == few


@pytest.mark.parametrize(
    ("value", "low", "high", "state"),
    [
        (0.05, None, 0.05, "watch"),
        (0.051, None, 0.05, "act"),
        (0.01, None, 0.05, "good"),
        (79, 80, None, "act"),
        (85, 80, None, "watch"),
        (200, 80, None, "good"),
        (7.5, 6.5, 8.5, "good"),
        (8.4, 6.5, 8.5, "watch"),
        (8.6, 6.5, 8.5, "act"),
    ],
)
def test_how_a_reading_stands_between_its_limits(value, low, high, state):
    assert how_it_stands(Reading(value, TODAY), low, high, TODAY)[0] == state


def test_an_old_reading_says_nothing_unless_it_was_bad():
    old = TODAY - timedelta(days=1)
    assert how_it_stands(Reading(0.01, old), None, 0.05, TODAY)[0] == "unknown"
    assert how_it_stands(Reading(0.2, old), None, 0.05, TODAY)[0] == "act"
    assert how_it_stands(None, None, 0.05, TODAY)[0] == "unknown"


def test_the_figure_marks_what_is_beyond_and_leaves_out_what_was_never_read():
    circuit = CircuitFactory()
    WaterTestFactory(circuit=circuit, at=timezone.now() - timedelta(days=1), nitrite_n_mg_l=0.1)
    WaterTestFactory(circuit=circuit, nitrite_n_mg_l=2.0)
    figure = readings_figure(points_of(circuit.pk), {"nitrite": (None, 1.0)})
    names = {trace["name"]: trace for trace in figure["data"]}
    assert names["Nitrite"]["marker"]["symbol"] == ["circle", "diamond"]
    assert "Nitrate" not in names


def test_temperatures_are_drawn_in_the_readers_units():
    circuit = CircuitFactory()
    WaterTestFactory(circuit=circuit, temperature_c=25.0)
    figure = readings_figure(points_of(circuit.pk), {}, system="us")
    assert next(t for t in figure["data"] if t["name"] == "Temperature")["y"] == [77.0]


def test_an_empty_refuge_is_set_up_step_by_step(client, manager):
    assert "Before the day can be planned" in client.get(reverse("site_setup")).content.decode()
    client.post(reverse("area_new"), {"code": "A", "name": "Hall", "biosecurity_rank": 0, "position": 0})
    client.post(reverse("source_new"), {"name": "Well", "disinfectant": "none"})
    source, area = WaterSourceFactory(), Area.objects.get()
    answer = client.post(
        reverse("circuit_new"),
        {"code": "W1", "name": "Hall water", "water_source": source.pk, "usual_temperature_c": "75 F"},
    )
    circuit = Circuit.objects.get()
    assert answer.url == circuit.get_absolute_url()
    assert circuit.usual_temperature_c == pytest.approx(23.889, abs=0.01)
    assert f"{reverse('enclosure_new')}?water={circuit.pk}" in client.get(answer.url).content.decode()
    data = {
        "code": "E1", "name": "Tank", "area": area.pk, "circuit": circuit.pk, "purpose": "resident",
        "position": 1, "shape": "rectangle", "length_m": "8 ft", "water_depth_m": "50", "in_use": "on",
    }  # fmt: skip
    wrong = client.post(reverse("enclosure_new"), data)
    assert wrong.status_code == 422
    assert "8 ft" in wrong.content.decode()
    assert client.post(reverse("enclosure_new"), data | {"width_m": "1"}).status_code == 302
    assert Enclosure.objects.get().water_volume_m3 == pytest.approx(2.4384 * 0.5)


def test_a_water_that_follows_the_season_is_not_colder_in_summer(client, manager):
    data = {
        "code": "W1",
        "name": "Pond",
        "water_source": WaterSourceFactory().pk,
        "usual_temperature_c": "20",
    }
    wrong = client.post(reverse("circuit_new"), data | {"coldest_temperature_c": "24"})
    assert wrong.status_code == 422
    assert "cannot be warmer" in wrong.content.decode()
    assert client.post(reverse("circuit_new"), data | {"coldest_temperature_c": "40 F"}).status_code == 302
    pond = Circuit.objects.get()
    assert (pond.coldest_temperature_c, pond.warmest_month) == (pytest.approx(4.444, abs=0.01), 7)


def test_a_source_with_chlorine_must_say_how_much(client, manager):
    answer = client.post(reverse("source_new"), {"name": "Town", "disinfectant": "chlorine"})
    assert answer.status_code == 422
    assert "Enter how much" in answer.content.decode()


def test_a_label_holds_the_whole_address(client, manager, settings):
    enclosure = EnclosureFactory()
    page = client.get(reverse("enclosure_label", args=[enclosure.pk])).content.decode()
    assert settings.BASE_URL + enclosure.get_absolute_url() in page


def test_only_managers_set_up(client):
    RefugeFactory()
    client.force_login(UserFactory(staff=True))
    AreaFactory()
    assert client.get(reverse("site_setup")).status_code == 403
    assert client.get(reverse("circuit_new")).status_code == 403


@pytest.mark.parametrize(("nitrite", "leads"), [(0.05, False), (2.0, True)])
def test_a_reading_beyond_its_limit_leads_from_the_top_of_the_page_to_what_to_do(client, nitrite, leads):
    RefugeFactory()
    tank = EnclosureFactory()
    WaterTestFactory(circuit=tank.circuit, nitrite_n_mg_l=nitrite)
    client.force_login(UserFactory())
    page = client.get(tank.circuit.get_absolute_url()).content.decode()
    top = page[: page.index("What is due")]
    assert (reverse("water_help", args=[tank.circuit.pk]) in top) == leads


def test_a_small_line_tells_its_course_and_a_chart_where_its_numbers_are(client, manager):
    enclosure = EnclosureFactory()
    for days, nitrite in enumerate((0.3, 1.2, 0.0)):
        at = timezone.now() - timedelta(days=days)
        WaterTestFactory(circuit=enclosure.circuit, at=at, nitrite_n_mg_l=nitrite)
    page = client.get(enclosure.circuit.get_absolute_url()).content.decode()
    assert 'aria-label="Nitrite, last 3 readings: 0 to 1.2 mg/L N, lately 0.3"' in page
    assert "<noscript>" in page and "in the history of this page" in page
