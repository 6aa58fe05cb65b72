"""A manager takes in a large turtle for a year, and changes a limit, in real Chromium."""

import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils import timezone
from PIL import Image
from playwright.sync_api import Page, expect

from husbandry.models import Animal, Quarantine
from refuge.rounds.models import Limit, Task
from refuge.rounds.planner import plan_site
from tests import factories as make
from tests.browser.helpers import ready_to_forecast, sign_in

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def site():
    """One quarantine water of two tanks with an animal on day 201 in one, and a water of residents."""
    ready_to_forecast()
    make.RefugeFactory()
    make.SpeciesFactory(name="Mire snapper", adult_mass_kg=60, temperature_low_c=18, temperature_high_c=28)
    make.FoodFactory(name="Whole carp")
    tank = make.EnclosureFactory(
        code="Q1", name="Left", purpose="quarantine", circuit__is_quarantine=True, length_m=3.0
    )
    right = make.EnclosureFactory(code="Q2", name="Right", purpose="quarantine", circuit=tank.circuit)
    make.FilterUnitFactory(circuit=tank.circuit)
    make.WaterTestFactory(circuit=tank.circuit)
    animal = make.AnimalFactory(code="T031", name="Olga", placed_in=right, mass_kg=20)
    make.QuarantineFactory(animal=animal)
    residents = make.EnclosureFactory(code="R1", name="Hall")
    make.AnimalFactory(code="T001", placed_in=residents, mass_kg=30)
    plan_site()
    return tank


def fill_in(page: Page) -> None:
    page.fill("#id_code", "T900")
    page.fill("#id_name", "Fossil")
    page.select_option("#id_species", label="Mire snapper")
    page.fill("#id_mass_kg", "121 lb")
    page.fill("#id_carapace_m", "60")
    page.select_option("#id_food", label="Whole carp")


def at_new_arrival(page: Page) -> Page:
    sign_in(page, make.UserFactory(manager=True, name="Maya Fenn"))
    page.goto("/arrivals/new/")
    return page


def choose(page: Page, code: str) -> None:
    page.locator(".candidate", has_text=code).locator("input[type=radio]").check()
    expect(page.locator(".candidate[data-chosen]")).to_contain_text(code)


def test_an_arrival_of_55_kg_for_a_year(phone: Page, site, tmp_path: Path) -> None:
    page = at_new_arrival(phone)
    photo = tmp_path / "fossil.jpg"
    Image.new("RGB", (40, 30), "green").save(photo)
    fill_in(page)
    page.set_input_files("#id_photo", photo)
    expect(page.locator("#arrival-ration")).to_contain_text("1.37 kg")
    expect(page.locator("#arrival-dates")).to_contain_text("Planned end")
    expect(page.locator(".candidate").first).to_contain_text("Q1 Left")

    choose(page, "Q1 Left")
    card = page.locator(".candidate[data-chosen]")
    expect(card).to_contain_text("T031 Olga is on day 201 of 365")
    expect(card).to_contain_text("200 days lost")
    expect(card).to_contain_text("with the newcomer")
    expect(card.locator(".shifts")).to_contain_text("Quarantine ends: review, T900 Fossil")
    assert not Animal.objects.filter(code="T900").exists()

    page.get_by_role("button", name="Take it in").click()
    expect(page.locator("#id_restart_agreed_error")).to_contain_text("starts a quarantine anew")
    assert page.input_value("#id_name") == "Fossil"
    assert page.evaluate("document.getElementById('id_photo').files.length") == 1
    assert not Animal.objects.filter(code="T900").exists()

    page.locator("#id_restart_agreed").check()
    page.wait_for_load_state("networkidle")
    expect(page.locator("#id_restart_agreed")).to_be_checked()
    with page.expect_navigation(url=re.compile(r"/animals/\d+/")):
        page.get_by_role("button", name="Take it in").click()

    animal = Animal.objects.get(code="T900")
    assert page.url.endswith(f"/animals/{animal.pk}/")
    assert animal.photo
    today = timezone.now().date()
    assert Quarantine.objects.get(animal=animal).ends_on == today + timedelta(days=365)
    assert Quarantine.objects.get(animal__code="T031").ends_on == today + timedelta(days=365)
    titles = set(
        Task.objects.filter(status="open", subject_label="T900 Fossil").values_list("title", flat=True)
    )
    assert {"Feed", "Look at it: quarantine", "Quarantine check", "Quarantine ends: review"} <= titles


def test_the_places_follow_what_is_typed(desk: Page, site) -> None:
    page = at_new_arrival(desk)
    first = page.locator(".candidate").first
    expect(first).to_contain_text("The load it brings is not known")
    fill_in(page)
    page.locator("#id_food").blur()
    expect(first).to_contain_text("with the newcomer")
    page.check("#id_no_quarantine")
    expect(first).to_contain_text("R1 Hall")
    expect(page.locator("#arrival-dates")).to_contain_text("No quarantine")


def test_an_absurd_weight_loses_nothing(phone: Page, site) -> None:
    page = at_new_arrival(phone)
    fill_in(page)
    page.fill("#id_mass_kg", "5000")
    page.locator("#id_carapace_m").focus()
    choose(page, "Q1 Left")
    page.get_by_role("button", name="Take it in").click()
    expect(page.locator("#id_mass_kg_error")).to_contain_text("more than can be right")
    assert page.input_value("#id_mass_kg") == "5000"
    assert page.input_value("#id_name") == "Fossil"


def test_what_was_unfolded_stays_so_when_the_answer_comes(phone: Page, site) -> None:
    page = at_new_arrival(phone)
    fold = page.locator("#arrival-outlook details", has_text="How is this computed?")
    fold.locator("summary").click()
    fill_in(page)
    page.locator("#id_carapace_m").focus()
    expect(page.locator("#arrival-ration")).to_contain_text("1.37 kg")
    expect(fold).to_have_attribute("open", "")


def test_nothing_is_wider_than_a_phone(phone: Page, site) -> None:
    page = at_new_arrival(phone)
    for path in ("/arrivals/new/", "/overview/", "/limits/", "/limits/water.interval_light_days/"):
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, path


def test_a_limit_is_changed_and_says_why_a_due_date_moved(phone: Page, site) -> None:
    page = phone
    sign_in(page, make.UserFactory(manager=True, name="Maya Fenn"))
    before = Task.objects.get(rule="enclosures.water_test", scope=site.circuit_id, status="open").due_on
    page.goto("/limits/")
    page.get_by_role("link", name=re.compile("Water test, lightly loaded")).click()
    page.fill("#id_value", "5")
    page.locator("#id_reason").focus()
    expect(page.locator("#limit-preview")).to_contain_text("due date would move")
    assert not Limit.objects.exists()
    page.fill("#id_reason", "Warm spell")
    page.get_by_role("button", name="Set it").click()
    expect(page.locator("main")).to_contain_text("The plan is made anew")
    expect(page.locator("main")).to_contain_text("Warm spell")
    expect(page.locator("main")).to_contain_text("every 5 days")
    after = Task.objects.get(rule="enclosures.water_test", scope=site.circuit_id, status="open").due_on
    assert after == before - timedelta(days=9)
