"""Clients of the API. Models are imported inside: this file may be read before Django is set up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from django.core.cache import cache

if TYPE_CHECKING:
    from rest_framework.test import APIClient

    from refuge.people.models import User


@pytest.fixture(autouse=True)
def no_tries_counted():
    cache.clear()
    yield
    cache.clear()


@pytest.fixture
def refuge(db: None) -> Any:
    from tests.factories import RefugeFactory

    return RefugeFactory(time_zone="America/New_York")


def client_of(person: User) -> APIClient:
    """A program that holds this person's token."""
    from rest_framework.test import APIClient

    from refuge.people.services import token_issue

    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {token_issue(person=person)}")
    return client


@pytest.fixture
def staff(refuge: Any) -> User:
    from tests.factories import UserFactory

    return UserFactory(staff=True)


@pytest.fixture
def volunteer(refuge: Any) -> User:
    from tests.factories import UserFactory

    return UserFactory()


@pytest.fixture
def api(staff: User) -> APIClient:
    """What staff may do."""
    return client_of(staff)


@pytest.fixture
def volunteer_api(volunteer: User) -> APIClient:
    return client_of(volunteer)
