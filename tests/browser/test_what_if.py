"""A keeper tries out changes on a water, on a phone in real Chromium, with scripts and without."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from filtration.models import FilterUnit
from filtration.what_if.kept import forget
from husbandry.models import FeedingPlan
from tests import factories as make
from tests.browser.helpers import ready_to_forecast, sign_in

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def path():
    """A quarantine setup with a 55 kg animal fed weekly."""
    ready_to_forecast()
    forget()
    make.RefugeFactory()
    tank = make.EnclosureFactory(code="Q1", circuit__is_quarantine=True)
    make.FilterUnitFactory(circuit=tank.circuit, code="F1", name="Barrel")
    animal = make.AnimalFactory(code="T1", name="Fossil", placed_in=tank, mass_kg=55)
    food = make.FoodFactory(name="Whole carp")
    plan = make.FeedingPlanFactory(animal=animal, food=food)
    now = timezone.now()
    for days in range(2, 60, 7):
        make.FeedingFactory(
            enclosure=tank, animal=animal, plan=plan, food=food, at=now - timedelta(days=days)
        )
    for days in (1, 4, 20):
        make.WaterTestFactory(
            circuit=tank.circuit, at=now - timedelta(days=days), nitrate_n_mg_l=10, alkalinity_mg_l=150
        )
    return f"/waters/{tank.circuit_id}/what-if/"


def at_page(page: Page, path: str, **user) -> Page:
    sign_in(page, make.UserFactory(staff=True, **user))
    page.goto(path)
    return page


def test_weekly_against_daily_while_it_is_typed(phone: Page, path) -> None:
    page = at_page(phone, path)
    made = page.locator("#what-if-outcome")
    expect(made).to_contain_text("Nothing is changed yet")
    page.locator("#id_plan_every_days").press_sequentially("1")
    expect(made).to_contain_text("14 meals, 2.72 kg")
    page.locator("#id_plan_ration_kg").press_sequentially("3 lb")
    expect(made).to_contain_text("14 meals, 19.05 kg")
    expect(made.get_by_role("img", name="Worse:").first).to_be_visible()
    verdict = made.locator(".what-if-verdict")
    expect(verdict).to_contain_text(re.compile(r"^\s*(Worse|Better): "))
    expect(page.locator("#what-if-brief")).to_have_text(verdict.inner_text())
    expect(made.locator("figure svg").first).to_be_visible()
    expect(made.locator(".shifts")).to_contain_text("Feed, T1 Fossil")
    assert page.input_value("#id_plan_ration_kg") == "3 lb"
    assert FeedingPlan.objects.get().every_days == 7


def test_a_mistake_stands_beside_its_field_and_goes_again(phone: Page, path) -> None:
    page = at_page(phone, path)
    page.fill("#id_plan_ration_kg", "much")
    wrong = page.locator("#id_plan_ration_kg_error")
    expect(wrong).to_contain_text("no amount that can be read")
    assert page.input_value("#id_plan_ration_kg") == "much"
    page.fill("#id_plan_ration_kg", "2 kg")
    expect(wrong).to_have_text("")


def test_the_table_says_what_the_drawings_show(phone: Page, path) -> None:
    page = at_page(phone, path + "?plan_every_days=1&plan_ration_kg=1.36")
    page.get_by_text("The same as a table").click()
    row = page.get_by_role("row").filter(has_text="Un-ionized ammonia")
    expect(row).to_contain_text("before")
    expect(row).to_contain_text("%")


def test_what_is_unfolded_stays_so_while_more_is_typed(phone: Page, path) -> None:
    page = at_page(phone, path)
    page.fill("#id_plan_every_days", "1")
    page.get_by_text("The same as a table").click()
    expect(page.locator("#what-if-outcome")).to_contain_text("14 meals, 2.72 kg")
    expect(page.locator("table.table")).to_be_visible()
    page.fill("#id_plan_ration_kg", "1 kg")
    expect(page.locator("#what-if-outcome")).to_contain_text("14 meals, 14.00 kg")
    expect(page.locator("table.table")).to_be_visible()


def test_a_choice_is_answered_too(desk: Page, path) -> None:
    page = at_page(desk, path)
    page.get_by_text("Work on a filter").click()
    page.select_option("#id_lose", index=1)
    expect(page.locator("#what-if-outcome .shifts")).to_contain_text("Drain the sediment")


def test_it_works_without_scripts(chromium, live_server, path) -> None:
    context = chromium.new_context(
        base_url=live_server.url, java_script_enabled=False, viewport={"width": 390, "height": 844}
    )
    page = context.new_page()
    page.base_url = live_server.url  # type: ignore[attr-defined]
    at_page(page, path)
    page.get_by_text("Temperature and pumps").click()
    page.fill("#id_degrees", "5")
    page.get_by_role("button", name="Compare").click()
    expect(page.locator("#what-if-outcome")).to_contain_text("Before and after")
    assert page.input_value("#id_degrees") == "5"
    context.close()


def test_nothing_is_wider_than_a_phone_and_targets_are_large(phone: Page, path) -> None:
    page = at_page(phone, path + "?plan_every_days=1&plan_ration_kg=1.36")
    for summary in page.locator("summary").all():
        assert summary.bounding_box()["height"] >= 44
        summary.click()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_us_units(desk: Page, path) -> None:
    page = at_page(desk, path, unit_system="us")
    page.fill("#id_plan_ration_kg", "6")
    expect(page.locator("#what-if-outcome")).to_contain_text("2 meals, 12.00 lb")
    page.get_by_text("Temperature and pumps").click()
    expect(page.locator("#id_degrees_unit")).to_contain_text("°F")


def test_the_weeks_of_a_young_filter_follow_the_first_answer(phone: Page, path) -> None:
    FilterUnit.objects.update(state="cycling", state_since=timezone.localdate() - timedelta(days=10))
    page = at_page(phone, path)
    made = page.locator("#what-if-outcome")
    page.locator("#id_plan_ration_kg").press_sequentially("100 g")
    expect(made).to_contain_text("Filter mature in")
    expect(made).not_to_contain_text("being worked out")
    expect(made).to_contain_text("2 meals, 200\u00a0g")
