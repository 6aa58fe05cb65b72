from typing import Any

from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in


class PeopleConfig(AppConfig):
    name = "refuge.people"
    verbose_name = "People"

    def ready(self) -> None:
        user_logged_in.connect(note_sign_in)


def note_sign_in(sender: type, user: Any, **kwargs: Any) -> None:
    """Whoever signs in is seen at that moment."""
    from refuge.people.services import person_seen

    person_seen(person=user)
