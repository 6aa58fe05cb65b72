"""Loads the demo refuge into an empty database: all of it or nothing."""

from datetime import date
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import timezone

from enclosures.models import Area, Circuit
from husbandry.models import Animal, Food, Species
from refuge.demo.cast import cast
from refuge.demo.daybook import HISTORY_DAYS, Daybook
from refuge.demo.drafts import add_drafts
from refuge.demo.happenings import Story
from refuge.demo.place import OSSELMERE, TIME_ZONE
from refuge.demo.records import Writer, last_entries
from refuge.demo.rows import (
    Keys,
    add_animals,
    add_foods,
    add_limits,
    add_people,
    add_place,
    add_refuge,
)
from refuge.demo.story import tell
from refuge.errors import ClearmereError
from refuge.people.models import Refuge, User
from refuge.rounds.planner import plan_site


class NotEmpty(ClearmereError):
    """The database holds something already, so the demo refuge stays out of it."""

    def __init__(self, holds: str) -> None:
        super().__init__(
            f"The demo refuge loads only into an empty database, and this one holds {holds}. "
            "Choose an empty data folder."
        )


def demo_today() -> date:
    """Today on the demo refuge's own calendar."""
    return timezone.now().astimezone(ZoneInfo(TIME_ZONE)).date()


@transaction.atomic
def demo_load(*, seed: int = 1, today: date | None = None, history_days: int = HISTORY_DAYS) -> Story:
    """Load the demo refuge as of `today` and plan its day. The same seed and day give the same refuge.

    Raises NotEmpty, and then changes nothing, when the database is not empty.
    """
    _refuse_unless_empty()
    book = Daybook(today or demo_today(), history_days)
    story = tell(today=book.today, seed=seed, history_days=history_days)
    keys = Keys()
    add_refuge()
    add_people(keys, book, last_entries(story))
    add_place(keys, OSSELMERE, book)
    add_foods(keys)
    add_animals(keys, cast(book, seed), story.animals)
    add_limits(keys, book)
    add_drafts(keys, OSSELMERE, book, seed)
    Writer(story, keys, seed).write()
    plan_site(day=book.today)
    return story


def _refuse_unless_empty() -> None:
    refuge = Refuge.objects.first()
    if refuge is not None:
        raise NotEmpty(f"“{refuge.name}”")
    for model, words in (
        (User, "people"),
        (Area, "areas"),
        (Circuit, "waters"),
        (Species, "species"),
        (Food, "foods"),
        (Animal, "animals"),
    ):
        if model._default_manager.exists():
            raise NotEmpty(words)
