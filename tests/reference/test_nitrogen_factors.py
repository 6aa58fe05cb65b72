"""Nitrogen as N and as ion, and what nitrification uses, against published factors."""

import pytest

from enclosures.chemistry import alkalinity_used_mg, ion_from_nitrogen, nitrogen_from_ion
from husbandry.bioload import OXYGEN_PER_TAN, meal_load


# Conversion list with atomic weights H 1.008, N 14.007, O 15.999.
@pytest.mark.parametrize(
    ("species", "factor"),
    [("nitrate", 4.42664), ("nitrite", 3.28443), ("ammonium", 1.28786), ("ammonia", 1.21589)],
)
def test_ion_factor_matches_the_conversion_list(species, factor):
    assert ion_from_nitrogen(species, 1) == pytest.approx(factor, abs=0.00001)


def test_nitrate_factor_matches_the_instrument_maker():
    # Instrument-maker support note TE387 (2017): NO3 = 4.427 x NO3-N.
    assert ion_from_nitrogen("nitrate", 1) == pytest.approx(4.427, abs=0.0005)


def test_nitrate_teaching_examples():
    # Science of Agriculture teaching page: 30 mg/L nitrate is 6.78 mg N/L.
    assert nitrogen_from_ion("nitrate", 30) == pytest.approx(6.78, abs=0.01)
    # Discussion post with rounded masses 62/14: 5 mg N/L is 22.14 mg/L nitrate.
    assert ion_from_nitrogen("nitrate", 5) == pytest.approx(22.14, abs=0.02)


def test_ammonia_factor_matches_an_assay_maker():
    # Assay-maker support note: ammonia to nitrogen is 14.0067/17.031.
    assert nitrogen_from_ion("ammonia", 1) == pytest.approx(14.0067 / 17.031, rel=1e-4)


def test_alkalinity_used_per_gram_of_nitrogen():
    # Wastewater course notes CE 576: 7.14. Ebeling et al. 2006 as cited: 7.15 g CaCO3 per g TAN.
    assert alkalinity_used_mg(1000) == pytest.approx(7140, abs=10)
    assert alkalinity_used_mg(1000) == pytest.approx(7150, abs=10)


def test_oxygen_for_nitrification():
    # Wiesmann, Choi & Dombrowski 2007, Eqs. 10.4-10.17 (attribution inferred): 3.43 + 1.14 = 4.57 g O2/g N.
    assert abs(OXYGEN_PER_TAN - (3.43 + 1.14)) < 1e-9
    # Stoichiometry: two moles of O2 for each mole of N.
    assert abs(OXYGEN_PER_TAN - 2 * 2 * 15.999 / 14.007) < 0.005
    # Two foods with the same dry matter differ by their ammonia only.
    lean, rich = meal_load(1, 0, 0.1, 0.8), meal_load(1, 0, 0.2, 0.8)
    assert (rich.oxygen_g - lean.oxygen_g) / (rich.tan_g - lean.tan_g) == pytest.approx(4.57)
