"""The pages of things in a real browser: charts on request, room on a phone, an answer in place."""

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from refuge.rounds.planner import plan_site
from tests.browser.helpers import sign_in
from tests.factories import (
    AnimalFactory,
    EnclosureFactory,
    FilterUnitFactory,
    RefugeFactory,
    UserFactory,
    WaterTestFactory,
)

pytestmark = pytest.mark.django_db(transaction=True)


def a_site():
    RefugeFactory()
    enclosure = EnclosureFactory()
    unit = FilterUnitFactory(circuit=enclosure.circuit)
    animal = AnimalFactory(placed_in=enclosure, mass_kg=12.0)
    for days in range(4):
        WaterTestFactory(
            circuit=enclosure.circuit, at=timezone.now() - timedelta(days=days), tan_mg_l=days / 4
        )
    return enclosure, unit, animal


def test_a_phone_fetches_the_drawing_library_only_when_asked(phone: Page) -> None:
    enclosure, _, _ = a_site()
    sign_in(phone, UserFactory(manager=True))
    fetched: list[str] = []
    phone.on("request", lambda request: fetched.append(request.url) if "plotly" in request.url else None)
    phone.goto(enclosure.circuit.get_absolute_url())
    phone.wait_for_load_state("networkidle")
    assert fetched == []
    phone.tap("[data-chart] > button")
    expect(phone.locator(".chart-place .main-svg").first).to_be_visible()
    assert len(fetched) == 1


def test_every_page_of_a_thing_fits_a_phone(phone: Page) -> None:
    enclosure, unit, animal = a_site()
    sign_in(phone, UserFactory(manager=True))
    for path in (
        "/waters/", "/enclosures/", "/filters/", "/animals/", "/site/",
        enclosure.circuit.get_absolute_url(), enclosure.get_absolute_url(),
        unit.get_absolute_url(), animal.get_absolute_url(),
    ):  # fmt: skip
        phone.goto(path)
        assert phone.evaluate("document.documentElement.scrollWidth") <= 390, path


def test_where_an_animal_was_is_answered_in_place(desk: Page) -> None:
    enclosure, _, animal = a_site()
    sign_in(desk, UserFactory())
    desk.goto(animal.get_absolute_url())
    desk.fill("#on", (timezone.localdate() - timedelta(days=30)).isoformat())
    desk.click(".where button")
    expect(desk.locator("#where-answer")).to_contain_text(str(enclosure))


def test_what_stands_around_finished_work_follows_it_at_once(phone: Page) -> None:
    """A leak test entered on the filter's own page: its history and its next states are those of now."""
    enclosure, _, _ = a_site()
    unit = FilterUnitFactory(circuit=enclosure.circuit, state="building")
    plan_site()
    sign_in(phone, UserFactory(staff=True))
    phone.goto(unit.get_absolute_url())
    expect(phone.locator("#history")).not_to_contain_text("Leak test")
    phone.locator(".task", has_text="Leak test").first.locator("a.task-open").tap()
    form = phone.locator(".task[data-open]")
    form.get_by_role("radio", name="Passed").tap()
    form.get_by_role("button", name="Save").tap()
    expect(phone.locator("#history")).to_contain_text("Leak test")
    expect(phone.locator(".due-list .task[data-done]")).to_contain_text("Leak test")


def test_a_thumb_meets_what_leads_back_and_what_amends(phone: Page) -> None:
    enclosure, *_ = a_site()
    sign_in(phone, UserFactory(manager=True))
    phone.goto(enclosure.circuit.get_absolute_url())
    boxes = [each.bounding_box() for each in phone.locator(".kicker a, .amend").all()]
    assert len(boxes) > 2
    assert all(box and box["height"] >= 44 and box["width"] >= 44 for box in boxes), boxes
