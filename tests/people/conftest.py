"""Models are imported inside: this file is read before Django is set up when these tests run alone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from django.core.cache import cache
from django.test import Client

if TYPE_CHECKING:
    from refuge.people.models import Refuge, User


@pytest.fixture(autouse=True)
def no_tries_counted() -> Iterator[None]:
    """Failures of one test must not lock the door of the next."""
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def refuge(db: None) -> Refuge:
    from tests.people.factories import RefugeFactory

    return RefugeFactory()


@pytest.fixture
def manager(refuge: Refuge) -> User:
    from tests.people.factories import UserFactory

    return UserFactory(manager=True, username="ines", name="Ines Tarouca")


@pytest.fixture
def volunteer(refuge: Refuge) -> User:
    from tests.people.factories import UserFactory

    return UserFactory(username="bento", name="Bento Alves")


def browser_of(person: User) -> Client:
    """A browser in which this person is signed in."""
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def as_manager(manager: User) -> Client:
    return browser_of(manager)


@pytest.fixture
def as_volunteer(volunteer: User) -> Client:
    return browser_of(volunteer)
