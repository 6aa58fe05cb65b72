"""The dullest valid refuge, people and invitations."""

from datetime import timedelta
from typing import Any

import factory
from django.contrib.auth.hashers import make_password
from django.utils import timezone
from factory.django import DjangoModelFactory

from refuge.people.invitations import VALID_FOR, hash_of, new_secret
from refuge.people.models import Invitation, Refuge, Role, User

PASSWORD = "brackish heron lantern"


class RefugeFactory(DjangoModelFactory):
    """The one refuge; asked for again it is the same."""

    class Meta:
        model = Refuge
        django_get_or_create = ("pk",)

    pk = Refuge.SINGLETON
    name = "Alder Water"
    time_zone = "Europe/Lisbon"


class UserFactory(DjangoModelFactory):
    """A volunteer who signs in with PASSWORD; UserFactory(staff=True) and (manager=True) stand higher."""

    class Meta:
        model = User

    class Params:
        staff = factory.Trait(role=Role.STAFF)
        manager = factory.Trait(role=Role.MANAGER)

    username = factory.Sequence("person{}".format)
    name = factory.Sequence("Person {}".format)
    password = factory.LazyFunction(lambda: make_password(PASSWORD))


class InvitationFactory(DjangoModelFactory):
    """An open invitation; `secret` is what its link carries."""

    class Meta:
        model = Invitation

    class Params:
        secret = factory.LazyFunction(new_secret)

    secret_hash = factory.LazyAttribute(lambda made: hash_of(made.secret))
    name = factory.Sequence("Guest {}".format)
    created_by = factory.SubFactory(UserFactory, manager=True)
    created_at = factory.LazyFunction(timezone.now)
    expires_at = factory.LazyAttribute(lambda made: made.created_at + VALID_FOR)


def expired(**fields: Any) -> dict[str, Any]:
    """Fields of an invitation made a moment too long ago."""
    return {"created_at": timezone.now() - VALID_FOR - timedelta(seconds=1)} | fields
