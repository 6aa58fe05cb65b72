"""The foods that may be tried out."""

from dataclasses import dataclass
from typing import Any

from husbandry.models import Food
from refuge.prepared import prepared


@dataclass(frozen=True, slots=True)
class FoodInUse:
    """A food that may be chosen; parts: its protein and water, as shares as fed."""

    pk: int
    name: str
    parts: tuple[float, float]

    def __str__(self) -> str:
        return f"{self.name}, {self.parts[0] * 100:.3g} % protein"


@prepared
def _food_rows() -> Any:
    rows = Food.objects.filter(in_use=True).order_by("name")
    return rows.values_list("pk", "name", "protein_fraction", "water_fraction")


def foods_in_use() -> dict[str, FoodInUse]:
    """Every food in use, by its key as a form sends it: 1 query."""
    return {str(pk): FoodInUse(pk, name, (protein, water)) for pk, name, protein, water in _food_rows()}
