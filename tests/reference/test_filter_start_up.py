"""Nitrification and start-up against published rates, laws and times."""

import pytest

from filtration.nitrification import (
    AMMONIA_ENERGY,
    NITRITE_ENERGY,
    _arrhenius,
    _growth_rates,
    areal_rate_g_m2_day,
    days_to_mature,
    maturity,
    media_area_m2,
    oxygen_factor,
    start_up,
)


def test_oxygen_limitation():
    # SWAT Eq. 7:3.2.9 after QUAL2E: 1 - exp(-0.6 DO) is 0.6988 at 2 mg/L; scaled here to 1 at 6 mg/L.
    assert oxygen_factor(2) / oxygen_factor(6) == pytest.approx(0.6988 / (1 - 2.718281828**-3.6), abs=0.0001)


def test_growth_temperature_law():
    # Vannecke & Volcke, appendix: Ea 68 and 44 kJ/mol; from 20 to 21 C that is 1.0995 and 1.0633.
    assert _arrhenius(AMMONIA_ENERGY, 21) == pytest.approx(1.0995, abs=0.0005)
    assert _arrhenius(NITRITE_ENERGY, 21) == pytest.approx(1.0633, abs=0.0005)


def test_net_growth_at_20_c():
    # Reichert, ecosim: growth 0.8 and 1.1, respiration 0.10 and death 0.10 per day, half saturations 0.5 mg/L;
    # worked by hand for 1 mg N/L and 6 mg O2/L: 0.8 x 0.6154 - 0.2 and 1.1 x 0.6154 - 0.2.
    assert _growth_rates(20) == pytest.approx((0.2923, 0.4769), abs=0.0001)


def test_areal_rate_lies_between_measured_ones():
    # Harwanto, Oh & Jo 2011, Fish. Aquat. Sci. 14:363, plastic chips: 0.064, 0.285 and 0.576 g/m2/day at low,
    # middle and high load; the design value stands near the middle one.
    assert 0.064 < areal_rate_g_m2_day(22) < 0.576
    assert areal_rate_g_m2_day(22) == pytest.approx(0.285, rel=0.25)


def test_warmth_helps_a_film_less_than_free_growth():
    # Organic-matter and biofilter study, Aquacult. Eng. 2005: 15 against 20 C no significant difference.
    # QUAL2E nitrite step: 1.047 per degree. Ours must lie between the two.
    assert 1 < areal_rate_g_m2_day(20) / areal_rate_g_m2_day(15) < 1.047**5


def test_new_filter_takes_one_to_six_weeks():
    # FAO 589 glossary: a new biofilter needs one to six weeks, depending on temperature and more.
    for celsius in (22, 23, 24, 25):
        assert 4 * 7 <= days_to_mature(celsius) <= 6 * 7
        assert 7 <= days_to_mature(celsius, seeded=True) < days_to_mature(celsius)


def test_new_filter_is_ready_after_a_measured_start_up():
    # Carroza et al. 2012, Lat. Am. J. Aquat. Res. 40:772: 42 days in fresh water.
    assert maturity(42, 24) >= 0.9


def test_ammonia_then_nitrite_two_weeks_each():
    # Trout in the Classroom, nitrogen cycle: ammonia rises for about two weeks, then nitrite for about two.
    assert start_up(10, 24).ammonia_oxidizers < 0.5 < start_up(21, 24).ammonia_oxidizers
    assert start_up(21, 24).nitrite_oxidizers < 0.5 < start_up(35, 24).nitrite_oxidizers


def test_cold_start_is_not_complete_after_months():
    # Lekang & Kleppe 2000, Aquacult. Eng. 21:181: after 140 days of a cold start media stood at 40 to 100 %.
    assert days_to_mature(8) > 100
    assert maturity(140, 4) < 0.9


def test_surface_of_equal_spheres_is_of_the_size_of_the_gravel_row():
    # Geometry 6 (1 - e) / d: 11.5 mm grains at a void of 0.40 give 313 m2/m3; the supplier's 236 is the same
    # size, and 50 mm river rock gives 70, the upper end of the recalled 40-70.
    gravel, river_rock = 6 * 0.6 / 0.0115, 6 * 0.58 / 0.05
    assert media_area_m2([(1, 236)]) == pytest.approx(gravel, rel=0.35)
    assert media_area_m2([(1, 55)]) == pytest.approx(river_rock, rel=0.35)
