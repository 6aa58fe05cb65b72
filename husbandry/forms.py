"""What people type about animals."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone

from husbandry.held import Held
from husbandry.models import Animal, Food, HealthRecord
from refuge.forms import QuantityField, RecordForm
from refuge.plain_errors import PlainErrors
from refuge.units import spoken


class FeedingForm(RecordForm):
    """One meal. Left-overs are what was taken out again."""

    food = forms.ModelChoiceField(Food.objects.filter(in_use=True), label="Food")
    offered_kg = QuantityField("food", low=0, high=100, label="Offered")
    left_kg = QuantityField("food", low=0, high=100, label="Left over, taken out", required=False)
    refused = forms.BooleanField(label="Refused: nothing was eaten", required=False)

    def __init__(self, *args: Any, held: Held | None = None, **kwargs: Any) -> None:
        """held: what a meal is to be held to for now. More of it is warned of, not refused: it may have been given."""
        super().__init__(*args, **kwargs)
        self.held = held
        if held is not None:
            self.fields["offered_kg"].help_text = spoken(held.words, self.system)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        left, offered = data.get("left_kg") or 0.0, data.get("offered_kg")
        if offered is not None and left > offered:
            self.add_error("left_kg", "More was left than was offered. Check both amounts.")
        elif (
            offered is not None
            and self.held is not None
            and not data.get("refused")
            and _is_of_today(data.get("at"))
        ):
            self.warning = self.held.warning(offered - left)
        data["left_kg"] = left
        return data


def _is_of_today(at: datetime | None) -> bool:
    """What may be given is known of today alone."""
    return at is not None and timezone.localdate(at) == timezone.localdate()


ExpectedAt = Callable[[datetime], int]


class HeadCountForm(RecordForm):
    """How many were seen, of how many that live there."""

    seen = forms.IntegerField(label="Animals seen", min_value=0, widget=forms.TextInput)

    def __init__(self, *args: Any, expected: int = 0, expected_at: ExpectedAt, **kwargs: Any) -> None:
        """expected: how many live there as it is shown. expected_at: how many did at the time that is entered."""
        super().__init__(*args, **kwargs)
        self.expected_at = expected_at
        self.fields["seen"].help_text = f"{expected} live here."

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        seen, at = data.get("seen"), data.get("at")
        if seen is None or at is None:
            return data
        expected = self.expected_at(at)
        if seen > expected:
            self.add_error(
                "seen",
                f"{seen} is more than the {expected} that lived here at that time. Check the number and the time.",
            )
        elif seen < expected and not data.get("note", "").strip():
            self.add_error("note", "Somebody is missing. Say who, and what you did to find them.")
        return data


class MeasurementForm(RecordForm):
    hint = "Enter the weight, the length, or both."

    mass_kg = QuantityField("mass", above=0, high=1000, label="Weight", required=False)
    carapace_m = QuantityField(
        "length",
        above=0,
        high=3,
        label="Straight carapace length",
        required=False,
        help_text="Over the midline.",
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and data.get("mass_kg") is None and data.get("carapace_m") is None:
            self.add_error("mass_kg", "Enter a weight, a length, or both.")
        return data


class FindingForm(RecordForm):
    """Whether all was normal, and what was not."""

    is_normal = forms.TypedChoiceField(
        label="How was it?",
        choices=[("yes", "Nothing unusual"), ("no", "Something unusual")],
        coerce=lambda value: value == "yes",
        initial="yes",
        widget=forms.RadioSelect,
    )
    finding = forms.CharField(label="What was seen", required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("is_normal") is False and not data.get("finding", "").strip():
            self.add_error(
                "finding", "Describe what is unusual: where on the body, since when, how it behaves."
            )
        return data


class HealthForm(FindingForm):
    kind = forms.ChoiceField(
        label="What was it",
        choices=[choice for choice in HealthRecord.Kind.choices if choice[0] != HealthRecord.Kind.LOOK],
    )
    field_order = ["kind", "is_normal", "finding"]


class QuarantineReviewForm(RecordForm):
    """End or extend a quarantine."""

    decision = forms.ChoiceField(
        label="Decision",
        choices=[("release", "Release from quarantine"), ("extend", "Go on, until a later day")],
        widget=forms.RadioSelect,
    )
    ends_on = forms.DateField(
        label="New planned end",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    outcome = forms.CharField(
        label="What the decision rests on",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Tests, examination, weight, feeding, and the veterinarian's word.",
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("decision") == "extend" and not data.get("ends_on"):
            self.add_error("ends_on", "Choose the new planned end.")
        return data


class AnimalForm(PlainErrors, forms.ModelForm):
    """What is known of an animal that is already here."""

    class Meta:
        model = Animal
        fields = [
            "code",
            "name",
            "species",
            "sex",
            "marks",
            "transponder",
            "hatched_on",
            "origin",
            "photo",
            "note",
        ]
        widgets = {
            "marks": forms.Textarea(attrs={"rows": 2}),
            "note": forms.Textarea(attrs={"rows": 2}),
            "hatched_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        }
