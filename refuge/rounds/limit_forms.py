"""A manager's value for a limit."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from refuge.errors import OutOfRange
from refuge.forms import NumberField
from refuge.plain_errors import PlainErrors
from refuge.rules.limits import LimitSpec


class LimitForm(PlainErrors, forms.Form):
    """Where, which value or back to the wider one, from when, and why."""

    place = forms.ChoiceField(label="For")
    back = forms.BooleanField(
        label="Back to the wider value",
        required=False,
        help_text="For the site that is the default; for one water or filter it is the site's value.",
    )
    value = NumberField(
        label="New value",
        required=False,
        widget=forms.TextInput,
        error_messages={"invalid": "This is no number. Write it like 0.25."},
    )
    from_on = forms.DateField(label="From", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    reason = forms.CharField(
        label="Why",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="It stays beside the value.",
        error_messages={"required": "Say why: the reason stays beside the value."},
    )

    def __init__(self, *args: Any, spec: LimitSpec, places: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.spec, self.today = spec, today
        self.fields["place"].choices = places
        self.fields["value"].unit = spec.typed_unit
        self.fields["value"].help_text = f"{spec.range_words.capitalize()}."

    def clean_value(self) -> float | None:
        """A share is typed as percent."""
        value: float | None = self.cleaned_data["value"]
        return value / 100 if value is not None and self.spec.is_part else value

    def clean_place(self) -> tuple[str, int]:
        kind, _, scope_id = self.cleaned_data["place"].partition(":")
        return kind, int(scope_id)

    def clean_from_on(self) -> date:
        on = self.cleaned_data["from_on"]
        if on < self.today:
            raise ValidationError(
                "This day has passed.\nA value holds from today or a later day: the past stays as it was."
            )
        return on

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("back"):
            data["value"] = None
        elif "value" not in self.errors:
            self._check_value(data.get("value"))
        return data

    def _check_value(self, value: float | None) -> None:
        if value is None:
            self.add_error("value", "Enter the new value, or tick to go back to the wider one.")
            return
        try:
            self.spec.check(value)
        except OutOfRange as error:
            self.add_error("value", f"{self.spec.number(value)} cannot be used.\nIt must be {error.allowed}.")

    @property
    def can_preview(self) -> bool:
        """Whether place and value make sense, so that what they change can be shown."""
        return self.is_bound and not {"place", "value"} & set(self.errors)
