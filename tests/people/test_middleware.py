"""What every request pays for, and what it must not pay for."""

from datetime import timedelta

import pytest
from django.db import connection
from django.http import HttpRequest
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from refuge.people.models import User
from refuge.rounds.context import notices
from refuge.rounds.models import Message


def queries_of(client, path: str, status: int) -> list[str]:
    with CaptureQueriesContext(connection) as queries:
        assert client.get(path).status_code == status
    return [query["sql"] for query in queries]


def test_the_refuge_costs_one_query_on_a_page(client, refuge):
    assert len(queries_of(client, "/sign-in/", 200)) == 1


def test_a_page_that_does_not_exist_costs_no_more(client, refuge):
    assert len(queries_of(client, "/nowhere/", 404)) <= 1


def test_the_refuge_is_read_neither_for_files_nor_for_health(client, refuge):
    for path in ("/static/none.css", "/healthz"):
        with CaptureQueriesContext(connection) as queries:
            client.get(path)
        assert not [query for query in queries if "people_refuge" in query["sql"]], path


def test_being_here_is_noted(as_volunteer, volunteer):
    User.objects.filter(pk=volunteer.pk).update(last_seen_at=None)
    as_volunteer.get("/me/")
    volunteer.refresh_from_db()
    assert timezone.now() - volunteer.last_seen_at < timedelta(minutes=1)


@pytest.fixture
def asked_by(volunteer: User) -> HttpRequest:
    request = HttpRequest()
    request.user = volunteer
    return request


def message(person: User, **fields: object) -> Message:
    values = {
        "day": "2026-03-01",
        "kind": "digest",
        "channel": "app",
        "subject": "Today",
        "body": "",
        **fields,
    }
    return Message.objects.create(person=person, **values)


def test_unread_notices_are_counted_only_when_they_are_shown(asked_by, volunteer, manager):
    message(volunteer)
    message(volunteer, about="read", read_at=timezone.now())
    message(volunteer, channel="email")
    message(manager)
    with CaptureQueriesContext(connection) as queries:
        unread = notices(asked_by)["unread_notices"]
        assert len(queries) == 0
        assert unread == 1 and str(unread) == "1" and bool(unread)
        assert len(queries) == 1
