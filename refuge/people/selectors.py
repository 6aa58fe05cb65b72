"""Reads about the refuge and its people."""

from datetime import date, datetime

from django.utils import timezone

from refuge.people.models import Refuge


def the_refuge() -> Refuge | None:
    """The refuge of this installation, or None before its first visit: 1 query."""
    return Refuge.objects.filter(pk=Refuge.SINGLETON).first()


def site_today(now: datetime | None = None) -> date:
    """Today's date on the refuge's own wall clock."""
    refuge = the_refuge()
    now = now or timezone.now()
    return now.astimezone(refuge.zone).date() if refuge else now.date()
