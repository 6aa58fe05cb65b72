"""A volunteer finds a filter that stood still and records it on a phone: what is left, what to do, the forecast."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.helpers import sign_in
from tests.browser.test_forecast import water, worker_takes_the_wish  # noqa: F401 (a fixture)

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_night_without_flow_changes_advice_tasks_and_forecast(phone: Page, water: Any) -> None:  # noqa: F811
    from filtration.forecasting.models import WaterForecast
    from filtration.forecasting.packing import unpacked
    from refuge.rounds.models import Task
    from tests.factories import UserFactory

    def likely_ammonia() -> float:
        row = WaterForecast.objects.get(circuit=water)
        return float(unpacked(bytes(row.bands)).values[0, :, 2].max())

    def largest_meal() -> float:
        return float(WaterForecast.objects.get(circuit=water).outlook["ration"]["factor"])

    unit, borne = water.filters.get(), largest_meal()
    before, due = likely_ammonia(), Task.objects.get(rule="enclosures.water_test", scope=water.pk).due_on
    sign_in(phone, UserFactory())
    phone.goto(f"/filters/{unit.pk}/")
    phone.get_by_role("link", name="Something happened to it").click()
    expect(phone.get_by_label("How long")).to_be_hidden()
    phone.get_by_label("Medicine in the water").check()
    expect(phone.get_by_label("Which medicine")).to_be_visible()
    phone.get_by_label("Stood without flow").check()
    expect(phone.get_by_label("Which medicine")).to_be_hidden()
    phone.get_by_label("How long").fill("40")
    phone.get_by_role("button", name="Save").click()

    expect(phone.get_by_role("heading", name="Do this now")).to_be_visible()
    expect(phone.get_by_text("Flush the bed before its water goes back")).to_be_visible()
    expect(phone.get_by_text("Give no food until a test is good")).to_be_visible()
    expect(phone.get_by_role("button", name="Call it disturbed")).to_have_count(0)
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390

    worker_takes_the_wish()
    assert likely_ammonia() > before and largest_meal() < borne
    task = Task.objects.get(rule="enclosures.water_test", scope=water.pk, status="open")
    assert task.due_on <= due
    assert any("Stood without flow" in reason["text"] for reason in task.reasons)
    assert Task.objects.filter(rule="filtration.harm", status="open").exists()
    phone.goto(f"/waters/{water.pk}/")
    expect(phone.locator("#forecast")).to_contain_text("a meal keeps")
    expect(phone.locator("#history")).to_contain_text("Stood without flow: 40 hours")
