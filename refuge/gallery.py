"""Every component in every state on one page, for whoever builds a screen. Wired only while debugging."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from refuge.forms import QuantityField
from refuge.plain_errors import PlainErrors
from refuge.templatetags.look import icon_names

TODAY = date(2025, 4, 14)
PARTS = {name: f"components/_gallery_{name}.html" for name in ("open", "row", "tapped")}
PILLS = [("done", "Done"), ("could_not", "Could not"), ("not_needed", "Not needed")]


class SampleForm(PlainErrors, forms.Form):
    """One field of each kind; as a whole it is never right, so that its error shows."""

    weight = QuantityField(
        "mass", label="Weight", help_text="In the sling; then take the sling off.", high=90
    )
    ph = forms.FloatField(label="pH", required=False, widget=forms.TextInput)
    seconds = forms.IntegerField(label="Seconds to fill the bucket", widget=forms.TextInput)
    day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}))
    species = forms.ChoiceField(label="Species", choices=[("", "Choose"), ("a", "Snapper"), ("b", "Cooter")])
    outcome = forms.ChoiceField(
        label="How did it go?", choices=PILLS, widget=forms.RadioSelect, initial="done"
    )
    seen = forms.BooleanField(label="Two people were there", required=False, help_text="Needed above 20 kg.")
    note = forms.CharField(label="Anything you saw", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    photo = forms.FileField(label="Photo", required=False)
    uuid = forms.CharField(widget=forms.HiddenInput(attrs={"data-uuid": True}))

    def clean(self) -> None:
        raise forms.ValidationError(
            "Two measurements contradict each other.\nThe flow cannot be above the pump's 4,200 L/h."
        )


def gallery(request: HttpRequest) -> HttpResponse:
    """The page of components, or what its sample tasks answer. It shows sample data only and writes nothing."""
    template = PARTS.get(request.GET.get("part", ""), "components/gallery.html")
    return render(request, template, samples())


def samples() -> dict[str, Any]:
    """Invented data for everything that shows data."""
    wrong = {"weight": "900 kg", "seconds": "forty", "outcome": "done", "note": "Shell looks dull."}
    return {
        "today": TODAY,
        "days": {name: TODAY - timedelta(days=late) for name, late in DAYS_LATE.items()},
        "reasons": REASONS,
        "facts": FACTS,
        "head": ["Day", "pH", "TAN as N, mg/L", "Nitrite as N, mg/L", "By"],
        "rows": READINGS,
        "tan": [0.1, 0.12, 0.1, None, 0.2, 0.31, 0.62, 0.4, 0.22, None, 0.18],
        "ph": [7.6, 7.5, 7.5, 7.4, 7.3, 7.5, 7.4],
        "entries": HISTORY,
        "page": Paginator(range(120), 25).page(2),
        "form": SampleForm(prefix="new"),
        "wrong_form": SampleForm(wrong),
        "icons": sorted(icon_names()),
    }


DAYS_LATE = {
    "far_over": 70,
    "over": 3,
    "one_over": 1,
    "now": 0,
    "next": -1,
    "soon": -4,
    "weeks": -24,
    "far": -200,
}

REASONS = [
    "9 days since the last test; every 7 days while the load is 64 % of what the filter carries.",
    "A heavy meal yesterday: 1.4 kg, five times the daily mean.",
]

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

HISTORY = [
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
