"""Every kind of page of the demo, read by somebody with US units: no mark of an amount is left in it."""

import re
from collections import Counter
from collections.abc import Iterator

import pytest
from django.db import transaction
from django.test import Client
from django.urls import Resolver404, resolve
from django.utils import timezone

from refuge.demo.loading import demo_load
from refuge.people.models import User

pytestmark = pytest.mark.django_db

HREF = re.compile(r'(?:href|hx-get)="(/[^"#]*)"')
RAW = re.compile(r"\{[a-z]+:[-\d]")
OF_A_KIND = 3
NOT_READ = {"export_zip", "export_xlsx", "sign_out"}
STARTS = ("/", "/?ahead=7", "/overview/", "/site/", "/limits/", "/notices/", "/arrivals/new/", "/people/")


@pytest.fixture(scope="module")
def demo(django_db_setup, django_db_blocker) -> Iterator[None]:
    """Fifty days of it, planned; undone afterwards."""
    with django_db_blocker.unblock():
        block = transaction.atomic()
        block.__enter__()
        demo_load(today=timezone.now().date(), seed=1, history_days=50)
    yield
    with django_db_blocker.unblock():
        transaction.set_rollback(True)
        block.__exit__(None, None, None)


def pages(client: Client) -> Iterator[tuple[str, str]]:
    """(address, text) of a few pages of every kind that can be reached by links."""
    waiting, seen = list(STARTS), set(STARTS)
    kinds: Counter[str] = Counter()
    while waiting:
        path = waiting.pop(0)
        try:
            kind = resolve(path.partition("?")[0]).url_name or ""
        except Resolver404:
            continue
        if kind in NOT_READ or path.startswith(("/admin", "/static", "/api")) or kinds[kind] >= OF_A_KIND:
            continue
        kinds[kind] += 1
        answer = client.get(path)
        if answer.status_code != 200 or "html" not in answer["Content-Type"]:
            continue
        html = answer.content.decode()
        yield path, html
        found = [each.replace("&amp;", "&") for each in HREF.findall(html)]
        waiting += [each for each in dict.fromkeys(found) if each not in seen]
        seen.update(found)


def test_no_page_shows_a_raw_mark(demo):
    User.objects.update(unit_system="us")
    client = Client()
    client.force_login(User.objects.get(username="manager"))
    read = 0
    for path, html in pages(client):
        assert not RAW.search(html), (path, RAW.search(html))
        read += 1
    assert read > 50
