"""Least water for aquatic chelonians against Directive 2010/63/EU, Annex III, section B 10, table 10.1.

The table gives, for each class of straight carapace length, the least water surface for the first animal and
for each further one [cm2] and the least depth [cm]. That the largest animal is the first is our reading.
"""

import pytest

from husbandry.space import least_space, space_class

# (carapace length that still belongs to the class, first, each further, depth) as printed: cm, cm2, cm2, cm
TABLE_10_1 = [
    (5, 600, 100, 10),
    (10, 1600, 300, 15),
    (15, 3500, 600, 20),
    (20, 6000, 1200, 30),
    (30, 10000, 2000, 35),
]
LONGER_THAN_30 = (20000, 5000, 40)


@pytest.mark.parametrize(("length", "first", "further", "depth"), TABLE_10_1)
def test_each_class_holds_up_to_its_printed_length(length, first, further, depth):
    found = space_class(length / 100)
    assert found.first_m2 * 1e4 == pytest.approx(first)
    assert found.further_m2 * 1e4 == pytest.approx(further)
    assert found.depth_m * 100 == pytest.approx(depth)
    assert space_class(length / 100 + 0.001) != found


def test_above_30_cm_the_last_class_holds():
    found = space_class(0.301)
    assert (found.first_m2 * 1e4, found.further_m2 * 1e4, found.depth_m * 100) == pytest.approx(
        LONGER_THAN_30
    )
    assert space_class(0.75) == found


def test_six_animals_of_18_cm():
    """First 6000 cm2 and five further of 1200 cm2: 12000 cm2; 30 cm deep."""
    least = least_space([0.18] * 6)
    assert least.surface_m2 * 1e4 == pytest.approx(12000)
    assert least.depth_m == pytest.approx(0.30)


def test_a_large_one_with_a_small_one():
    """Large first (20000 cm2), small one further by its own class (300 cm2); depth of the large."""
    least = least_space([0.08, 0.6])
    assert least.surface_m2 * 1e4 == pytest.approx(20300)
    assert least.depth_m == pytest.approx(0.40)
