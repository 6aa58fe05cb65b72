"""What browser tests share: the way in."""

from django.conf import settings
from django.test import Client
from playwright.sync_api import Page

from filtration.forecast.compiled import kernel
from refuge.people.models import User


def sign_in(page: Page, user: User) -> None:
    """Give the browser of `page` a real session of `user`, as the sign-in page would."""
    client = Client()
    client.force_login(user)
    session = client.cookies[settings.SESSION_COOKIE_NAME].value
    page.context.add_cookies(
        [{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": page.base_url, "httpOnly": True}]
    )


def ready_to_forecast() -> None:
    """Compile the forecast's step before a page has to wait for it; once for all tests of a process."""
    kernel()
