"""The day's round on a phone in real Chromium: five kinds of work, and the plan that follows from them."""

import re
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from tests.browser.helpers import sign_in
from tests.rounds.conftest import Walk

pytestmark = pytest.mark.django_db(transaction=True)

WIDEST_OVERFLOW = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture
def walk(transactional_db: None) -> Walk:
    return Walk().plan_day()


def on_the_walk(page: Page, person: Any, address: str = "/") -> Page:
    sign_in(page, person)
    page.goto(address)
    return page


def row(page: Page, title: str, place: str = "") -> Locator:
    named = page.get_by_text(title, exact=True)
    return page.locator(".task:not([data-done])", has=named).filter(has_text=place).first


def opened(page: Page, title: str, place: str = "") -> Locator:
    row(page, title, place).locator("a.task-open").tap()
    body = page.locator(".task[data-open]")
    expect(body).to_be_visible()
    return body


def done(page: Page, words: str | re.Pattern[str]) -> Locator:
    found = page.locator(".task[data-done]", has_text=words).first
    expect(found).to_be_visible()
    return found


def progress(page: Page) -> str:
    return page.locator(".progress p").inner_text()


def test_a_volunteer_finishes_five_kinds_of_work_and_sees_the_plan_change(phone: Page, walk: Walk) -> None:
    page = on_the_walk(phone, walk.volunteer)
    due = int(progress(page).split(" of ")[1].split()[0])

    # One tap: all seen.
    page.get_by_role("button", name="All seen P1 North pond").tap()
    expect(done(page, "1 of 1 seen")).to_contain_text("Bento Alves, just now")
    expect(done(page, "1 of 1 seen")).to_contain_text("Next: tomorrow")
    assert progress(page) == f"1 of {due} done"

    # One tap: the meal of the plan.
    page.get_by_role("button", name="Fed as planned").tap()
    expect(done(page, "Fed 1.36")).to_contain_text("Next: in 2 days")

    # A water test with its numbers: nitrate beyond its limit.
    body = opened(page, "Water test", walk.pond.circuit.code)
    expect(body).to_contain_text("Never tested")
    body.get_by_label("Temperature").fill("75 F")
    body.get_by_label("pH", exact=True).fill("7,2")
    body.get_by_role("radio", name="nitrogen").tap()
    body.get_by_label("Nitrate").fill("120")
    body.get_by_role("button", name="Save").tap()
    tested = done(page, "nitrate 120.0")
    expect(tested).to_contain_text("23.9 °C")
    expect(tested).to_contain_text("Next: tomorrow")

    # A bucket test: 10 L in 18 s is 2,000 L/h. A slip first, then the right number; nothing is lost.
    body = opened(page, "Bucket test of the flow")
    body.get_by_label("Bucket", exact=True).fill("10")
    body.get_by_label("Seconds to fill it").fill("soon")
    body.get_by_label("Note").fill("Return is a bit clogged")
    body.get_by_role("button", name="Save").tap()
    expect(page.locator("[aria-invalid=true]")).to_be_focused()
    body = page.locator(".task[data-open]")
    expect(body.get_by_label("Note")).to_have_value("Return is a bit clogged")
    body.get_by_label("Seconds to fill it").fill("18")
    body.get_by_role("button", name="Save").tap()
    expect(done(page, re.compile("Bucket test: 2.000.L/h"))).to_be_visible()

    # Could not, with the reason. The fields of the record give way to it.
    body = opened(page, "Clean the pump and strainer")
    expect(body.get_by_label("Why?")).to_be_hidden()
    body.get_by_role("radio", name="Could not").tap()
    expect(body.get_by_label("Note")).to_be_hidden()
    body.get_by_label("Why?").fill("The shed is locked")
    body.get_by_role("button", name="Save").tap()
    expect(done(page, "Could not: The shed is locked")).to_contain_text("Next: tomorrow")
    assert progress(page).startswith("5 of")

    # All of it stands after a reload, and tomorrow holds what was put off.
    page.reload()
    assert progress(page).startswith("5 of")
    expect(page.locator(".done-today summary")).to_contain_text("Bento Alves 5")
    page.get_by_role("link", name="Tomorrow").tap()
    expect(page.locator(".task-title", has_text="Clean the pump")).to_be_visible()
    expect(page.locator(".task-title", has_text="Water test").first).to_be_visible()


def test_the_undo_brings_it_back(phone: Page, walk: Walk) -> None:
    page = on_the_walk(phone, walk.volunteer)
    before = progress(page)
    page.get_by_role("button", name="Fed as planned").tap()
    done(page, "Fed 1.36")
    page.locator(".toast").get_by_role("button", name="Undo").tap()
    expect(page.locator(".toast")).to_contain_text("Taken back: Feed")
    expect(page.get_by_role("button", name="Fed as planned")).to_be_visible()
    assert progress(page) == before


def test_the_second_person_learns_who_was_first(phone: Page, walk: Walk) -> None:
    page = on_the_walk(phone, walk.volunteer)
    walk.finish(walk.staff, walk.task("husbandry.feeding"), tap="1")
    page.get_by_role("button", name="Fed as planned").tap()
    expect(page.locator(".stop .notice")).to_contain_text("Ines Tarouca was first, at")
    expect(done(page, "Fed 1.36")).to_contain_text("Ines Tarouca")


def test_two_taps_at_once_are_one_record(phone: Page, walk: Walk) -> None:
    page = on_the_walk(phone, walk.volunteer)
    page.get_by_role("button", name="Fed as planned").dblclick()
    done(page, "Fed 1.36")
    page.reload()
    assert progress(page).startswith("1 of")


def test_an_opened_task_closes_again(phone: Page, walk: Walk) -> None:
    page = on_the_walk(phone, walk.volunteer)
    body = opened(page, "Bucket test of the flow")
    body.locator("button.task-open").tap()
    expect(page.locator(".task[data-open]")).to_have_count(0)
    expect(row(page, "Bucket test of the flow")).to_be_visible()


def test_without_script_it_works_too(chromium: Any, live_server: Any, walk: Walk) -> None:
    context = chromium.new_context(
        base_url=live_server.url, java_script_enabled=False, viewport={"width": 390, "height": 844}
    )
    page = context.new_page()
    page.base_url = live_server.url
    on_the_walk(page, walk.volunteer)
    page.get_by_role("button", name="Fed as planned").click()
    expect(page.locator(".notice")).to_contain_text("Feed: Fed 1.36")
    page.locator(".task[data-done]").get_by_role("button", name="Undo").click()
    expect(page.locator(".notice")).to_contain_text("Taken back: Feed")
    page.locator("a.task-open", has_text="Bucket test").click()
    page.get_by_label("Bucket", exact=True).fill("10")
    page.get_by_label("Seconds to fill it").fill("18")
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".notice").first).to_contain_text(re.compile("2.000.L/h"))
    context.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_everything_touched_is_large_enough_and_nothing_runs_off_the_screen(
    phone: Page, walk: Walk, theme: str
) -> None:
    walk.manager.theme = theme
    walk.manager.save()
    page = on_the_walk(phone, walk.manager)
    opened(page, "Water test", walk.pond.circuit.code)
    assert page.evaluate(WIDEST_OVERFLOW) <= 0
    targets = page.locator("main a:visible, main button:visible, main summary:visible, main .choice:visible")
    small = [
        (target.inner_text(), box["width"], box["height"])
        for target in targets.all()
        if (box := target.bounding_box()) and (box["height"] < 44 or box["width"] < 44)
    ]
    assert small == []


def test_the_hygiene_step_stands_before_quarantine(desk: Page, walk: Walk) -> None:
    page = on_the_walk(desk, walk.manager)
    crossing = page.locator(".crossing").bounding_box()
    tank = page.locator(f"#stop-enclosures-{walk.tank.pk}").bounding_box()
    pond = page.locator(f"#stop-enclosures-{walk.pond.pk}").bounding_box()
    assert crossing and tank and pond
    assert pond["y"] < crossing["y"] < tank["y"]
    assert timezone.localdate().strftime("%A") in page.title()
