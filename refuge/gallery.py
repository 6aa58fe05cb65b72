"""Every component in every state on one page, for whoever builds a screen. Wired only while debugging."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe

from refuge.templatetags.look import STATES, icon_names
from refuge.templatetags.look import state as state_word  # noqa: F401

TODAY = date(2025, 4, 14)


class SampleForm(forms.Form):
    """One field of each kind."""

    weight = forms.CharField(label="Weight", help_text="Weigh it in the sling, then take the sling off.")
    ph = forms.FloatField(label="pH", required=False, widget=forms.TextInput)
    seconds = forms.IntegerField(label="Seconds to fill the bucket", widget=forms.TextInput)
    day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    species = forms.ChoiceField(label="Species", choices=[("", "Choose"), ("a", "Snapper"), ("b", "Cooter")])
    outcome = forms.ChoiceField(
        label="How did it go?",
        choices=[("done", "Done"), ("could_not", "Could not"), ("not_needed", "Not needed")],
        widget=forms.RadioSelect,
        initial="done",
    )
    seen = forms.BooleanField(label="Two people were there", required=False, help_text="Needed above 20 kg.")
    note = forms.CharField(label="Anything you saw", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    photo = forms.FileField(label="Photo", required=False)
    uuid = forms.CharField(widget=forms.HiddenInput(attrs={"data-uuid": True}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["weight"].unit, self.fields["weight"].any_unit = "kg", True
        self.fields["seconds"].unit = "s"

    def clean_weight(self) -> str:
        raise forms.ValidationError(
            "900 kg is too heavy for any turtle.\nThe largest here is 61 kg. Was it grams? Write 900 g."
        )


def gallery(request: HttpRequest) -> HttpResponse:
    """The page of components; it shows sample data only and writes nothing."""
    context = {**samples(), **forms_samples(), "icons": sorted(icon_names()), "states": STATES}
    return render(request, "components/gallery.html", context)


def forms_samples() -> dict[str, Any]:
    """The same form untouched and with mistakes in it."""
    wrong = SampleForm(
        {"weight": "900 kg", "seconds": "forty", "outcome": "done", "note": "Shell looks dull."}
    )
    wrong.is_valid()
    wrong.add_error(
        None, "Two measurements contradict each other.\nThe flow cannot be above the pump's 4,200 L/h."
    )
    return {"form": SampleForm(prefix="new"), "wrong_form": wrong}


def samples() -> dict[str, Any]:
    """Invented data for the parts that show data."""
    return {
        "today": TODAY,
        "days": {name: TODAY - timedelta(days=late) for name, late in DUE_SAMPLES.items()},
        "reasons": [
            "9 days since the last test; every 7 days while the load is 64 % of what the filter carries.",
            "A heavy meal yesterday: 1.4 kg, five times the daily mean.",
        ],
        "facts": FACTS,
        "head": ["Day", "pH", "TAN as N, mg/L", "Nitrite as N, mg/L", "By"],
        "rows": READINGS,
        "series": [0.1, 0.12, 0.1, None, 0.2, 0.31, 0.62, 0.4, 0.22, None, 0.18],
        "entries": ENTRIES,
        "page": Paginator(range(120), 25).page(2),
        "cell_with_state": mark_safe("<b>safe HTML</b>"),
    }


DUE_SAMPLES = {
    "far_over": 70,
    "over": 3,
    "one_over": 1,
    "now": 0,
    "next": -1,
    "soon": -4,
    "weeks": -24,
    "far": -200,
}

FACTS = [
    {"label": "Water", "value": "4,150", "unit": "L", "note": "measured, 2 March"},
    {"label": "Load on the filter", "value": 64, "unit": "%", "state": "good", "state_words": "carries it"},
    {"label": "Nitrite as N", "value": "0.62", "unit": "mg/L", "state": "act", "state_words": "over 0.5"},
    {"label": "Alkalinity", "value": 58, "unit": "mg/L", "state": "watch", "state_words": "falling"},
    {"label": "Oxygen", "value": None, "state": "unknown", "state_words": "never measured"},
]

READINGS = [
    ["14 Apr", 7.4, 0.22, 0.62, "Ines"],
    ["11 Apr", 7.5, 0.31, 0.4, "Tomas"],
    ["4 Apr", 7.5, None, 0.1, "Ines"],
]

ENTRIES = [
    {
        "when": datetime(2025, 4, 14, 8, 12, tzinfo=UTC),
        "what": "Water tested",
        "who": "Ines",
        "icon": "vial",
        "note": "pH 7.4, TAN 0.22, nitrite 0.62 mg/L as N",
    },
    {
        "when": datetime(2025, 4, 12, 16, 40, tzinfo=UTC),
        "what": "Sediment drained",
        "who": "Tomas",
        "icon": "drain",
        "note": "38 L, 6 cm of sediment",
        "amended": "Amended by Ines on 13 Apr: 38 L, was 83 L (digits swapped)",
    },
    {
        "when": datetime(2025, 4, 11, 9, 5, tzinfo=UTC),
        "what": "Fed 1.4 kg smelt",
        "who": "Tomas",
        "icon": "fish",
    },
]
