"""The kinds of turtle at the demo refuge, how they grow, and what they are fed.

Sizes, temperatures and rations are common practice recalled from memory, no source, except the factor from
shell length to weight of the alligator snapping turtle: 34.0 kg at 530.7 mm (Johnston et al. 2015,
Chelonian Conserv. Biol. 14:73-81).
"""

from dataclasses import dataclass

MON, TUE, WED, THU, FRI, SAT, SUN = (1 << n for n in range(7))


@dataclass(frozen=True, slots=True)
class Kind:
    """`shell_kg_m3`: weight over the cube of the straight carapace length. `growth_per_year`: see growth."""

    key: str
    name: str
    scientific_name: str
    low_c: float
    high_c: float
    adult_kg: float
    shell_kg_m3: float
    growth_per_year: float
    brumates: bool = True


@dataclass(frozen=True, slots=True)
class Diet:
    """A food, the ration for a meal as a share of body mass, and the rhythm (days apart, or weekdays)."""

    food: str
    share: float
    every_days: int | None = None
    weekdays: int | None = None


KINDS = {
    kind.key: kind
    for kind in (
        Kind("alligator", "Alligator snapping turtle", "Macrochelys temminckii", 15, 30, 30, 227, 0.13),
        Kind("snapper", "Common snapping turtle", "Chelydra serpentina", 14, 29, 9, 250, 0.20),
        Kind("florida", "Florida softshell", "Apalone ferox", 20, 31, 12, 130, 0.20),
        Kind("spiny", "Spiny softshell", "Apalone spinifera", 16, 30, 3.5, 120, 0.20),
        Kind("cooter", "River cooter", "Pseudemys concinna", 17, 30, 4, 160, 0.22),
        Kind("slider", "Pond slider", "Trachemys scripta", 17, 31, 1.5, 170, 0.25),
        Kind("pignosed", "Pig-nosed turtle", "Carettochelys insculpta", 24, 31, 14, 160, 0.15, False),
    )
}

PELLET, CATFISH, SMELT = "Turtle pellet", "Channel catfish, wild", "Rainbow smelt"

# 1.36 kg of fish a week for a turtle of 54 kg, and in proportion.
SINGLE_DIETS: dict[str, tuple[Diet, ...]] = {
    "alligator": (Diet(CATFISH, 0.0252, every_days=7),),
    "snapper": (Diet("Tilapia", 0.014, weekdays=MON | THU),),
    "florida": (Diet("Prawn, big", 0.012, weekdays=TUE | FRI),),
    "spiny": (Diet("Prawn, big", 0.014, weekdays=TUE | FRI),),
    "cooter": (Diet(PELLET, 0.005, weekdays=MON | WED | FRI), Diet("Lettuce", 0.03, weekdays=TUE | SAT)),
    "slider": (Diet(PELLET, 0.006, weekdays=MON | WED | FRI),),
    "pignosed": (Diet(PELLET, 0.006, weekdays=MON | WED | FRI),),
}

GROUP_DIETS: dict[str, tuple[Diet, ...]] = {
    "N1": (Diet(PELLET, 0.010, every_days=1), Diet("Lettuce", 0.030, every_days=2)),
    "N2": (Diet(PELLET, 0.010, every_days=1), Diet("Earthworm, whole", 0.025, weekdays=WED | SUN)),
    "N3": (Diet(SMELT, 0.030, every_days=3),),
    "N4": (Diet(PELLET, 0.010, every_days=2), Diet("Spinach", 0.020, weekdays=TUE | SAT)),
    "R3": (Diet(PELLET, 0.006, weekdays=MON | WED | FRI), Diet("Spinach", 0.020, weekdays=TUE | SAT)),
    "R10": (Diet(PELLET, 0.006, weekdays=MON | WED | FRI),),
    "P1": (Diet("Carp, silver", 0.011, weekdays=MON | THU),),
    "P2": (Diet(PELLET, 0.005, weekdays=MON | WED | FRI), Diet("Lettuce", 0.030, weekdays=TUE | SAT)),
    "P3": (Diet(SMELT, 0.015, weekdays=MON | THU),),
    "P4": (Diet(PELLET, 0.006, weekdays=MON | WED | FRI),),
}

# Below this water nobody outdoors is fed: food would rot in the gut (common practice, no source).
NO_FOOD_BELOW_C = 12.0
