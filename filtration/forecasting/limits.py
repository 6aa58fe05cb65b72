"""The limits a forecast is held against: those of the water tests, by the names of the forecast."""

from dataclasses import dataclass

from filtration.forecast import Limit
from refuge.rules.limits import LimitsFor


@dataclass(frozen=True, slots=True)
class Bound:
    """One quantity with its limit's key, its words, and the width from which on a forecast is too vague.

    widest: None for the limit itself.
    """

    quantity: str
    key: str
    words: str
    unit: str
    is_least: bool = False
    widest: float | None = None


BOUNDS = (
    Bound("unionized", "water.unionized_mg_l", "un-ionized ammonia", "mg/L N"),
    Bound("tan", "water.tan_mg_l", "total ammonia", "mg/L N"),
    Bound("nitrite", "water.nitrite_mg_l", "nitrite", "mg/L N"),
    Bound("nitrate", "water.nitrate_mg_l", "nitrate", "mg/L N"),
    Bound("alkalinity", "water.alkalinity_mg_l", "alkalinity", "mg/L CaCO₃", is_least=True),
    Bound("oxygen", "water.oxygen_mg_l", "oxygen", "mg/L", is_least=True),
    # Two pH units from end to end of the band: assumption.
    Bound("ph", "water.ph_low", "pH", "", is_least=True, widest=2.0),
    Bound("ph", "water.ph_high", "pH", "", widest=2.0),
)
# The first of each quantity: pH has two, with the same words.
BOUND = {bound.quantity: bound for bound in reversed(BOUNDS)}
# What harms within hours or days, and so decides how much may be fed.
ACUTE = ("unionized", "tan", "nitrite", "oxygen")


def bound_of(quantity: str, *, is_least: bool) -> Bound:
    """The bound on that side; the first of the quantity where only one is known."""
    return next(
        (each for each in BOUNDS if (each.quantity, each.is_least) == (quantity, is_least)), BOUND[quantity]
    )


def limits_of(limits: LimitsFor) -> tuple[Limit, ...]:
    """All bounds with the values in force for a water."""
    return tuple(Limit(each.quantity, limits[each.key], each.is_least, each.widest) for each in BOUNDS)
