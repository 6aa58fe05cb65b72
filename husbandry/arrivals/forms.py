"""What a manager types when an animal comes, and the newcomer it describes, however much of it is there yet."""

from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.core.exceptions import ValidationError

from enclosures.models import Enclosure
from husbandry.arrivals.newcomer import Diet, Newcomer, proposed_ration_kg
from husbandry.models import Animal, Food, Species
from husbandry.photos import ACCEPT, clean_photo
from husbandry.quarantine_dates import FLOOR_DAYS, LONGEST_DAYS
from husbandry.stays import Arrival, Rations
from refuge.forms import PastDateField, QuantityField, UnitForm

# A weight this many times the usual one of a grown animal is a slip of the unit or the species (assumption).
TIMES_ADULT = 4
# What the places and the plan depend on; the page sends only these when it asks for them.
OUTLOOK_FIELDS = (
    "code",
    "name",
    "species",
    "mass_kg",
    "carapace_m",
    "here_since",
    "no_quarantine",
    "quarantine_days",
    "vet_override",
    "food",
    "every_days",
    "ration_kg",
    "enclosure",
    "restart_agreed",
)


def _lines(rows: int) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows})


class ArrivalForm(UnitForm):
    """One arrival: the animal, its quarantine, what it eats, and where it goes."""

    code = forms.CharField(label="Code", max_length=16)
    name = forms.CharField(label="Name", max_length=80, required=False)
    species = forms.ModelChoiceField(Species.objects.all(), label="Species", empty_label="Choose")
    sex = forms.ChoiceField(
        label="Sex", choices=Animal.Sex.choices, initial=Animal.Sex.UNKNOWN, widget=forms.RadioSelect
    )
    mass_kg = QuantityField("mass", above=0, high=1000, label="Weight")
    carapace_m = QuantityField(
        "length",
        above=0,
        high=2,
        label="Straight carapace length",
        required=False,
    )
    marks = forms.CharField(label="Marks to know it by", required=False, widget=_lines(2))
    transponder = forms.CharField(label="Transponder", max_length=20, required=False)
    origin = forms.CharField(label="Where it comes from", max_length=200, required=False)
    here_since = PastDateField(
        ahead="Enter the day it came, or leave it empty.",
        label="Here since",
        required=False,
        help_text="Empty: it comes now. Of one that lives here already: then its meals of before can be entered.",
    )
    condition = forms.CharField(label="Condition on arrival", required=False, widget=_lines(3))
    photo = forms.FileField(
        label="Photo",
        required=False,
        widget=forms.FileInput(attrs={"accept": ACCEPT}),
        help_text="Kept without the place and time a camera writes into it.",
    )
    no_quarantine = forms.BooleanField(
        label="No quarantine: the veterinarian agrees",
        required=False,
        help_text="For an animal that comes back from treatment, or hatched here.",
    )
    quarantine_days = forms.IntegerField(
        label="Length of quarantine",
        required=False,
        min_value=1,
        max_value=LONGEST_DAYS,
        widget=forms.TextInput,
    )
    vet_override = forms.BooleanField(
        label=f"The veterinarian directs fewer than {FLOOR_DAYS} days", required=False
    )
    food = forms.ModelChoiceField(
        Food.objects.filter(in_use=True), label="Food", required=False, empty_label="Decide later"
    )
    every_days = forms.IntegerField(
        label="A meal every", initial=7, required=False, min_value=1, max_value=60, widget=forms.TextInput
    )
    ration_kg = QuantityField("food", above=0, high=100, label="Ration for a meal", required=False)
    enclosure = forms.ModelChoiceField(
        Enclosure.objects.filter(in_use=True),
        label="Where it goes",
        error_messages={"required": "Choose where it goes.\nThe places are listed below, the best first."},
    )
    restart_agreed = forms.CharField(required=False)
    uuid = forms.UUIDField(required=False, widget=forms.HiddenInput(attrs={"data-uuid": ""}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quarantine_days"].unit = self.fields["every_days"].unit = "days"

    def clean_uuid(self) -> UUID:
        return self.cleaned_data.get("uuid") or uuid4()

    def clean_photo(self) -> Any:
        upload = self.cleaned_data.get("photo")
        return clean_photo(upload) if upload else None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self._check_weight(data.get("mass_kg"), data.get("species"))
        self._check_quarantine(data)
        self._fill_in_meals(data)
        return data

    def _check_weight(self, mass_kg: float | None, species: Species | None) -> None:
        adult = species.adult_mass_kg if species else None
        if mass_kg is None or not adult or mass_kg <= TIMES_ADULT * adult:
            return
        show = self.fields["mass_kg"].prepare_value
        unit = self.fields["mass_kg"].unit
        self.add_error(
            "mass_kg",
            f"{show(mass_kg)} {unit} is too heavy for this species.\nA grown one weighs about {show(adult)} {unit}. "
            "Check the weight, its unit and the species.",
        )

    def _check_quarantine(self, data: dict[str, Any]) -> None:
        days = data.get("quarantine_days")
        if data.get("no_quarantine"):
            data["quarantine_days"] = None
        elif "quarantine_days" in self.errors:
            return
        elif days is None:
            self.add_error("quarantine_days", "Say how many days it sits out, or tick that there is none.")
        elif days < FLOOR_DAYS and not data.get("vet_override"):
            self.add_error("quarantine_days", ValidationError(SHORT_QUARANTINE.format(days), code="short"))

    def _fill_in_meals(self, data: dict[str, Any]) -> None:
        if data.get("food") is None or "every_days" in self.errors or "ration_kg" in self.errors:
            return
        data["every_days"] = data.get("every_days") or 7
        if data.get("ration_kg") is None and data.get("mass_kg") is not None:
            data["ration_kg"] = proposed_ration_kg(data["mass_kg"], data["every_days"])

    def newcomer(self) -> Newcomer:
        """The newcomer as far as it is typed and makes sense; the rest is not known. Call after is_valid()."""
        data = self.cleaned_data
        species = data.get("species")
        label = f"{data.get('code') or ''} {data.get('name') or ''}".strip()
        return Newcomer(
            label=label or "The newcomer",
            mass_kg=data.get("mass_kg"),
            carapace_m=data.get("carapace_m"),
            adult_mass_kg=species.adult_mass_kg if species else None,
            low_c=species.temperature_low_c if species else None,
            high_c=species.temperature_high_c if species else None,
            quarantine_days=self._quarantine_days(),
            vet_override=data.get("vet_override", False),
            diet=self._diet(),
            food=data["food"].name if data.get("food") else "",
        )

    def _quarantine_days(self) -> int | None:
        # While the length is being typed the usual one stands in: an arrival without quarantine says so.
        if self.cleaned_data.get("no_quarantine"):
            return None
        usual = self.get_initial_for_field(self.fields["quarantine_days"], "quarantine_days")
        return self.cleaned_data.get("quarantine_days") or usual

    def _diet(self) -> Diet | None:
        food, ration, every = (self.cleaned_data.get(name) for name in ("food", "ration_kg", "every_days"))
        if food is None or ration is None or not every:
            return None
        return Diet(food.name, ration, every, food.protein_fraction, food.water_fraction)

    def shown_ration(self, kg: str) -> str:
        """A ration [kg] as this reader would type it; as it came if it is no number."""
        try:
            return str(self.fields["ration_kg"].prepare_value(float(kg)))
        except ValueError:
            return kg

    def not_understood(self) -> list[tuple[str, str]]:
        """(label, what is wrong) of what is typed already and makes no sense. Call after is_valid()."""
        typed = [
            name for name in OUTLOOK_FIELDS if name in self.errors and self[name].value() not in (None, "")
        ]
        return [(str(self[name].label), str(self.errors[name][0])) for name in typed]

    def arrival(self) -> Arrival:
        """The animal as the service takes it in. Only for a form that is valid."""
        taken = {name: self.cleaned_data[name] for name in ARRIVAL_FIELDS}
        return Arrival(**taken)

    def rations(self) -> Rations | None:
        diet = self._diet()
        return Rations(self.cleaned_data["food"], diet.ration_kg, diet.every_days) if diet else None


ARRIVAL_FIELDS = (
    "code",
    "species",
    "mass_kg",
    "name",
    "sex",
    "marks",
    "transponder",
    "origin",
    "condition",
    "carapace_m",
    "photo",
)
SHORT_QUARANTINE = (
    "{} days is too short.\n"
    f"At least {FLOOR_DAYS} days are the published floor, unless a veterinarian directs otherwise: then tick that."
)
