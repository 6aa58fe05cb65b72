"""What the page script and the style sheet do in a real browser, on the page of components."""

import re

import pytest
from django.urls import include, path
from playwright.sync_api import Page, Request, expect

from refuge.gallery import gallery
from tests.browser.helpers import sign_in

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.urls(__name__)]

urlpatterns = [path("components/", gallery, name="gallery"), path("", include("refuge.urls"))]

UUID4 = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")


def at_components(page: Page) -> Page:
    from tests.people.factories import RefugeFactory, UserFactory

    RefugeFactory()
    sign_in(page, UserFactory(manager=True, name="Ines Tarouca"))
    page.goto("/components/")
    return page


def posts(page: Page) -> list[Request]:
    """The list that fills with every request that writes."""
    seen: list[Request] = []
    page.on("request", lambda request: seen.append(request) if request.method == "POST" else None)
    return seen


def test_hidden_ids_are_filled_by_the_browser_itself(phone: Page) -> None:
    """Without crypto.randomUUID: a phone on the local network has no secure context."""
    phone.add_init_script("delete Crypto.prototype.randomUUID")
    values = at_components(phone).eval_on_selector_all("[data-uuid]", "all => all.map(i => i.value)")
    assert len(set(values)) == len(values) == 2
    assert all(UUID4.fullmatch(value) for value in values)


def test_a_form_sent_again_keeps_its_id_until_something_is_changed(phone: Page) -> None:
    page = at_components(phone)
    page.evaluate("document.addEventListener('submit', event => event.preventDefault())")
    uuid = page.locator("#forms [data-uuid]")
    send = "document.querySelector('#forms form').requestSubmit()"
    first = uuid.input_value()
    page.evaluate(send)
    assert uuid.input_value() == first
    page.fill("#id_new-note", "The shell looks dull.")
    second = uuid.input_value()
    assert second != first
    page.fill("#id_new-note", "The shell looks dull and soft.")
    assert uuid.input_value() == second


def test_a_task_opens_in_place_and_keeps_the_focus(phone: Page) -> None:
    page = at_components(phone)
    page.tap("#task-1 .task-open")
    opened = page.locator("#task-1[data-open] .task-open")
    expect(opened).to_have_attribute("aria-expanded", "true")
    expect(opened).to_be_focused()
    page.keyboard.press("Enter")
    closed = page.locator("#task-1:not([data-open]) .task-open")
    expect(closed).to_be_focused()
    expect(closed).to_have_attribute("aria-expanded", "false")


def test_one_tap_sends_an_id_and_says_what_happened_with_a_way_back(phone: Page) -> None:
    page = at_components(phone)
    sent = posts(page)
    page.tap("#task-2 .tap")
    toast = page.locator(".toast")
    expect(toast).to_contain_text("All seen at North pond")
    expect(page.locator("#task-2")).to_have_attribute("data-done", "")
    assert UUID4.search(sent[0].post_data or "")
    assert sent[0].headers["x-csrftoken"]
    expect(toast).to_be_hidden(timeout=6000)


def test_undo_waits_while_it_is_focused(desk: Page) -> None:
    page = at_components(desk)
    sent = posts(page)
    page.click("#task-2 .tap")
    page.focus(".toast button")
    page.wait_for_timeout(3500)
    page.keyboard.press("Enter")
    expect(page.locator(".toast button")).not_to_have_attribute("aria-busy", "true")
    assert [request.url.split("?")[1] for request in sent] == ["part=tapped", "part=row"]


def test_two_quick_taps_are_one_request(phone: Page) -> None:
    page = at_components(phone)
    sent = posts(page)
    page.evaluate("() => { const tap = document.querySelector('#task-2 .tap'); tap.click(); tap.click(); }")
    expect(page.locator("#task-2")).to_have_attribute("data-done", "")
    assert len(sent) == 1


def test_without_a_connection_it_says_so_and_keeps_what_was_typed(phone: Page) -> None:
    page = at_components(phone)
    page.fill("#id_new-note", "The shell looks dull.")
    page.context.set_offline(True)
    page.tap("#task-2 .tap")
    expect(page.locator(".toast[data-bad]")).to_contain_text("no connection")
    assert page.input_value("#id_new-note") == "The shell looks dull."
    page.context.set_offline(False)
    page.tap("#task-2 .tap")
    expect(page.locator("#task-2")).to_have_attribute("data-done", "")


def test_a_tap_on_the_unit_brings_the_letters(phone: Page) -> None:
    page = at_components(phone)
    weight = page.locator("#id_new-weight")
    expect(weight).to_have_attribute("inputmode", "decimal")
    page.tap("#id_new-weight_unit")
    expect(weight).to_have_attribute("inputmode", "text")
    expect(weight).to_be_focused()


def test_more_places_open_and_close_by_key_and_by_touch(phone: Page) -> None:
    page = at_components(phone)
    link, more = page.locator('a[href="#more"]'), page.locator("#more")
    link.tap()
    expect(more).to_be_visible()
    expect(link).to_have_attribute("aria-expanded", "true")
    page.keyboard.press("Escape")
    expect(more).to_be_hidden()
    expect(link).to_be_focused()
    link.tap()
    page.tap("h1")
    expect(more).to_be_hidden()


def test_more_places_open_without_script(chromium, live_server) -> None:
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = context.new_page()
    page.base_url = live_server.url
    at_components(page).set_viewport_size({"width": 390, "height": 844})
    page.click('a[href="#more"]')
    expect(page.locator("#more")).to_be_visible()
    context.close()


def test_targets_are_large_enough_for_wet_hands(phone: Page) -> None:
    """44 CSS px, WCAG 2.2 success criterion 2.5.5 (Target Size, Enhanced); links inside text are exempt."""
    small = at_components(phone).evaluate(
        """() => [...document.querySelectorAll('button, .button, nav a, .brand, .notices, .choice, .tick, summary,'
             + ' .rows a, input:not([type=hidden], [type=radio], [type=checkbox]), select, textarea')]
          .filter(e => e.getClientRects().length)
          .filter(e => e.getBoundingClientRect().height < 44 || e.getBoundingClientRect().width < 44)
          .map(e => e.outerHTML.slice(0, 80))"""
    )
    assert small == []


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_nothing_is_wider_than_the_screen(desk: Page, width: int) -> None:
    """320 CSS px, WCAG 2.2 success criterion 1.4.10 (Reflow)."""
    desk.set_viewport_size({"width": width, "height": 800})
    page = at_components(desk)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize(
    ("scheme", "theme", "dark"), [("dark", "auto", True), ("light", "dark", True), ("dark", "light", False)]
)
def test_a_persons_theme_wins_over_the_device(desk: Page, scheme: str, theme: str, dark: bool) -> None:
    desk.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    page = at_components(desk)
    page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
    colour = page.evaluate("getComputedStyle(document.body).color")
    assert (colour == "rgb(235, 242, 239)") is dark


def test_paper_gets_the_light_colours_and_everything_folded(desk: Page) -> None:
    desk.emulate_media(color_scheme="dark", media="print")
    page = at_components(desk)
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    expect(page.locator(".shell")).to_be_hidden()
    expect(page.locator("details.how p")).to_be_visible()
