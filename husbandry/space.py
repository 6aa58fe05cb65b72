"""How much water turtles should have at the very least. Lengths and depths in m, surfaces in m2.

Directive 2010/63/EU, Annex III, section B 10, table 10.1: aquatic chelonians. That is the floor for animals
kept in laboratories; a refuge should give far more. Who is "first" is not said there: we take the largest.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from refuge.errors import OutOfRange, positive

SOURCE = "Directive 2010/63/EU, Annex III, table 10.1 (laboratory minimum)"
LONGEST_CARAPACE_M = 3.0


@dataclass(frozen=True, slots=True)
class SpaceClass:
    """What one class of straight carapace length needs: for the first animal, and for each further one."""

    up_to_m: float
    first_m2: float
    further_m2: float
    depth_m: float


CLASSES = (
    SpaceClass(0.05, 0.06, 0.01, 0.10),
    SpaceClass(0.10, 0.16, 0.03, 0.15),
    SpaceClass(0.15, 0.35, 0.06, 0.20),
    SpaceClass(0.20, 0.60, 0.12, 0.30),
    SpaceClass(0.30, 1.00, 0.20, 0.35),
    SpaceClass(LONGEST_CARAPACE_M, 2.00, 0.50, 0.40),
)


@dataclass(frozen=True, slots=True)
class LeastSpace:
    """Least water surface [m2] and depth [m]."""

    surface_m2: float
    depth_m: float


def space_class(carapace_m: float) -> SpaceClass:
    """The class of a straight carapace length [m]; OutOfRange unless above 0 and at most 3."""
    length = round(
        positive("carapace_m", carapace_m), 4
    )  # 30 cm typed is 30 cm, whatever its last binary digit
    for each in CLASSES:
        if length <= each.up_to_m:
            return each
    raise OutOfRange("carapace_m", carapace_m, f"at most {LONGEST_CARAPACE_M:g}")


def least_space(carapaces_m: Iterable[float]) -> LeastSpace:
    """Least surface and depth for animals of these carapace lengths [m] together; nothing for nobody."""
    classes = [space_class(length) for length in sorted(carapaces_m, reverse=True)]
    if not classes:
        return LeastSpace(0.0, 0.0)
    surface = classes[0].first_m2 + sum(each.further_m2 for each in classes[1:])
    return LeastSpace(surface, max(each.depth_m for each in classes))
