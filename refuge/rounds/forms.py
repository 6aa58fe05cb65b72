"""What people say about a task beside its record: how it went, and why not."""

from typing import Any

from django import forms

from refuge.people.models import User
from refuge.plain_errors import PlainErrors
from refuge.rounds.models import Completion

TODAY, TOMORROW, WEEK = 0, 1, 7


class OutcomeForm(PlainErrors, forms.Form):
    """How it went. Whatever was not done needs a reason, for whoever comes next."""

    outcome = forms.ChoiceField(
        label="How did it go?",
        choices=Completion.Outcome.choices,
        initial=Completion.Outcome.DONE,
        required=False,
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="Why?", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2})
    )

    def clean_outcome(self) -> str:
        return self.cleaned_data["outcome"] or Completion.Outcome.DONE

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        is_done = data.get("outcome") == Completion.Outcome.DONE
        if not is_done and not self.errors and not data["reason"].strip():
            self.add_error("reason", "Say why, in a few words.\nWhoever comes next needs to know.")
        return data


class FilterForm(PlainErrors, forms.Form):
    """What part of the round is shown, as its address says. Whatever makes no sense there is left out."""

    area = forms.CharField(required=False, max_length=12)
    mine = forms.BooleanField(required=False)
    ahead = forms.TypedChoiceField(
        required=False,
        coerce=int,
        empty_value=TODAY,
        choices=[(TODAY, "Today"), (TOMORROW, "Tomorrow"), (WEEK, "Next 7 days")],
    )


class WhyForm(PlainErrors, forms.Form):
    """The reason of an amendment; it stays beside the earlier version."""

    why = forms.CharField(label="Why is it corrected?", max_length=100)


class StrikeOutForm(PlainErrors, forms.Form):
    """Why a record is struck out; it stands on the page where the record can be corrected instead."""

    prefix = "strike"
    why = forms.CharField(
        label="Why is it struck out?", max_length=100, help_text="For example: entered for the wrong water."
    )


class AssignForm(PlainErrors, forms.Form):
    """Who will do a task; nobody in particular when left empty."""

    to = forms.ModelChoiceField(
        User.objects.filter(is_active=True).order_by("name"),
        label="Who does it",
        required=False,
        empty_label="Nobody in particular",
    )
