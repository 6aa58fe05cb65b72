"""Fields that only files have: something named by its code instead of its number."""

from difflib import get_close_matches
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Manager, Model, QuerySet

from refuge.exchange.cells import text


class OneOf(forms.Field):
    """A thing that is there already, named by its code or name in any case. Looked up in memory."""

    def __init__(
        self, queryset: QuerySet[Any] | Manager[Any], *, by: str = "code", noun: str, **options: Any
    ) -> None:
        options.setdefault("label", f"{noun.capitalize()}, by its {by}")
        super().__init__(**options)
        self.queryset, self.by, self.noun = queryset, by, noun
        self.known: dict[str, Model] = {}

    def load(self) -> dict[str, Model]:
        """All of them by what they are called: 1 query."""
        return {str(getattr(each, self.by)).casefold(): each for each in self.queryset.all()}

    def to_python(self, value: Any) -> Model | None:
        if isinstance(value, Model) or value in self.empty_values:
            return value or None
        named = text(value)
        found = self.known.get(named.casefold())
        if found is None:
            raise ValidationError(f"There is no {self.noun} “{named}” here.{self._perhaps(named)}")
        return found

    def _perhaps(self, named: str) -> str:
        close = get_close_matches(named.casefold(), self.known, n=1)
        return (
            f" Did you mean “{getattr(self.known[close[0]], self.by)}”?" if close else " Bring it in first."
        )
