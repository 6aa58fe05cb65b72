"""What a filter that is entered is already, and since when: one that stands has its years behind it.

Asked for as long as no record tells it. From then on a filter moves by its records alone.
"""

from typing import Any

from django import forms
from django.utils import timezone

from filtration.models import FilterBuild, FilterUnit, Maintenance
from refuge.forms import PastDateField
from refuge.plain_errors import PlainErrors

State = FilterUnit.State
CHOICES = [
    ("", "Choose"),
    (State.BUILDING, "Being built, or not tested for leaks yet"),
    (State.CYCLING, "Running, its bacteria still growing"),
    (State.MATURE, "Running, and carrying its animals for months"),
    (State.RESTING, "Standing still"),
]
ENTERED = {state for state, _ in CHOICES if state}
TELLING = (Maintenance.Kind.STATE, Maintenance.Kind.LEAK_TEST)


def is_asked(unit: FilterUnit) -> bool:
    """Whether its state is what a form says: it is new, or no plan and no record told it. At most 2 queries."""
    if unit._state.adding:
        return True
    if unit.state not in ENTERED or FilterBuild.objects.filter(filter=unit.pk).exists():
        return False
    return not Maintenance.everything.filter(filter=unit.pk, kind__in=TELLING).exists()


class StandingFields(PlainErrors, forms.Form):
    """Fields of a model form of FilterUnit, which drops them where `is_asked` says no."""

    state = forms.ChoiceField(
        label="What it is now",
        choices=CHOICES,
        error_messages={"required": "Choose what it is now.\nWhat it carries, and what is due, goes by it."},
    )
    state_since = PastDateField(
        ahead="Enter since when it is so.",
        label="Since about",
        required=False,
        help_text="Of one that runs: when it became so. The month is enough, any day of it.",
    )

    def check_since(self, data: dict[str, Any]) -> None:
        """One that is only being built is so from today; of any other a day is needed."""
        if "state" not in self.fields or data.get("state_since") or "state_since" in self.errors:
            return
        if data.get("state") == State.BUILDING:
            data["state_since"] = timezone.localdate()
        elif data.get("state"):
            self.add_error(
                "state_since", "Since when is missing.\nA guess will do: how far its bacteria are goes by it."
            )
