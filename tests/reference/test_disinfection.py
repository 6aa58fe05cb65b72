"""Dechlorination and bleach mixing against published mixes."""

import pytest

from enclosures.chemistry import (
    ammonia_from_chloramine_mg_l,
    hypochlorite_ppm,
    product_ml_for,
    thiosulfate_g,
)


def test_thiosulfate_worked_example():
    # Instrument-maker support note TE213: 500 mL at 2.0 mg/L chlorine needs 7.0 mg of the pentahydrate.
    assert thiosulfate_g(0.5, 2.0) * 1000 == pytest.approx(7.0)


def test_thiosulfate_lies_in_the_pond_keepers_range():
    # Pond forum (low authority): 1.5 to 5.3 g for 100 US gallons at 2 ppm, upper end 7 parts for one.
    assert thiosulfate_g(379, 2) == pytest.approx(5.3, abs=0.05)


def test_thiosulfate_follows_from_molar_masses():
    # Tetrathionate reaction: 2 mol Na2S2O3.5H2O (248.18 g/mol) for 1 mol Cl2 (70.906 g/mol).
    assert thiosulfate_g(1000, 1) == pytest.approx(2 * 248.18 / 70.906, rel=1e-3)


def test_bleach_for_a_thousand_ppm():
    # Bleach mixing instruction: 400 mL of 5 % product made up to 20 L is 1000 ppm (1 part and 49 parts).
    assert hypochlorite_ppm(5.0, 400, 20_000) == pytest.approx(1000)
    assert product_ml_for(1000, 5.0, 20_000) == pytest.approx(400)


def test_surface_mix_of_a_health_agency():
    # CDC guidance as quoted: 5 tablespoons (73.93 mL) of 5.25 % product per US gallon, at least 1000 ppm.
    assert hypochlorite_ppm(5.25, 73.93, 3785.4 + 73.93) == pytest.approx(1005, abs=1)


def test_one_to_ten_can_be_read_two_ways():
    # Sodium hypochlorite fact sheet: 5250 ppm when 1 in 10; 4773 ppm when 1 part is added to 10 parts.
    assert hypochlorite_ppm(5.25, 1, 10) == pytest.approx(5250)
    assert hypochlorite_ppm(5.25, 1, 11) == pytest.approx(4773, abs=0.5)


def test_three_percent_bleach_is_percent_of_product():
    # Michigan DNR reptile and amphibian protocol: 1 cup in 2 US gallons (1 part in 33), called 3 %; of a
    # 5.25 % product that is about 0.16 % hypochlorite.
    assert hypochlorite_ppm(5.25, 1, 33) / 10_000 == pytest.approx(0.16, abs=0.005)


def test_ammonia_set_free_from_chloramine():
    # Monochloramine NH2Cl: one N (14.007) for each Cl2 (70.906) that the test reports; 2 mg/L gives 0.395 mg N/L.
    assert ammonia_from_chloramine_mg_l(2) == pytest.approx(0.395, abs=0.001)
