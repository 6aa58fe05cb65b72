"""What a manager enters about species, foods, and animals that are here."""

from typing import Any

from django import forms

from husbandry.forms import AnimalForm
from husbandry.models import Food, Species
from husbandry.photos import ACCEPT, TYPES, clean_photo
from refuge.forms import QuantityField, UnitModelForm, number
from refuge.plain_errors import PlainErrors


class SpeciesForm(UnitModelForm):
    temperature_low_c = QuantityField(
        "temperature", low=0, high=40, label="Coolest water when active", required=False
    )
    temperature_high_c = QuantityField("temperature", low=0, high=45, label="Warmest water", required=False)
    adult_mass_kg = QuantityField("mass", above=0, high=1000, label="Usual adult weight", required=False)

    class Meta:
        model = Species
        fields = [
            "name",
            "scientific_name",
            "temperature_low_c",
            "temperature_high_c",
            "adult_mass_kg",
            "note",
        ]
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        low, high = data.get("temperature_low_c"), data.get("temperature_high_c")
        if low is not None and high is not None and high < low:
            self.add_error("temperature_high_c", "The warmest water is cooler than the coolest.")
        return data


class FoodForm(PlainErrors, forms.ModelForm):
    """Shares are typed as percent of the wet food, as tables give them."""

    SHARES = ("water_fraction", "protein_fraction", "fat_fraction")
    water_fraction = number("Water", 100, unit="%", required=True)
    protein_fraction = number("Protein", 100, unit="%", required=True)
    fat_fraction = number("Fat", 100, unit="%")

    class Meta:
        model = Food
        fields = ["name", "water_fraction", "protein_fraction", "fat_fraction", "source", "in_use"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            for name in self.SHARES:
                self.initial[name] = f"{getattr(self.instance, name) * 100:.4g}"

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for name in self.SHARES:
            data[name] = (data.get(name) or 0.0) / 100
        if not self.errors and sum(data[name] for name in self.SHARES) > 1:
            self.add_error("protein_fraction", "Water, protein and fat are more than the whole food.")
        return data


class AnimalDataForm(AnimalForm):
    """The photo is cleaned as an arrival's is: kept without what the camera wrote into it."""

    photo = forms.FileField(
        label="Photo",
        required=False,
        widget=forms.FileInput(attrs={"accept": ACCEPT}),
        help_text=f"{TYPES}. A new one takes the place of the old.",
    )
    photo_goes = forms.BooleanField(label="Take the photo away", required=False)
    field_order = [*AnimalForm.Meta.fields[:-1], "photo_goes", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.instance.photo:
            del self.fields["photo_goes"]

    def clean_photo(self) -> Any:
        photo = self.cleaned_data.get("photo")
        return clean_photo(photo) if photo and "photo" in self.changed_data else photo

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("photo_goes") and "photo" in self.changed_data:
            self.add_error("photo_goes", "A new photo was chosen as well.\nDo one of the two.")
        elif data.get("photo_goes"):
            data["photo"] = False  # what a model's file field takes for: none
        return data
