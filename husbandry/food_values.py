"""Composition of foods as fed: fractions of the wet mass, each with its source and how it is known.

"read" was seen in a copy of the source; "recalled" is from memory and was not re-read; "derived" was
computed from figures that were read. Edible portion, raw, unless it says whole.
"""

from dataclasses import dataclass

from refuge.errors import OutOfRange


@dataclass(frozen=True)
class FoodValue:
    """One food; water, protein, fat and phosphorus as fractions of its mass as fed (None: not known)."""

    name: str
    water_fraction: float
    protein_fraction: float
    fat_fraction: float | None
    phosphorus_fraction: float | None
    source: str
    how_known: str


_IFCT = "Longvah et al. 2017, Indian Food Composition Tables, code "
_PREY = "Small Animal Clinical Nutrition, 5th ed., Tables 71-5 and 71-6"
_DERIVED = "water read; protein derived at 4 kcal/g"

FOODS: tuple[FoodValue, ...] = (
    FoodValue(
        "Channel catfish, wild",
        0.8036,
        0.164,
        0.0282,
        0.00209,
        "USDA FoodData Central 174186",
        "protein and fat read; water and phosphorus recalled",
    ),
    FoodValue(
        "Rainbow smelt",
        0.7877,
        0.176,
        0.0242,
        0.00230,
        "USDA FoodData Central 175146",
        "protein and fat read; water and phosphorus recalled",
    ),
    FoodValue("Freshwater catfish", 0.7723, 0.1586, 0.0624, 0.001570, _IFCT + "S001", "read"),
    FoodValue("Tilapia", 0.7957, 0.1848, 0.0108, 0.001840, _IFCT + "P083", "read"),
    FoodValue("Carp, rohu", 0.7634, 0.1971, 0.0239, 0.002000, _IFCT + "S006", "read"),
    FoodValue("Carp, silver", 0.7247, 0.2171, 0.0517, 0.001870, _IFCT + "P078", "read"),
    FoodValue("Sardine", 0.7229, 0.1791, 0.0899, 0.001910, _IFCT + "P071", "read"),
    FoodValue("Freshwater crab", 0.8058, 0.1323, 0.0089, 0.002080, _IFCT + "S007", "read"),
    FoodValue("Prawn, big", 0.7743, 0.1924, 0.0052, 0.002370, _IFCT + "S008", "read"),
    FoodValue("Chicken breast, skinless", 0.6715, 0.2181, 0.0900, 0.001780, _IFCT + "N003", "read"),
    FoodValue("Chicken gizzard", 0.7805, 0.1822, 0.0207, 0.001190, _IFCT + "N006", "read"),
    FoodValue("Lettuce", 0.9227, 0.0154, 0.0027, 0.000441, _IFCT + "C025", "read"),
    FoodValue("Spinach", 0.9031, 0.0214, 0.0064, 0.000326, _IFCT + "C033", "read"),
    FoodValue("Carrot", 0.8769, 0.0095, 0.0047, 0.000431, _IFCT + "F002", "read"),
    FoodValue("Mouse, adult, whole", 0.65, 0.204, None, 0.0061, _PREY, _DERIVED + "; phosphorus derived"),
    FoodValue("Earthworm, whole", 0.84, 0.091, None, None, _PREY, _DERIVED),
    FoodValue(
        "Turtle pellet",
        0.10,
        0.40,
        None,
        0.012,
        "Label practice: 40-50 % protein, low end; phosphorus as fish feed, 1.0-1.3 %",
        "recalled",
    ),
)


_BY_NAME = {food.name: food for food in FOODS}


def food_value(name: str) -> FoodValue:
    """The food with this exact name; OutOfRange if there is none."""
    try:
        return _BY_NAME[name]
    except KeyError:
        raise OutOfRange("name", name, "a food in the table") from None
