"""Total ammonia nitrogen from food against the published factor and worked examples."""

import pytest

from filtration.nitrification import media_area_m2
from husbandry.bioload import TAN_PER_PROTEIN, meal_load, tan_from_food_g


def test_factor_is_the_product_of_its_published_parts():
    # Timmons & Ebeling 2010; Ebeling et al. 2006, Eq. 1: 0.16 N, 0.80 taken up, 0.80 excreted, 0.90 as TAN.
    assert round(0.16 * 0.80 * 0.80 * 0.90, 3) == TAN_PER_PROTEIN


def test_tan_from_a_kilogram_of_feed():
    # Formula F x PC x 0.092 (Ebeling et al. 2006, Eq. 1) evaluated by hand for 1 kg at 35 %: 32.2 g.
    assert tan_from_food_g(1, 0.35) == pytest.approx(32.2)


def test_tan_from_whole_catfish():
    # Same formula by hand for 100 g at 15.86 % protein as fed (Longvah et al. 2017, S001).
    assert meal_load(0.1, 0, 0.1586, 0.7723).tan_g == pytest.approx(1.459, abs=0.001)


def test_rule_of_thumb_for_feed_of_usual_protein():
    # Ammonia-loading note of the Helfrich & Libey type: about 25 g per kg of feed of 30-40 % protein
    # (454 g gives 11 350 mg). The factor 0.092 gives 27.6 to 36.8 g: same size, the newer one more cautious.
    for protein in (0.30, 0.35, 0.40):
        assert 11.35 <= tan_from_food_g(0.454, protein) <= 1.5 * 11.35


def test_net_protein_use_route_agrees():
    # Hargreaves & Tucker 2004, SRAC 463 (recalled, not re-read): 30.7 g N per kg feed at 32 % protein and 40 %
    # net protein use. Independent route, within 10 %.
    assert tan_from_food_g(1, 0.32) == pytest.approx(30.7, rel=0.10)


def test_left_food_uses_the_factor_for_systems_that_keep_their_solids():
    # Zero-exchange variant F x PC x 0.144 (seen in a farm's calculation).
    assert meal_load(0, 1, 0.32, 0.1).tan_g == pytest.approx(320 * 0.144)


def test_area_of_the_aquaponics_example():
    # Somerville et al. 2014, FAO 589 section 8.1 (recalled, arithmetic checked): 13.15 m2 fit in 43.8 L of
    # volcanic gravel of 300 m2/m3.
    assert media_area_m2([(0.0438, 300)]) == pytest.approx(13.15, rel=0.005)
