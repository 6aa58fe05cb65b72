"""EPA 822-R-13-001 (2013) criteria for total ammonia in fresh water."""

import pytest

from enclosures.chemistry import epa_2013_acute_tan_mg_l, epa_2013_chronic_tan_mg_l


def _two_figures(value):
    return float(f"{value:.2g}")


def test_published_criteria_at_ph_7_and_20_c():
    # EPA 822-R-13-001 as summarised by AE2S 2013: acute 17, chronic 1.9, four-day 2.5 x 1.9 = 4.75 mg TAN/L.
    acute = epa_2013_acute_tan_mg_l(7.0, 20, mussels=True)
    chronic = epa_2013_chronic_tan_mg_l(7.0, 20, mussels=True)
    assert (_two_figures(acute), _two_figures(chronic)) == (17, 1.9)
    assert 2.5 * _two_figures(chronic) == 4.75


# Evaluated separately from the formulas of a state agency's assessment code for EPA 822-R-13-001 (read), so
# these guard the typing, not the science: pH, C, acute with salmonids, acute without, chronic; mussels present.
CELLS = [
    (6.5, 7, 32.6, 50.9, 4.92),
    (6.5, 14, 32.6, 37.3, 3.13),
    (6.5, 20, 22.7, 22.7, 2.13),
    (6.5, 25, 15, 15, 1.54),
    (6.5, 30, 9.9, 9.9, 1.12),
    (7.0, 7, 24.1, 37.6, 4.36),
    (7.0, 14, 24.1, 27.6, 2.78),
    (7.0, 20, 16.8, 16.8, 1.89),
    (7.0, 25, 11.1, 11.1, 1.37),
    (7.0, 30, 7.32, 7.32, 0.99),
    (7.5, 7, 13.3, 20.7, 3.22),
    (7.5, 14, 13.3, 15.2, 2.05),
    (7.5, 20, 9.24, 9.24, 1.39),
    (7.5, 25, 6.1, 6.1, 1.01),
    (7.5, 30, 4.03, 4.03, 0.731),
    (8.0, 7, 5.62, 8.77, 1.8),
    (8.0, 14, 5.62, 6.42, 1.14),
    (8.0, 20, 3.9, 3.9, 0.777),
    (8.0, 25, 2.58, 2.58, 0.563),
    (8.0, 30, 1.7, 1.7, 0.408),
    (8.5, 7, 2.14, 3.34, 0.804),
    (8.5, 20, 1.49, 1.49, 0.348),
    (8.5, 30, 0.649, 0.649, 0.183),
    (9.0, 7, 0.885, 1.38, 0.359),
    (9.0, 20, 0.615, 0.615, 0.155),
    (9.0, 30, 0.268, 0.268, 0.0815),
]


@pytest.mark.parametrize(("ph", "temperature_c", "salmonids", "no_salmonids", "chronic"), CELLS)
def test_criteria_cells(ph, temperature_c, salmonids, no_salmonids, chronic):
    acute = {
        present: epa_2013_acute_tan_mg_l(ph, temperature_c, mussels=True, salmonids=present)
        for present in (True, False)
    }
    assert acute[True] == pytest.approx(salmonids, rel=0.006)
    assert acute[False] == pytest.approx(no_salmonids, rel=0.006)
    assert epa_2013_chronic_tan_mg_l(ph, temperature_c, mussels=True) == pytest.approx(chronic, rel=0.006)


def test_criteria_where_there_are_no_mussels():
    # EPA 822-R-13-001 at pH 7 and 20 C, two figures (recalled, not re-read): acute 38, chronic 6.5 with early
    # life stages present.
    assert _two_figures(epa_2013_acute_tan_mg_l(7, 20)) == 38
    assert _two_figures(epa_2013_chronic_tan_mg_l(7, 20, early_life=True)) == 6.5
    # The formulas as read, worked by hand at pH 7.688 (both halves of the bracket equal 1/2: 0.6136) and 25 C.
    assert epa_2013_chronic_tan_mg_l(7.688, 25) == pytest.approx(0.9405 * 0.6136 * 7.547 * 10**-0.14)
    # The same at pH 7.204 (both halves equal 1/2: 0.81475) and 30 C, where the warm branch holds.
    assert epa_2013_acute_tan_mg_l(7.204, 30) == pytest.approx(0.7249 * 0.81475 * 62.15 * 10**-0.36)
    # 7 C and colder are the same where neither mussels nor early life are present.
    assert epa_2013_chronic_tan_mg_l(7, 2) == epa_2013_chronic_tan_mg_l(7, 7)


def test_mussels_are_the_most_sensitive_then_early_life():
    for celsius in (5, 12, 20, 28):
        mussels = epa_2013_chronic_tan_mg_l(7.5, celsius, mussels=True)
        early = epa_2013_chronic_tan_mg_l(7.5, celsius, early_life=True)
        neither = epa_2013_chronic_tan_mg_l(7.5, celsius)
        assert mussels < early <= neither
