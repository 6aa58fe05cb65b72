"""What slows bacteria down or lets them wait, against published numbers: acid, un-ionized ammonia, hunger."""

from dataclasses import replace

import numpy as np
import pytest

from enclosures.chemistry import unionized_ammonia_mg_l
from filtration.forecast import Circuit, meals_every, middle_member, settled, steady
from filtration.forecast import layout as at
from filtration.forecast.compiled import kernel
from filtration.forecast.inputs import forcing
from husbandry.bioload import Load
from tests.forecasting import BARREL, course_of

# So much water and so much flow that one hour of work changes nothing but what is counted.
WIDE = Circuit(1000, media_area_m2=10, flow_m3_h=1e5, surface_exchange_per_day=0, fall_recovery=0)
FULL = replace(
    settled(WIDE, 3, 22),
    temperature_c=22,
    oxygen=6.0,
    gut_nitrogen_g=0.0,
    excreta_nitrogen_g=0.0,
    ammonia_oxidizers=0.99,
    nitrite_oxidizers=0.99,
)


def _taken_up(start, column):
    """What one hour takes out of a state of the water, g; alkalinity far above what could limit."""
    course = course_of(WIDE, steady(1, start.temperature_c), middle_member(WIDE, start), 20)[:, 0]
    return course[0, column] - course[-1, column]


def _ammonia_speed(ph):
    return _taken_up(replace(FULL, tan=2.0, nitrite=0.0, alkalinity=300.0, ph=ph), at.TAN)


@pytest.mark.parametrize("ph", [7.0, 6.5, 6.0, 5.5])
def test_acid_slows_as_published(ph):
    """2.35^(pH - 7.2) up to pH 7.2: Ekama's design notes, as used in a program made after them (read)."""
    ratio = _ammonia_speed(ph) / _ammonia_speed(7.2)
    assert ratio == pytest.approx(2.35 ** (ph - 7.2), abs=0.12)


def test_at_ph_5_next_to_nothing_is_nitrified():
    """River water, Ecohydrology & Hydrobiology 19:54 (2019), abstract: ammonium oxidation stopped at pH 5."""
    assert _ammonia_speed(5.0) < 0.06 * _ammonia_speed(7.5)


def test_best_range_changes_little():
    """pH 6.8-7.2 is best, SRAC 4502 (republished summary); 7 to 9 is common in practice (no source)."""
    speeds = [_ammonia_speed(ph) for ph in (7.2, 7.6, 8.0)]
    assert max(speeds) / min(speeds) < 1.15


@pytest.mark.parametrize(("micromol", "column"), [(46, at.NITRITE), (945, at.TAN)])
def test_unionized_ammonia_halves_each_step(micromol, column):
    """46 and 290-1600 (middle 945) micromol/L, Park & Bae 2009, Process Biochem. 44:631; the copy prints mM."""
    ph, celsius = 8.5, 22.0
    wanted = micromol * 14.007e-3
    tan = wanted / (unionized_ammonia_mg_l(1.0, celsius, ph))
    start = replace(FULL, nitrite=50.0, alkalinity=3000.0, ph=ph)
    if column == at.TAN:  # no more can be taken up with more of it: half saturation is far below
        plenty = _taken_up(replace(start, tan=tan, ph=6.9), at.TAN) * _acid(8.5) / _acid(6.9)
        assert _taken_up(replace(start, tan=tan), at.TAN) / plenty == pytest.approx(0.42, abs=0.1)
        return
    none = _taken_up(replace(start, tan=0.0), at.NITRITE)
    made = _taken_up(replace(start, tan=tan), at.TAN)
    left = _taken_up(replace(start, tan=tan), at.NITRITE) + made
    assert left / none == pytest.approx(0.5, abs=0.03)


def _acid(ph):
    return 1 / (1 + 10 ** (6.4 - ph))


def test_a_soft_water_runs_sour_and_nitrification_stops():
    """An acid crash (common practice, no source): soft water, no changes, feeding goes on. pH falls, ammonia climbs."""
    soft = replace(settled(BARREL, 2.5, 24, alkalinity=30.0), ph=7.0)
    days = 40
    meals = meals_every(Load(2.5, 12.0, 0.0, 0.0), days * 24, first=10, every_hours=24)
    course = course_of(BARREL, steady(days * 24, 24, meals), middle_member(BARREL, soft))[:, 0]
    row = forcing(BARREL, steady(1, 24))[0]
    ph = [kernel().ph_of(s[at.ALKALINITY] / 1.3, s[at.CARBON_DIOXIDE] / 1.3, row) for s in course[::24]]
    assert ph[-1] < 6.4 < ph[0]
    tan = course[::24, at.TAN] / 1.3
    assert tan[-1] > 5 * tan[3]
    buffered = replace(soft, alkalinity=400.0, ph=7.8)
    kept = course_of(BARREL, steady(days * 24, 24, meals), middle_member(BARREL, buffered))[-1, 0, at.TAN]
    assert kept / 1.3 < 0.2 * tan[-1]


def test_a_filter_keeps_most_of_itself_through_a_fortnight_without_food():
    """Nitrosospira briensis lost little activity in ten starved days (Bollmann et al. 2005, Appl. Environ. Microbiol.
    71:1276), lake nitrifiers recovered after two months (French & Bollmann 2015, Life 5:1396), N. europaea oxidised
    ammonia after 342 days; abstracts read. Decay of autotrophs 0.05 a day, Activated Sludge Model No. 1."""
    empty = replace(settled(BARREL, 3, 20), tan=0.0, nitrite=0.0, gut_nitrogen_g=0.0, excreta_nitrogen_g=0.0)
    course = course_of(BARREL, steady(60 * 24, 20), middle_member(BARREL, empty))[:, 0, at.AMMONIA_OXIDIZERS]
    left = course / course[0]
    assert left[10 * 24] == pytest.approx(np.exp(-0.05 * 10), rel=1e-6)
    assert left[14 * 24] > 0.45
    assert left[60 * 24] > 0.04
