"""What a meal puts into the water, and when. Masses of food in kg, loads in g, ages in days.

Feed factors are published for fish. Turtles excrete much nitrogen as urea and urate, which turns into
ammonia in the water, so the total holds but its timing is our assumption (see `release_share`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from refuge.errors import checked, positive

# 0.16 N in protein x 0.80 assimilated x 0.80 excreted x 0.90 as TAN. Timmons & Ebeling 2010;
# Ebeling, Timmons & Bisogni 2006, Aquaculture 257:346, Eq. 1.
TAN_PER_PROTEIN = 0.092
# Food that rots in the water instead of passing through an animal: 0.16 x 0.90, the factor used where
# all solids stay in the system (seen in a farm's calculation, no primary source).
TAN_PER_PROTEIN_LEFT = 0.144
# Dry solids per dry food eaten: design value, range 0.2 to 0.3. Timmons & Ebeling; Losordo & Timmons
# (recalled, not re-read). Read for live fish: 0.3-0.4 salmon, 0.2-0.7 catfish.
SOLIDS_PER_DRY_FOOD = 0.25
# Oxygen to turn 1 g of ammonia nitrogen into nitrate, growth neglected (3.43 + 1.14).
OXYGEN_PER_TAN = 4.57
# Oxygen to burn 1 g of dry organic matter CH1.8O0.5N0.2: 1.3659 g (Vannecke & Volcke).
OXYGEN_PER_ORGANIC = 1.3659
# Share of the dry solids that bacteria take apart within months. Assumption: about 0.85 of the solids is
# organic, and digesters destroy about half of that (recalled, not re-read).
DIGESTIBLE_SHARE = 0.45
# Phosphorus of a whole fish, wet: 209 mg per 100 g (USDA, recalled, not re-read).
FISH_PHOSPHORUS_FRACTION = 0.0021

# Mean time from meal to release at 25 C, and how much slower it goes for each 10 C less. Common practice
# (fish passes a warm turtle in two to three days) and a usual Q10 of 2 to 3; no measured source.
MEAN_RELEASE_DAYS_25C = 2.5
RELEASE_Q10 = 2.5


@dataclass(frozen=True)
class Load:
    """What reaches the water [g], or [g/day] for a daily load."""

    tan_g: float
    solids_g: float
    oxygen_g: float
    phosphorus_g: float

    def __add__(self, other: "Load") -> "Load":
        return Load(
            self.tan_g + other.tan_g,
            self.solids_g + other.solids_g,
            self.oxygen_g + other.oxygen_g,
            self.phosphorus_g + other.phosphorus_g,
        )

    def scaled(self, factor: float) -> "Load":
        """The load times `factor` (0 or more)."""
        by = checked("factor", factor, 0)
        return Load(self.tan_g * by, self.solids_g * by, self.oxygen_g * by, self.phosphorus_g * by)

    @classmethod
    def zero(cls) -> "Load":
        return cls(0.0, 0.0, 0.0, 0.0)


def tan_from_food_g(eaten_kg: float, protein_fraction: float) -> float:
    """Total ammonia nitrogen [g] from food eaten: kg x protein (as fed, 0 to 1) x 0.092."""
    return (
        checked("eaten_kg", eaten_kg, 0)
        * checked("protein_fraction", protein_fraction, 0, 1)
        * TAN_PER_PROTEIN
        * 1e3
    )


def meal_load(
    eaten_kg: float,
    left_kg: float,
    protein_fraction: float,
    water_fraction: float,
    phosphorus_fraction: float = FISH_PHOSPHORUS_FRACTION,
) -> Load:
    """Everything one meal ends up putting into the water.

    `left_kg` is food left to rot in the water; pass 0 for what was netted out again. Fractions are as fed.
    Solids: 0.25 of the dry matter eaten, plus all dry matter left. Oxygen: 4.57 per g TAN, plus the full
    oxidation of the digestible 45 % of the solids (assumption). Phosphorus: all of it, since a grown animal
    keeps little (assumption, cautious).
    """
    eaten, left = checked("eaten_kg", eaten_kg, 0), checked("left_kg", left_kg, 0)
    protein = checked("protein_fraction", protein_fraction, 0, 1)
    dry = 1 - checked("water_fraction", water_fraction, 0, 1)
    tan = tan_from_food_g(eaten, protein) + left * protein * TAN_PER_PROTEIN_LEFT * 1e3
    solids = (SOLIDS_PER_DRY_FOOD * eaten + left) * dry * 1e3
    oxygen = OXYGEN_PER_TAN * tan + OXYGEN_PER_ORGANIC * DIGESTIBLE_SHARE * solids
    phosphorus = (eaten + left) * checked("phosphorus_fraction", phosphorus_fraction, 0, 1) * 1e3
    return Load(tan, solids, oxygen, phosphorus)


def planned_daily_load(
    ration_kg: float,
    meals_per_week: float,
    protein_fraction: float,
    water_fraction: float,
    phosphorus_fraction: float = FISH_PHOSPHORUS_FRACTION,
) -> Load:
    """Mean load [g/day] of a feeding plan, all of it eaten."""
    meal = meal_load(ration_kg, 0, protein_fraction, water_fraction, phosphorus_fraction)
    return meal.scaled(checked("meals_per_week", meals_per_week, 0) / 7)


def mean_release_days(temperature_c: float) -> float:
    """Mean days from a meal to the release of its load; 0 to 40 C (assumption, see the constants)."""
    return MEAN_RELEASE_DAYS_25C * math.pow(
        RELEASE_Q10, (25 - checked("temperature_c", temperature_c, 0, 40)) / 10
    )


def release_share(age_days: float, temperature_c: float) -> float:
    """Share (0 to 1) of a meal's load that is in the water `age_days` after the meal.

    Two equal first-order steps, gut passage and then break-down in the water: 1 - (1 + kt) exp(-kt), whose
    mean is 2/k. The shape is an assumption: nothing at once, most after the mean, a tail. Common practice,
    no source.
    """
    passed = 2 * checked("age_days", age_days, 0) / mean_release_days(temperature_c)
    return 1 - (1 + passed) * math.exp(-passed)


def released_between(age_from_days: float, age_to_days: float, temperature_c: float) -> float:
    """Share of a meal's load released between two ages (the second not before the first)."""
    start = checked("age_from_days", age_from_days, 0)
    end = checked("age_to_days", age_to_days, start)
    return release_share(end, temperature_c) - release_share(start, temperature_c)


def busiest_day_share(temperature_c: float, every_days: int) -> float:
    """Share of one meal's load that its busiest day brings, where such a meal is given every `every_days` (1 or more).

    What earlier meals still release comes on top; found on a grid of an hour.
    """
    rhythm = int(checked("every_days", every_days, 1, 365))
    meals = range(0, math.ceil(8 * mean_release_days(temperature_c)) + rhythm, rhythm)
    return max(
        sum(released_between(hour / 24 + age, hour / 24 + age + 1, temperature_c) for age in meals)
        for hour in range(24 * rhythm)
    )


def mean_daily_tan_g(
    meals: Sequence[tuple[float, float]], window_days: float, temperature_c: float | None = None
) -> float:
    """Mean TAN [g/day] that reached the water over the last `window_days`.

    `meals` holds (days ago, TAN of the meal in g). With a temperature each meal counts as it is released,
    also meals before the window; without one it counts whole on the day it was eaten.
    """
    window = positive("window_days", window_days)
    return sum(_tan_within(*meal, window, temperature_c) for meal in meals) / window


def _tan_within(days_ago: float, tan_g: float, window: float, temperature_c: float | None) -> float:
    age, tan = checked("days_ago", days_ago, 0), checked("tan_g", tan_g, 0)
    if temperature_c is None:
        return tan if age < window else 0.0
    return tan * released_between(max(age - window, 0.0), age, temperature_c)
