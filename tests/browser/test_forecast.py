"""A bad ammonia test is entered on a phone: the forecast, the tasks and the advice change."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.helpers import sign_in

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def water() -> Any:
    """A water that is well, with its forecast and its plan, as of now."""
    from filtration.forecasting.services import forecast_waters
    from refuge.rounds.planner import plan_site
    from tests import factories as make

    now = datetime.now(UTC)
    make.RefugeFactory()
    tank = make.EnclosureFactory(name="East tank")
    make.FilterUnitFactory(circuit=tank.circuit, area=tank.area)
    make.AnimalFactory(placed_in=tank, mass_kg=12)
    food = make.FoodFactory()
    make.FeedingPlanFactory(enclosure=tank, food=food, ration_kg=0.05, every_days=2)
    for n in range(14):
        make.FeedingFactory(
            enclosure=tank, food=food, offered_kg=0.05, at=now - timedelta(days=1 + 2 * n, hours=2)
        )
    for n in range(4):
        make.WaterTestFactory(
            circuit=tank.circuit,
            at=now - timedelta(days=1 + 7 * n),
            ph=7.6,
            nitrate_n_mg_l=20.0,
            alkalinity_mg_l=180.0,
        )
    forecast_waters([tank.circuit_id])
    plan_site()
    return tank.circuit


def worker_takes_the_wish() -> None:
    from filtration.tasks import forecast_wanted

    forecast_wanted()


def test_a_bad_test_changes_forecast_tasks_and_advice(phone: Page, water: Any) -> None:
    from filtration.forecasting.models import WaterForecast
    from refuge.rounds.models import Task
    from tests.factories import UserFactory

    sign_in(phone, UserFactory(staff=True))
    phone.goto(f"/waters/{water.pk}/")
    section = phone.locator("#forecast")
    expect(section).to_contain_text("until")
    expect(section.get_by_role("link", name="what to do now")).to_have_count(0)
    before = Task.objects.get(rule="enclosures.water_test", scope=water.pk)
    assert WaterForecast.objects.get().helped_bands == b""

    phone.goto(f"/record/water_test/{water.pk}/")
    phone.get_by_label("Temperature").fill("24")
    phone.get_by_label("pH").fill("8.2")
    phone.get_by_label("Total ammonia").first.fill("4")
    phone.get_by_role("button", name="Save").click()

    expect(phone.get_by_role("heading", name="Do this now")).to_be_visible()
    expect(phone.get_by_text("Do not feed until a test is good again")).to_be_visible()
    expect(phone.get_by_text("of the water)")).to_be_visible()
    worker_takes_the_wish()
    expect(phone.locator("#compared svg.ahead")).to_be_visible(timeout=15_000)
    expect(phone.locator("#compared .a-helped-middle").first).to_be_attached()

    phone.goto(f"/waters/{water.pk}/")
    expect(section).to_contain_text("ammonia passes 0.05 mg/L N today")
    expect(section.get_by_role("link", name="what to do now")).to_be_visible()
    after = Task.objects.get(rule="enclosures.water_test", scope=water.pk, status="open")
    assert after.due_on < before.due_on
    assert any("Un-ionized ammonia" in reason["text"] for reason in after.reasons)
    now = Task.objects.get(rule="enclosures.water_change_now", scope=water.pk, status="open")
    assert now.prefill["volume_m3"] > 0
    expect(phone.get_by_text("Change water now: a reading is beyond its limit")).to_be_visible()


def test_the_picture_changes_in_place_and_the_table_says_the_same(phone: Page, water: Any) -> None:
    from tests.factories import UserFactory

    sign_in(phone, UserFactory())
    phone.goto(f"/waters/{water.pk}/")
    section = phone.locator("#forecast")
    section.get_by_role("link", name="Nitrate", exact=True).click()
    expect(section.locator("figcaption")).to_contain_text("Nitrate")
    assert phone.url.endswith(f"/waters/{water.pk}/")
    section.get_by_text("The same as a table").click()
    expect(section.locator("table.narrow tbody tr")).to_have_count(14)
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_chart_to_explore_is_drawn_on_request(phone: Page, water: Any) -> None:
    from tests.factories import UserFactory

    sign_in(phone, UserFactory())
    phone.goto(f"/waters/{water.pk}/forecast/")
    phone.get_by_role("button", name="open the chart").click()
    expect(phone.locator(".chart-place .main-svg").first).to_be_visible(timeout=20_000)
    expect(phone.get_by_role("heading", name="How is this computed?")).to_be_visible()
