"""What people type about where animals are and what they are to be fed."""

from datetime import date, datetime
from typing import Any

from django import forms
from django.utils import timezone

from enclosures.models import Circuit, Enclosure
from husbandry.models import Animal, FeedingPlan, Food
from husbandry.rules import WEEKDAYS
from refuge.forms import QuantityField, UnitForm, past_moment_field, past_or_now
from refuge.plain_errors import PlainErrors


def day_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class AgreeForm(PlainErrors, forms.Form):
    """Says yes to what a change of water costs; asked for only once it is known to cost something."""

    restart_agreed = forms.BooleanField(label="Start these quarantines anew", required=False)


class MovedForm(AgreeForm):
    """A move that happens now, or happened earlier and is entered late."""

    reason = forms.CharField(label="Why", required=False, max_length=200)
    at = past_moment_field(
        "When", help_text="Leave empty for now. A move of today or of days ago can be entered."
    )

    def clean_at(self) -> datetime:
        return past_or_now(self.cleaned_data.get("at"))


class MoveForm(MovedForm):
    enclosure = forms.ModelChoiceField(
        Enclosure.objects.filter(in_use=True).select_related("area"), label="To", empty_label="Choose"
    )
    field_order = ["enclosure", "at", "reason", "restart_agreed"]


class MoveInForm(MovedForm):
    animal = forms.ModelChoiceField(
        Animal.objects.filter(status=Animal.Status.HERE), label="Who", empty_label="Choose"
    )
    field_order = ["animal", "at", "reason", "restart_agreed"]


class ReplumbForm(AgreeForm):
    circuit = forms.ModelChoiceField(Circuit.objects.all(), label="The water it joins", empty_label="Choose")
    field_order = ["circuit", "restart_agreed"]


class LeaveForm(PlainErrors, forms.Form):
    status = forms.ChoiceField(
        label="What became of it",
        choices=[choice for choice in Animal.Status.choices if choice[0] != Animal.Status.HERE],
        widget=forms.RadioSelect,
    )
    at = past_moment_field(
        "When", help_text="Leave empty for now. What happened earlier today or days ago can be entered."
    )
    note = forms.CharField(
        label="To whom, where, of what", required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def clean_at(self) -> datetime:
        return past_or_now(self.cleaned_data.get("at"))


class BrumationForm(PlainErrors, forms.Form):
    since = forms.DateField(label="Since", widget=day_input())

    def clean_since(self) -> date:
        since = self.cleaned_data["since"]
        if since > timezone.localdate():
            raise forms.ValidationError("This day lies ahead. Enter it when it has begun.")
        return since


class FastForm(PlainErrors, forms.Form):
    until = forms.DateField(
        label="No food until", required=False, widget=day_input(), help_text="Empty: feed by the plan again."
    )


class FeedingPlanForm(UnitForm):
    """What is fed, how much, and on which days: every so many, or weekdays."""

    food = forms.ModelChoiceField(Food.objects.filter(in_use=True), label="Food")
    ration_kg = QuantityField("food", above=0, high=100, label="Ration for a meal")
    every_days = forms.IntegerField(
        label="Every so many days", min_value=1, max_value=60, required=False, widget=forms.TextInput
    )
    weekdays = forms.TypedMultipleChoiceField(
        label="Or on these days",
        choices=[(1 << number, name[:3]) for number, name in enumerate(WEEKDAYS)],
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    note = forms.CharField(label="Note", required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "every_days" not in self.errors and bool(data.get("every_days")) == bool(data.get("weekdays")):
            self.add_error("every_days", "Enter a number of days, or choose weekdays: one of the two.")
        data["weekdays"] = sum(data.get("weekdays") or []) or None
        data["every_days"] = data.get("every_days") or None
        return data


def plan_initial(plan: FeedingPlan) -> dict[str, Any]:
    """What the form for changing a plan starts with."""
    days = [1 << number for number in range(7) if (plan.weekdays or 0) & (1 << number)]
    return {
        "food": plan.food_id,
        "ration_kg": plan.ration_kg,
        "every_days": plan.every_days,
        "weekdays": days,
        "note": plan.note,
    }
