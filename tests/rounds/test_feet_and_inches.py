"""Lengths as builders write them: feet and inches together. A foot is 12 in, an inch 25.4 mm (NIST SP 811, B.8)."""

import pytest

from refuge.units import METRIC, US, UnitError, parse


@pytest.mark.parametrize(
    ("typed", "inches"),
    [
        ("2 ft 10 in", 34),
        ("1' 10\"", 22),
        ("2'10\"", 34),
        ("1’10”", 22),
        ("1′ 10″", 22),
        ("2 ft", 24),
        ("2'", 24),
        ("2 feet 1/2 in", 24.5),
        ("1' 10 1/2\"", 22.5),
        ("1' 10½\"", 22.5),
        ("3 Ft. 4.25 inches", 40.25),
        ("-1 ft 3 in", -15),
        ("10 in", 10),
    ],
)
@pytest.mark.parametrize("system", [METRIC, US])
@pytest.mark.parametrize("quantity", ["length", "distance"])
def test_feet_and_inches_are_one_length_in_either_system(typed, inches, system, quantity):
    assert parse(typed, quantity, system) == pytest.approx(inches * 0.0254)


@pytest.mark.parametrize("typed", ["2 ft 10 gal", "2 ft ft 3 in", "1' 1/0\"", "2 m 10 in"])
def test_what_is_no_such_length_is_refused(typed):
    with pytest.raises(UnitError):
        parse(typed, "length", US)


def test_a_length_measures_no_mass():
    with pytest.raises(UnitError, match="does not measure"):
        parse("2 ft 10 in", "mass", US)
