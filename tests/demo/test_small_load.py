"""Loads of a short past, into a database of their own."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command
from django.utils import timezone

from husbandry.models import Feeding, HeadCount, Species
from refuge.demo.accounts import PASSWORD
from refuge.demo.loading import NotEmpty, demo_load
from refuge.demo.place import TIME_ZONE
from refuge.people.models import Refuge, User

pytestmark = pytest.mark.django_db


def contents():
    """What is in some of the rows, keys and record ids included."""
    meals = Feeding.objects.order_by("at", "uuid").values_list(
        "uuid", "at", "by__username", "offered_kg", "tan_g"
    )
    counts = HeadCount.objects.order_by("at", "uuid").values_list("uuid", "entered_at", "seen")
    return [*meals, *counts]


class Undo(Exception):
    """Ends a transaction without a trace."""


def loaded(**options):
    """The contents after a load that is then undone, so that the next starts from an empty database."""
    from django.db import transaction

    try:
        with transaction.atomic():
            demo_load(history_days=25, **options)
            found = contents()
            raise Undo
    except Undo:
        return found


def test_same_seed_and_day_load_the_same_rows_and_another_day_others():
    day = date(2026, 6, 20)
    first, again = loaded(today=day, seed=3), loaded(today=day, seed=3)
    later = loaded(today=day + timedelta(days=1), seed=3)
    assert first == again
    assert first != later


def test_command_counts_from_today_and_says_how_to_sign_in(capsys):
    call_command("load_demo", seed=2)
    said = capsys.readouterr().out
    assert PASSWORD in said
    assert "manager, staff or volunteer" in said
    yesterday = timezone.now().astimezone(ZoneInfo(TIME_ZONE)).date() - timedelta(days=1)
    assert HeadCount.objects.latest("at").at.astimezone(ZoneInfo(TIME_ZONE)).date() == yesterday


@pytest.mark.parametrize(
    ("add", "words"),
    [
        (lambda: User.objects.create(username="somebody", name="Somebody"), "people"),
        (lambda: Species.objects.create(name="A turtle"), "species"),
    ],
)
def test_refuses_a_database_that_holds_anything(add, words):
    add()
    with pytest.raises(NotEmpty, match=f"holds {words}"):
        demo_load(today=date(2026, 6, 20), history_days=25)
    assert not Refuge.objects.exists()
