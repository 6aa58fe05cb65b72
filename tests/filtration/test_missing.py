"""What the site's page says is missing for judging, each with a link to mend it."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from filtration.models import Maintenance
from refuge.pages.site import GAPS_SHOWN, site_parts
from refuge.records import void
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager():
    make.RefugeFactory()
    return make.UserFactory(manager=True)


@pytest.fixture
def browser(client, manager):
    client.force_login(manager)
    return client


@pytest.fixture
def tank(manager):
    """A water that lacks nothing: fed, weighed, filtered, protected."""
    enclosure = make.EnclosureFactory(code="P1", name="Pond")
    make.AnimalFactory(code="T1", name="Moss", placed_in=enclosure, mass_kg=4)
    make.FeedingPlanFactory(enclosure=enclosure)
    unit = make.FilterUnitFactory(code="F1", name="Barrel", circuit=enclosure.circuit)
    Maintenance.objects.create(filter=unit, kind="protection_test", passed=True)
    return enclosure


def gaps() -> dict[str, str]:
    return {gap.words: gap.url for part in site_parts() for gap in part.gaps}


def the_gap(start: str) -> str:
    found = [(words, url) for words, url in gaps().items() if words.startswith(start)]
    assert len(found) == len(gaps()) == 1, gaps()
    return found[0][1]


def resident(tank):
    return tank.placements.get().animal


def unit_of(tank):
    return tank.circuit.filters.get()


def test_nothing_is_missing(browser, tank):
    assert gaps() == {}
    assert "Nothing is missing" in browser.get("/site/").content.decode()


def test_an_animal_without_weight(tank, manager):
    for weight in resident(tank).measurements.all():
        void(record=weight, by=manager, reason="Another animal")
    url = the_gap("T1 Moss was never weighed")
    assert url.startswith(f"/record/measurement/{resident(tank).pk}/")


def test_an_animal_that_is_nowhere(tank):
    animal = make.AnimalFactory(code="T2", name="Reed", mass_kg=2)
    assert the_gap("T2 Reed is in no enclosure") == f"/animals/{animal.pk}/move/"


@pytest.mark.parametrize("ended", [True, False])
def test_an_enclosure_without_a_feeding_plan(tank, ended):
    plans = tank.feeding_plans.all()
    _ = plans.update(ends_on=timezone.localdate()) if ended else plans.delete()
    assert the_gap("P1 Pond: no feeding plan for an animal") == f"/enclosures/{tank.pk}/plan/"


def test_a_plan_of_its_own_or_brumation_is_enough(tank):
    tank.feeding_plans.all().delete()
    make.FeedingPlanFactory(animal=resident(tank))
    assert gaps() == {}
    sleeper = make.AnimalFactory(placed_in=tank, mass_kg=2, brumating_since=timezone.localdate())
    assert gaps() == {}
    make.AnimalFactory(placed_in=tank, mass_kg=2)
    make.AnimalFactory(placed_in=tank, mass_kg=2)
    assert list(gaps()) == ["P1 Pond: no feeding plan for 2 animals"]
    assert sleeper.brumating_since


def test_a_water_with_animals_and_no_filter(browser, tank):
    Maintenance.objects.all().delete()
    unit_of(tank).delete()
    url = the_gap(f"{tank.circuit} has animals and no running filter")
    assert url == f"/filters/new/?water={tank.circuit_id}"
    html = browser.get(url).content.decode()
    assert f'<option value="{tank.circuit_id}" selected>' in html


def test_a_water_whose_filter_rests(tank):
    unit = unit_of(tank)
    unit.state = "resting"
    unit.save()
    assert the_gap(f"{tank.circuit} has animals and no running filter") == unit.get_absolute_url()


def test_a_water_without_animals_needs_no_filter(tank):
    make.EnclosureFactory()
    assert gaps() == {}


def test_a_filter_without_a_pump(tank):
    unit_of(tank).pump.delete()
    assert the_gap("F1 Barrel has no pump") == f"/filters/{unit_of(tank).pk}/edit/"


def test_a_filter_without_media(tank):
    unit_of(tank).layers.all().delete()
    assert the_gap("F1 Barrel has no media") == f"/filters/{unit_of(tank).pk}/edit/"


def test_a_filter_whose_protection_was_never_tested(browser, tank):
    Maintenance.objects.all().delete()
    url = the_gap("F1 Barrel: residual-current (ground-fault) protection never tested")
    assert url.startswith(f"/record/protection_test/{unit_of(tank).pk}/")
    assert browser.get(url).status_code == 200


def test_a_water_without_enclosures_has_no_volume(tank):
    circuit = make.CircuitFactory()
    assert the_gap(f"{circuit} has no enclosure").endswith(f"?water={circuit.pk}")


def test_many_of_a_kind_are_counted(tank):
    for number in range(GAPS_SHOWN + 3):
        make.AnimalFactory(code=f"N{number:02}", placed_in=tank)
    found = gaps()
    assert len(found) == GAPS_SHOWN + 1
    assert found["And 3 more animals were never weighed"] == "/animals/"


def test_the_page_costs_the_same_for_any_number_of_gaps(browser, tank):
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert browser.get("/site/").status_code == 200
        return len(asked)

    def incomplete() -> None:
        bare = make.EnclosureFactory()
        make.AnimalFactory(placed_in=bare)
        make.AnimalFactory()
        make.CircuitFactory()
        make.FilterUnitFactory(layers=[], pumped=False)
        make.FilterUnitFactory(state="resting", circuit=bare.circuit)

    incomplete()
    few = queries()
    for _ in range(4):
        incomplete()
    assert queries() == few


def test_the_overview_leads_there(browser, tank):
    assert 'href="/site/#gaps"' in browser.get("/overview/").content.decode()
