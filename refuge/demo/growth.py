"""How a turtle grows: von Bertalanffy's curve, walked day by day and only as far as the warmth allows.

Length over its final length, x, follows dx/dt = k (1 - x); weight is the cube of it.
"""

DAYS_A_YEAR = 365.25
NO_GROWTH_C, FULL_GROWTH_C = 14.0, 25.0


def warmth(temperature_c: float) -> float:
    """Share (0 to 1) of full growth at this water temperature (common practice, no source)."""
    return min(max((temperature_c - NO_GROWTH_C) / (FULL_GROWTH_C - NO_GROWTH_C), 0.0), 1.0)


def grown_kg(
    mass_kg: float, final_kg: float, per_year: float, temperature_c: float, days: float = 1
) -> float:
    """Weight [kg] after `days` more at this temperature, on the way to `final_kg` (not below `mass_kg`)."""
    length = (mass_kg / final_kg) ** (1 / 3)
    length += per_year * (1 - length) * warmth(temperature_c) * days / DAYS_A_YEAR
    return final_kg * length**3


def carapace_m(mass_kg: float, shell_kg_m3: float) -> float:
    """Straight carapace length [m] of a turtle of this weight, all of one shape."""
    return (mass_kg / shell_kg_m3) ** (1 / 3)
