"""Founding a refuge, inviting somebody and shutting somebody out, in a real browser."""

import re

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from refuge.people.models import Refuge, Role, User
from tests.browser.helpers import sign_in
from tests.people.factories import PASSWORD, RefugeFactory, UserFactory

pytestmark = pytest.mark.django_db(transaction=True)


def fill(page: Page, **typed: str) -> None:
    for name, value in typed.items():
        page.locator(f"#id_{name}").fill(value)


def test_the_first_visit_founds_the_refuge_in_the_zone_of_the_device(phone):
    phone.goto("/")
    zone = phone.evaluate("Intl.DateTimeFormat().resolvedOptions().timeZone")
    expect(phone.locator("#id_time_zone")).to_have_value(zone)
    fill(phone, refuge_name="Alder Water", elevation_m="800 ft", name="Ines Tarouca", username="Ines")
    fill(phone, password1=PASSWORD, password2=PASSWORD)
    phone.get_by_role("button", name="Set up the refuge").click()
    phone.wait_for_url(phone.base_url + reverse("site_setup"))
    assert Refuge.objects.get().time_zone == zone
    assert User.objects.get().is_manager


def test_an_invitation_goes_from_one_screen_to_another(desk, phone):
    RefugeFactory()
    sign_in(desk, UserFactory(manager=True))
    desk.goto("/people/")
    desk.get_by_role("link", name="Invite somebody").click()
    fill(desk, name="Eva Lindo")
    desk.get_by_role("radio", name="Staff").check()
    desk.get_by_role("button", name="Make the link").click()
    desk.get_by_role("button", name="Copy the link").click()
    expect(desk.get_by_text("Copied.")).to_be_visible()
    link = desk.get_by_label("Link").input_value()
    assert desk.evaluate("getSelection().toString()") == link

    phone.goto(re.sub(r"^https?://[^/]+", "", link))
    fill(phone, username="Eva", password1=PASSWORD, password2=PASSWORD)
    phone.get_by_role("button", name="Make my account").click()
    phone.wait_for_url(phone.base_url + reverse("today"))
    assert User.objects.get(username="eva").role == Role.STAFF


def test_removed_access_ends_an_open_page_at_its_next_request(desk, phone):
    RefugeFactory()
    leaving = UserFactory(name="Rui Paz")
    sign_in(desk, UserFactory(manager=True))
    sign_in(phone, leaving)
    phone.goto("/me/")
    desk.goto("/people/")
    desk.get_by_role("link", name="Rui Paz").click()
    desk.get_by_role("button", name="Remove access now").click()
    expect(desk.get_by_text("has no access any more")).to_be_visible()
    phone.get_by_role("button", name="Save").click()
    expect(phone.get_by_role("heading", name="Sign in")).to_be_visible()
