"""Real Chromium against a live server: `phone` is 390 px wide and touched, `desk` is 1280 px wide.

Both are Playwright pages whose addresses are relative to the live server: page.goto("/").
"""

import os
import shutil
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "/tests/browser/" in item.path.as_posix():
            item.add_marker(pytest.mark.browser)


def _chromium_path() -> str:
    asked = os.environ.get("CLEARMERE_TEST_CHROMIUM")
    found = (
        asked or shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    )
    if not found:
        pytest.fail(
            "No Chromium found: install it (apt-get install chromium) or set CLEARMERE_TEST_CHROMIUM."
        )
    return found


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """One browser for the tests of a file; its event loop ends with it, so other tests may run their own."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=_chromium_path(), args=QUIET)
        yield browser
        browser.close()


@pytest.fixture
def phone(chromium: Browser, live_server: Any) -> Iterator[Page]:
    size = {"width": 390, "height": 844}
    yield from _page(chromium, live_server, viewport=size, has_touch=True, is_mobile=True)


@pytest.fixture
def desk(chromium: Browser, live_server: Any) -> Iterator[Page]:
    yield from _page(chromium, live_server, viewport={"width": 1280, "height": 800})


def _page(chromium: Browser, live_server: Any, **options: Any) -> Iterator[Page]:
    """A page of a browser session of its own. Fails the test if a script failed or a policy was broken on it."""
    context = chromium.new_context(base_url=live_server.url, **options)
    context.set_default_timeout(10_000)
    page = context.new_page()
    page.base_url = live_server.url  # type: ignore[attr-defined]
    broken: list[str] = []
    page.on("pageerror", lambda error: broken.append(str(error)))
    page.on("console", lambda message: broken.extend(_policy_breaks(message)))
    yield page
    context.close()
    assert broken == []


def _policy_breaks(message: ConsoleMessage) -> list[str]:
    return [message.text] if "Content Security Policy" in message.text else []
