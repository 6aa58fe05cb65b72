"""What people type about waters. Kits report nitrogen as N or as the ion: the form asks, the record keeps N."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from enclosures.chemistry import Species, nitrogen_from_ion
from enclosures.models import Area, Circuit, Enclosure, Month, WaterChange, WaterSource, WaterTest
from enclosures.services import out_of_use_problem
from refuge.forms import QuantityField, RecordForm, UnitModelForm, number
from refuge.plain_errors import PlainErrors


def mg_l(label: str, high: float, help_text: str = "") -> forms.FloatField:
    """A concentration field in mg/L, zero or more."""
    return number(label, high, unit="mg/L", help_text=help_text)


AS_N, AS_ION = "n", "ion"
NITROGEN: dict[str, tuple[str, Species]] = {
    "tan_mg_l": ("Total ammonia", "ammonium"),
    "nitrite_n_mg_l": ("Nitrite", "nitrite"),
    "nitrate_n_mg_l": ("Nitrate", "nitrate"),
}


class WaterTestForm(RecordForm):
    """Readings, each optional. `basis` says how the kit reports nitrogen."""

    hint = "Enter what you read; the rest may stay empty."

    plain_defaults = {"basis": AS_N}  # from a program or a file, a column of nitrogen holds nitrogen

    temperature_c = QuantityField("temperature", low=-2, high=50, label="Temperature", required=False)
    ph = number("pH", 14)
    basis = forms.ChoiceField(
        label="The kit reports ammonia, nitrite and nitrate as",
        choices=[(AS_ION, "NH₄, NO₂, NO₃ (most colour kits)"), (AS_N, "nitrogen: NH₄-N, NO₂-N, NO₃-N")],
        widget=forms.RadioSelect,
        initial=AS_ION,
        help_text="Look on the kit: 44 mg/L NO₃ and 10 mg/L NO₃-N are the same water.",
    )
    tan_mg_l = mg_l("Total ammonia", 200)
    nitrite_n_mg_l = mg_l("Nitrite", 200)
    nitrate_n_mg_l = mg_l("Nitrate", 2000)
    alkalinity_mg_l = mg_l("Alkalinity (KH)", 1000, "As CaCO₃. One degree KH is 17.8 mg/L.")
    hardness_mg_l = mg_l("Hardness (GH)", 2000, "As CaCO₃.")
    oxygen_mg_l = mg_l("Dissolved oxygen", 30)
    chlorine_mg_l = mg_l("Total chlorine", 20)
    clarity = forms.TypedChoiceField(
        label="Clarity",
        choices=[("", "Not judged"), *WaterTest.Clarity.choices],
        coerce=int,
        empty_value=None,
        required=False,
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and all(data.get(name) is None for name in WaterTest.READINGS):
            raise ValidationError("Nothing was read. Enter at least one value.", code="empty")
        if data.get("basis") == AS_ION:
            for name, (_, species) in NITROGEN.items():
                if data.get(name) is not None:
                    data[name] = nitrogen_from_ion(species, data[name])
        return data

    def readings(self) -> dict[str, Any]:
        """The cleaned readings by column, nitrogen as N."""
        return {name: self.cleaned_data.get(name) for name in WaterTest.READINGS}


class FullerTestForm(WaterTestForm):
    """A test that was asked for nitrate and alkalinity: without both, the next plan would ask for it again."""

    hint = "Nitrate and alkalinity are what this test is for; the rest may stay empty."
    asked = {
        "nitrate_n_mg_l": "Nitrate is missing.\nThe date of the next water change goes by it.",
        "alkalinity_mg_l": "Alkalinity is missing.\nThe bacteria of the filter use it up, and the plan reckons with it.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, why in self.asked.items():
            self.fields[name].required = True
            self.fields[name].error_messages["required"] = (
                f"{why} Enter it; if the kit cannot read it, choose “Could not” and say so."
            )


class WaterChangeForm(RecordForm):
    """How much water went, what came, and what was done to it first."""

    kind = forms.ChoiceField(
        label="What was done", choices=WaterChange.Kind.choices, widget=forms.RadioSelect
    )
    volume_m3 = QuantityField("volume", above=0, high=2000, label="How much")
    source = forms.ModelChoiceField(WaterSource.objects.all(), label="Water from")
    conditioner = forms.CharField(label="Conditioner used", required=False, max_length=80)
    conditioner_g = number("Amount of conditioner", 100_000, unit="g")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        source = data.get("source")
        if source and source.disinfectant != "none" and not (data.get("conditioner") or "").strip():
            self.add_error(
                "conditioner",
                f"{source.name} carries {source.get_disinfectant_display().lower()}: untreated it harms animals "
                "and the filter. Name what was added.",
            )
        return data


class CircuitForm(UnitModelForm):
    extra_volume_m3 = QuantityField(
        "volume", low=0, high=2000, label="Water in filters, sumps and pipes", required=False
    )
    usual_temperature_c = QuantityField(
        "temperature",
        low=-1,
        high=45,
        label="Usual water temperature",
        help_text="What the heater or the room holds. If the water follows the season: in its warmest month.",
    )
    coldest_temperature_c = QuantityField(
        "temperature",
        low=-1,
        high=45,
        required=False,
        label="Usual in the coldest month",
        help_text="Only if the water follows the season. Empty: it is kept the same all year.",
    )

    class Meta:
        model = Circuit
        fields = [
            "code",
            "name",
            "water_source",
            "extra_volume_m3",
            "usual_temperature_c",
            "coldest_temperature_c",
            "warmest_month",
            "is_quarantine",
            "note",
        ]
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["warmest_month"].required = False

    def clean_warmest_month(self) -> int:
        return self.cleaned_data["warmest_month"] or Month.JULY

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        usual, coldest = data.get("usual_temperature_c"), data.get("coldest_temperature_c")
        if usual is not None and coldest is not None and coldest > usual:
            self.add_error(
                "coldest_temperature_c",
                "The coldest month cannot be warmer than the warmest one.\nEnter the warmest month above, the "
                "coldest here; leave this empty if a heater holds the water.",
            )
        return data

    def clean_extra_volume_m3(self) -> float:
        return self.cleaned_data["extra_volume_m3"] or 0.0


class EnclosureForm(UnitModelForm):
    length_m = QuantityField("distance", above=0, high=500, label="Length, or diameter of a round tank")
    width_m = QuantityField("distance", above=0, high=500, label="Width", required=False)
    water_depth_m = QuantityField("length", above=0, high=30, label="Water depth")
    measured_volume_m3 = QuantityField(
        "volume",
        above=0,
        high=100_000,
        label="Measured volume",
        required=False,
        help_text="If you have measured it. Otherwise it is computed from the shape.",
    )

    class Meta:
        model = Enclosure
        fields = [
            "code",
            "name",
            "area",
            "circuit",
            "purpose",
            "position",
            "shape",
            "length_m",
            "width_m",
            "water_depth_m",
            "measured_volume_m3",
            "is_outdoor",
            "in_use",
            "note",
        ]
        labels = {"circuit": "Water"}
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if (
            data.get("shape") != Enclosure.Shape.ROUND
            and not data.get("width_m")
            and "width_m" not in self.errors
        ):
            self.add_error("width_m", "A tank that is not round needs its width too.")
        if (
            self.instance.pk
            and data.get("in_use") is False
            and (problem := out_of_use_problem(self.instance))
        ):
            self.add_error("in_use", problem)
        return data


class EnclosureChangeForm(EnclosureForm):
    """The same for an enclosure that exists: its water stays."""

    class Meta(EnclosureForm.Meta):
        fields = [name for name in EnclosureForm.Meta.fields if name != "circuit"]


class AreaForm(PlainErrors, forms.ModelForm):
    class Meta:
        model = Area
        fields = ["code", "name", "biosecurity_rank", "position"]
        help_texts = {
            "biosecurity_rank": "0 is the cleanest; the round goes upwards, quarantine has the highest.",
            "position": "Order of the walk among areas of the same rank.",
        }


class WaterSourceForm(PlainErrors, forms.ModelForm):
    total_chlorine_mg_l = mg_l(
        "Total chlorine in it", 20, "By a test strip at the tap, or the water supplier's report."
    )
    nitrate_n_mg_l = mg_l("Nitrate in it, as N", 200)
    alkalinity_mg_l = mg_l("Alkalinity, as CaCO₃", 1000)
    ph = number("pH", 14)

    class Meta:
        model = WaterSource
        fields = [
            "name",
            "disinfectant",
            "total_chlorine_mg_l",
            "nitrate_n_mg_l",
            "alkalinity_mg_l",
            "ph",
            "note",
        ]
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for name in ("total_chlorine_mg_l", "nitrate_n_mg_l"):
            data[name] = data.get(name) or 0.0
        treated = data.get("disinfectant") not in {None, WaterSource.Disinfectant.NONE}
        if treated and not data["total_chlorine_mg_l"] and "total_chlorine_mg_l" not in self.errors:
            self.add_error(
                "total_chlorine_mg_l", "Enter how much: the conditioner for a change is reckoned from it."
            )
        return data
