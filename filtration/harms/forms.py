"""What people type about something that happened to a filter."""

from datetime import timedelta
from typing import Any

from django import forms
from django.utils import timezone

from enclosures.models import WaterSource
from filtration.harms.models import TIMED, TIMED_BY_NEED, FilterHarm
from refuge.forms import QuantityField, RecordForm, number

NEEDED = {
    "hours": "Say how long, in hours: a guess is better than nothing.",
    "volume_m3": "Say how much got in: a guess is better than nothing.",
    "source": "Say where it came from: that tells how much chlorine it carried.",
    "substance": "Name the medicine, as the veterinarian wrote it.",
}
FOREIGN: dict[str, Any] = {
    "hours": None,
    "runs_again": True,
    "volume_m3": None,
    "source": None,
    "substance": "",
}
RUNS_AGAIN = [("yes", "Yes"), ("no", "No, it still stands")]


def belonging(kind: str) -> tuple[str, ...]:
    """The columns that tell about a kind of harm."""
    if kind == FilterHarm.Kind.CHLORINE:
        return ("volume_m3", "source")
    if kind == FilterHarm.Kind.MEDICINE:
        return ("substance",)
    if kind in TIMED_BY_NEED:
        return ("hours", "runs_again")
    return ("hours",) if kind in TIMED else ()


class HarmForm(RecordForm):
    """What happened, and as much of how bad it was as its kind needs. Fields of other kinds do not count.

    data-only names the kinds a field belongs to: the style sheet shows it for these.
    """

    hint = "What you do not know may stay empty: a guess is better than nothing."
    other_time = "Not just now?"

    kind = forms.ChoiceField(label="What happened", choices=FilterHarm.Kind.choices, widget=forms.RadioSelect)
    hours = number(
        "How long",
        FilterHarm.MOST_HOURS,
        low=0.1,
        unit="hours",
        help_text="Still going on? The hours so far.",
    )
    runs_again = forms.TypedChoiceField(
        label="Is it running again?",
        choices=RUNS_AGAIN,
        coerce=lambda value: value == "yes",
        empty_value=True,
        initial="yes",
        required=False,
        widget=forms.RadioSelect,
        help_text="If not, it counts as standing until this is corrected or a bucket test shows flow.",
    )
    volume_m3 = QuantityField("volume", above=0, high=2000, label="How much got in", required=False)
    source = forms.ModelChoiceField(WaterSource.objects.all(), label="Water from", required=False)
    substance = forms.CharField(
        label="Which medicine",
        required=False,
        max_length=120,
        help_text="As the veterinarian named it.",
    )
    noticed_by = forms.CharField(label="Who noticed", required=False, max_length=80, help_text="Empty: you.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["at"].label = "When it began"
        self.fields["at"].help_text = "Leave empty if it has only just ended."
        for name, group in (
            ("hours", "hours"), ("runs_again", "flow"), ("volume_m3", "chlorine"), ("source", "chlorine"), ("substance", "medicine"),
        ):  # fmt: skip
            self.fields[name].widget.attrs["data-only"] = group

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        kind = data.get("kind")
        if kind is None:
            return data
        told = belonging(kind)
        for name, nothing in FOREIGN.items():
            if name not in told:
                data[name] = nothing
                self.errors.pop(name, None)
            elif self._is_missing(kind, name, data):
                self.add_error(name, NEEDED[name])
        self._place_in_time(data)
        return data

    def _is_missing(self, kind: str, name: str, data: dict[str, Any]) -> bool:
        needed = name != "runs_again" and (name != "hours" or kind in TIMED_BY_NEED)
        return needed and name not in self.errors and data.get(name) in (None, "")

    def _place_in_time(self, data: dict[str, Any]) -> None:
        """Without a time it has just ended; with one it cannot have lasted into the future."""
        hours, now = data.get("hours"), timezone.now()
        if not hours or "at" in self.errors:
            return
        if self.data.get(self.add_prefix("at")) in (None, ""):
            data["at"] = now - timedelta(hours=hours)
        elif data["at"] + timedelta(hours=hours) > now + timedelta(minutes=5):
            self.add_error(
                "hours", "With this beginning it would end later than now. Enter the hours so far."
            )
