"""Species and foods as tables of files."""

from typing import Any

from django import forms

from husbandry.models import (
    Food,
    Species,
)
from husbandry.setup_forms import SpeciesForm
from refuge.exchange.columns import Column, columns
from refuge.exchange.registry import register
from refuge.exchange.things import ThingResource
from refuge.forms import number
from refuge.plain_errors import PlainErrors


@register
class SpeciesResource(ThingResource):
    key, title, order = "species", "Species", 20
    words = "Kinds of turtles, and the water they need."
    columns = columns(
        "name", "scientific_name", "temperature_low_c", "temperature_high_c", "adult_mass_kg", "note"
    )
    label_columns = ("name",)
    key_column = "name"
    row_form = SpeciesForm

    class Meta:
        model = Species


class FoodRow(PlainErrors, forms.ModelForm):
    """Shares of wet mass between 0 and 1, as the column names say."""

    water_fraction = number("Share of water", 1, required=True, help_text="0 to 1, of wet mass.")
    protein_fraction = number("Share of protein", 1, required=True, help_text="0 to 1, of wet mass.")
    fat_fraction = number("Share of fat", 1, help_text="0 to 1, of wet mass.")
    phosphorus_fraction = number("Share of phosphorus", 1, help_text="0 to 1, of wet mass.")

    class Meta:
        model = Food
        fields = [
            "name",
            "water_fraction",
            "protein_fraction",
            "fat_fraction",
            "phosphorus_fraction",
            "source",
            "in_use",
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        shares = [data.get(name) for name in ("water_fraction", "protein_fraction", "fat_fraction")]
        if None not in shares and sum(shares) > 1.0001:  # type: ignore[arg-type]
            self.add_error("water_fraction", "Water, protein and fat together are more than the whole food.")
        return data


@register
class FoodResource(ThingResource):
    key, title, order = "foods", "Foods", 21
    words = "Foods as they are fed. Meals that were recorded keep the load that they were recorded with."
    columns = columns(
        "name",
        "water_fraction",
        "protein_fraction",
        "fat_fraction",
        "phosphorus_fraction",
        Column("source", words="where the values come from"),
        "in_use",
    )
    label_columns = ("name",)
    key_column = "name"
    row_form = FoodRow

    class Meta:
        model = Food
