"""The compiled step against SciPy's LSODA, and its balances against published stoichiometry."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import lambertw

from benchmarks.plain_equations import solve
from filtration.forecast import (
    Circuit,
    Drain,
    Inputs,
    Meal,
    PumpStop,
    Rinse,
    Source,
    WaterChange,
    draw,
    meal_of_food,
    middle_member,
    new_filter,
    settled,
    steady,
)
from filtration.forecast import layout as at
from filtration.forecast.compiled import kernel
from filtration.forecast.ensemble import steps_an_hour
from filtration.forecast.inputs import forcing
from filtration.forecast.priors import medians, natural
from filtration.forecast.water import carbon_dioxide_at, carbonate_constants
from tests.forecasting import BARREL, FISH, course_of

TAP = Source(nitrate=3, alkalinity=120, chlorine=1, is_chloramine=True)
TWO_WEEKS = 336
DAY_AND_NIGHT = 20 + 3 * np.sin(np.arange(TWO_WEEKS) * 2 * np.pi / 24)
TUB = Circuit(volume_m3=0.2, media_area_m2=20, flow_m3_h=1)
POND = Circuit(volume_m3=20, media_area_m2=300, flow_m3_h=12)

CASES = {
    "mature barrel, heavy meals, work on it": (
        BARREL,
        settled(BARREL, 3, 24),
        Inputs(
            np.full(TWO_WEEKS, 24.0),
            (
                meal_of_food(10, 1.36, *FISH),
                meal_of_food(178, 1.36, *FISH),
                WaterChange(80, 0.3, TAP, is_neutralised=False),
                PumpStop(200, 8),
                Rinse(250),
                Drain(260),
            ),
            evaporation_m3_day=0.005,
        ),
    ),
    "new barrel, small daily meals": (
        BARREL,
        new_filter(),
        steady(TWO_WEEKS, 24, [meal_of_food(24 * day + 10, 0.2, *FISH) for day in range(14)]),
    ),
    "warm tub with a quick filter": (
        TUB,
        settled(TUB, 1, 28),
        steady(TWO_WEEKS, 28, [meal_of_food(24 * day + 10, 0.07, *FISH) for day in range(14)]),
    ),
    "pond, day and night": (
        POND,
        settled(POND, 10, 20),
        Inputs(DAY_AND_NIGHT, tuple(meal_of_food(72 * meal + 10, 2.0, *FISH) for meal in range(4))),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_every_state_within_1_percent_of_lsoda_at_every_hour(name):
    """LSODA (Hindmarsh, ODEPACK) at a relative tolerance of 1e-8, on equations written apart from the step.

    Relative to the value, or to 1/1000 of the state's largest in the run where it is nearly nothing.
    """
    circuit, beginning, inputs = CASES[name]
    table = forcing(circuit, inputs)
    ensemble = draw(circuit, beginning, members=6, seed=5)
    ours = course_of(circuit, inputs, ensemble, steps_an_hour(circuit, table))
    for member, p in enumerate(natural(ensemble.scores)):
        theirs = solve(ensemble.states[member], p, table, kernel().begin_hour, 1e-8, 1e-10)
        scale = np.abs(theirs) + np.maximum(np.abs(theirs).max(axis=0) / 1000, 1e-9)
        error = (np.abs(ours[:, member] - theirs) / scale).max(axis=0)
        error[at.ADDED] = 0  # counted at once, not integrated
        assert error.max() < 0.01, at.STATE_NAMES[int(error.argmax())]


def _sealed(tan=20.0):
    """No air, no food, much alkalinity and oxygen: what nitrification takes can be counted."""
    circuit = replace(BARREL, surface_exchange_per_day=0.0, fall_recovery=0.0)
    beginning = replace(
        settled(circuit, 3, 24), tan=tan, nitrite=0.0, nitrate=0.0, alkalinity=2000.0, oxygen=500.0
    )
    return circuit, replace(beginning, gut_nitrogen_g=0.0, excreta_nitrogen_g=0.0)


def test_oxygen_and_alkalinity_a_gram_of_nitrogen():
    """4.57 g O2 per g N less growth is 4.32-4.33 (3.22 + 1.11, Gujer & Jenkins 1974); 7.14 g CaCO3 per g N.

    Alkalinity by stoichiometry (two equivalents per mole of N; wastewater course notes print 7.14).
    """
    circuit, beginning = _sealed()
    course = course_of(circuit, steady(24 * 20, 24), middle_member(circuit, beginning), 60)[:, 0]
    first, last = course[0], course[-1]
    to_gas = last[at.GAS]
    nitrified = last[at.NITRATE] + to_gas
    assert nitrified == pytest.approx(26, rel=0.01)  # all of it
    half = 3.22 * (first[at.TAN] - last[at.TAN]) + 1.11 * nitrified
    assert first[at.OXYGEN] - last[at.OXYGEN] == pytest.approx(half, rel=0.002)
    assert (first[at.OXYGEN] - last[at.OXYGEN]) / nitrified == pytest.approx(4.33, rel=0.005)
    used = first[at.ALKALINITY] - last[at.ALKALINITY] + 3.573 * to_gas
    assert used / (first[at.TAN] - last[at.TAN]) == pytest.approx(7.14, rel=0.002)


def test_urea_gives_back_half_of_the_alkalinity():
    """One equivalent a mole of N when urea turns into ammonium, against two used: 3.57 g CaCO3 per g N net."""
    circuit, beginning = _sealed(tan=0.0)
    start = middle_member(circuit, beginning)
    start.scores[0, at.P_HYDROLYSIS_ALKALINITY] = 40.0  # all of it is urea
    course = course_of(circuit, steady(24 * 40, 24, [Meal(0, 20, 0)]), start, 20)[:, 0]
    last = course[-1]
    used = course[0][at.ALKALINITY] - last[at.ALKALINITY] + 3.573 * last[at.GAS]
    assert used / (last[at.NITRATE] + last[at.GAS]) == pytest.approx(3.57, rel=0.005)


def test_full_film_takes_up_the_areal_rate():
    """0.3 g TAN/m2/day at 22 C and 1.5 mg/L: the middle of 0.2-0.6 for 1-2 mg/L (Eding et al. 2006; recalled).

    And within 0.064-0.576 measured on plastic chips (Harwanto, Oh & Jo 2011, Fish. Aquat. Sci. 14:363).
    """
    wide = Circuit(1000, media_area_m2=10, flow_m3_h=1e5, surface_exchange_per_day=0, fall_recovery=0)
    start = middle_member(
        wide, replace(new_filter(22, alkalinity=2e4), tan=1.5, oxygen=6.0, temperature_c=22)
    )
    start.states[:, at.AMMONIA_OXIDIZERS] = 1.0
    course = course_of(wide, steady(1, 22), start, 20)[:, 0]
    rate = (course[0, at.TAN] - course[-1, at.TAN]) * 24 / 10
    assert rate == pytest.approx(0.3, rel=0.05)
    assert 0.2 < rate < 0.576


@pytest.mark.parametrize(("tan", "tolerance"), [(0.02, 0.06), (0.5, 0.11), (4.0, 0.27)])
@pytest.mark.parametrize("flow_m3_h", [0.05, 0.3, 1.5, 20.0])
def test_water_gets_cleaner_on_its_way_up_as_in_a_plug_flow(flow_m3_h, tan, tolerance):
    """Monod's rate along a plug flow: K ln(in/out) + in - out = v/Q, solved by Lambert's W (scipy.special.lambertw).

    The form is meant for water that is nearly clean; above half saturation it lies between plug flow and a mixed tank.
    """
    wide = Circuit(1e4, media_area_m2=10, flow_m3_h=flow_m3_h, surface_exchange_per_day=0, fall_recovery=0)
    bare = replace(new_filter(22, alkalinity=2e4), tan=tan, oxygen=6.0, temperature_c=22)
    start = middle_member(wide, bare)
    start.states[:, at.AMMONIA_OXIDIZERS] = 1.0
    course = course_of(wide, steady(1, 22), start, 20)[:, 0]
    taken = (course[0, at.TAN] - course[-1, at.TAN]) / flow_m3_h
    full, half = 10 * 0.3 * (1 + 0.5 / 1.5) * _acid_and_alkalinity(), medians()[at.P_AMMONIA_HALF]
    start_over_half = tan / half
    out = half * lambertw(start_over_half * np.exp(start_over_half - full / (24 * flow_m3_h) / half)).real
    assert taken == pytest.approx(tan - out, rel=tolerance)
    assert taken < 1.05 * tan


def _acid_and_alkalinity():
    """What pH and alkalinity leave of the speed in that water: alkaline, and far from used up."""
    return (1 + 10 ** (6.4 - 7.5)) / (1 + 10 ** (6.4 - 7.6)) * 2e4 / (2e4 + 5.0)


@pytest.mark.parametrize("oxygen", [2.0, 3.0, 4.0, 6.0, 8.0])
def test_oxygen_limitation_follows_the_published_curve(oxygen):
    """1 - exp(-0.6 DO), SWAT Eq. 7:3.2.9 after QUAL2E, both scaled to 1 at 6 mg/L."""
    half = medians()[at.P_OXYGEN_HALF]
    ours = oxygen / (half + oxygen) * (half + 6) / 6
    assert ours == pytest.approx((1 - np.exp(-0.6 * oxygen)) / (1 - np.exp(-3.6)), rel=0.035)


@pytest.mark.parametrize(
    ("celsius", "saturation"), [(4, 13.1), (10, 11.3), (15, 10.1), (18, 9.47), (25, 8.26), (30, 7.56)]
)
def test_water_at_rest_holds_the_oxygen_of_the_table(celsius, saturation):
    """EN 25814 (ISO 5814) table, fresh water at 101.325 kPa, as printed in a sensor manual."""
    empty = replace(new_filter(celsius), tan=0.0, nitrite=0.0, oxygen=2.0)
    course = course_of(BARREL, steady(240, celsius), middle_member(BARREL, empty))
    assert course[-1, 0, at.OXYGEN] / 1.3 == pytest.approx(
        saturation, abs=0.051 if saturation >= 10 else 0.006
    )


def test_carbonate_constants_at_25_c():
    """pK1 6.35, pK2 10.33, Henry's constant 10^-1.47: any water-chemistry handbook (recalled, not re-read)."""
    first, second, water, henry = -np.log10(carbonate_constants(25))
    assert (first, second, water, henry) == pytest.approx((6.35, 10.33, 14.0, 1.47), abs=0.01)


@pytest.mark.parametrize(("alkalinity", "expected"), [(50, 8.2), (100, 8.5)])
def test_water_in_balance_with_air_is_slightly_alkaline(alkalinity, expected):
    """By hand for open air and 25 C: log K1 KH pCO2 = -7.82 - 3.38 = -11.2; bicarbonate 1 and 2 mmol/L: 8.2 and 8.5."""
    carbon_dioxide = 10**-1.468 * 420e-6 * 44.009e3
    row = forcing(BARREL, steady(1, 25))[0]
    assert kernel().ph_of(alkalinity, carbon_dioxide, row) == pytest.approx(expected, abs=0.03)


@pytest.mark.parametrize("ph", [5.5, 6.5, 7.2, 8.0, 8.8, 9.2])
@pytest.mark.parametrize("alkalinity", [2.0, 40.0, 200.0])
def test_ph_is_the_inverse_of_free_carbon_dioxide(ph, alkalinity):
    row = forcing(BARREL, steady(1, 18))[0]
    charge_mmol = alkalinity / 50.0435
    if charge_mmol <= 1e3 * (10 ** (ph - 14.2)):  # hydroxide alone would be more than that
        pytest.skip("no such water")
    free = carbon_dioxide_at(alkalinity, ph, 18)
    assert kernel().ph_of(alkalinity, free, row) == pytest.approx(ph, abs=0.01)
