"""Reads about the refuge and its people."""

from datetime import date, datetime

from django.db.models import QuerySet
from django.db.models.functions import Lower
from django.utils import timezone
from rest_framework.authtoken.models import Token

from refuge.people.models import Invitation, Refuge, RoleChange, User


def the_refuge() -> Refuge | None:
    """The refuge of this installation, or None before its first visit: 1 query."""
    return Refuge.objects.filter(pk=Refuge.SINGLETON).first()


def site_today(now: datetime | None = None) -> date:
    """Today's date on the refuge's own wall clock."""
    refuge = the_refuge()
    now = now or timezone.now()
    return now.astimezone(refuge.zone).date() if refuge else now.date()


def people() -> QuerySet[User]:
    """Everybody, those with access first, by name: 1 query."""
    return User.objects.order_by("-is_active", Lower("name"), "pk")


def open_invitations(now: datetime) -> QuerySet[Invitation]:
    """Invitations whose link works at `now`, with who made them, the first to expire first: 1 query."""
    waiting = Invitation.objects.filter(accepted_at=None, withdrawn_at=None, expires_at__gt=now)
    return waiting.select_related("created_by").order_by("expires_at")


def role_changes(person: User | None = None) -> QuerySet[RoleChange]:
    """Who was given which role by whom, of one person or of everybody, the newest first: 1 query."""
    rows = RoleChange.objects.select_related("person", "by")
    return rows if person is None else rows.filter(person=person)


def has_token(person: User) -> bool:
    """Whether the person has an API token: 1 query."""
    return Token.objects.filter(user=person).exists()
