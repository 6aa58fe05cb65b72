import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filtration import solids as s
from refuge.errors import OutOfRange

grams = st.floats(0, 50_000)
temperatures = st.floats(0, 40)
sediments = st.builds(s.Sediment, grams, grams)


@given(grams, st.floats(0, 1))
def test_what_is_not_captured_is_carried_over(solids_g, share):
    assert s.captured_g(solids_g, share) + s.carried_over_g(solids_g, share) == pytest.approx(solids_g)


def test_fresh_solids_split_into_two_parts():
    fresh = s.Sediment().plus(100)
    assert (fresh.easy_g, fresh.inert_g) == pytest.approx((45, 55))
    assert fresh.dry_g == pytest.approx(100)


@given(sediments, st.floats(0, 500), st.floats(0, 500), temperatures)
def test_ageing_twice_is_ageing_once(sediment, first, second, temperature_c):
    twice = sediment.aged(first, temperature_c).aged(second, temperature_c)
    assert twice.dry_g == pytest.approx(sediment.aged(first + second, temperature_c).dry_g)
    assert twice.inert_g == sediment.inert_g


def left_of(added_g, days, temperature_c):
    return s.Sediment().plus(added_g).aged(days, temperature_c).dry_g


def test_one_addition_by_hand():
    assert left_of(100, 0, 20) == pytest.approx(100)
    assert left_of(100, math.log(2) / 0.03, 20) == pytest.approx(55 + 22.5)
    assert left_of(100, 10_000, 20) == pytest.approx(55)


def test_cold_slows_digestion():
    assert left_of(100, 20, 8) > left_of(100, 20, 24)


def test_litres_by_hand():
    # 15 g dry in 1 kg of fresh sludge: 0.985 L of water and 15 g at 1.1 kg/L. Packed, 30 g in 1 kg.
    assert s.fresh_litres(15) == pytest.approx(0.985 + 0.015 / 1.1)
    assert s.Sediment(10, 20).litres() == pytest.approx(0.97 + 0.03 / 1.1)


@given(sediments, st.floats(0, 1000), temperatures)
def test_packing_presses_out_water_and_nothing_else(lying, days, temperature_c):
    fresh = s.Sediment(lying.easy_g, lying.inert_g, lying.easy_g, lying.inert_g)
    packs, lies = fresh.aged(days, temperature_c), lying.aged(days, temperature_c)
    assert packs.dry_g == pytest.approx(lies.dry_g)
    assert lies.litres() <= packs.litres() * (1 + 1e-9) <= fresh.litres() * (1 + 2e-9)


def test_half_of_it_packs_in_two_weeks():
    model = replace(s.DEFAULT_MODEL, inert_share=1.0)
    course = [
        s.Sediment().plus(100, model).aged(days, 20, model).litres(model)
        for days in (0, math.log(2) / 0.05, 900)
    ]
    assert course[1] == pytest.approx((course[0] + course[2]) / 2)
    assert 100 / 1000 / course[2] == pytest.approx(0.03, rel=0.01)


@given(st.floats(0, 2000), st.floats(0.01, 10))
def test_depth_and_litres_turn_back_into_each_other(litres, area):
    assert s.litres_from_depth(s.depth_from_litres(litres, area), area) == pytest.approx(litres)


def test_depth_in_a_barrel():
    assert s.depth_from_litres(25.5, 0.255) == pytest.approx(0.1)


def test_closed_form_matches_many_small_additions():
    """Against adding the solids piece by piece and ageing in between."""
    model, sediment, step = s.DEFAULT_MODEL, s.Sediment(40, 10), 0.05
    start = sediment
    for _ in range(2000):
        sediment = sediment.aged(step / 2, 22).plus(8 * step).aged(step / 2, 22)
    found = s.after(100, start, 8, 22, model)
    assert (found.dry_g, found.loose_g) == pytest.approx((sediment.dry_g, sediment.loose_g), rel=1e-4)
    assert found.litres() == pytest.approx(sediment.litres(), rel=1e-4)


@given(sediments, st.floats(0.01, 500), st.floats(0.1, 5000), temperatures)
def test_projection_finds_the_day_the_limit_is_crossed(sediment, daily, limit, temperature_c):
    found = s.project_days_until(limit, sediment, daily, temperature_c)
    if found is None:
        assert s.after(3652.5, sediment, daily, temperature_c).litres() < limit * (1 + 1e-9)
    elif found == 0:
        assert sediment.litres() >= limit * (1 - 1e-9)
    else:
        before, after = (
            s.after(d, sediment, daily, temperature_c).litres() for d in (max(found - 0.01, 0), found)
        )
        assert before <= limit * (1 + 1e-6)
        assert after >= limit * (1 - 1e-9)


def test_nothing_settling_never_reaches_the_limit():
    assert s.project_days_until(10, s.Sediment(), 0, 20) is None
    assert s.project_days_until(10, s.Sediment(100, 50), 0, 20) is None


def test_more_food_and_a_lower_limit_come_sooner():
    base = s.project_days_until(15, s.Sediment(), 7, 20)
    assert s.project_days_until(15, s.Sediment(), 14, 20) < base / 2 + 1e-3
    assert s.project_days_until(10, s.Sediment(), 7, 20) < base


def test_a_model_can_be_overridden():
    thick = replace(s.DEFAULT_MODEL, packed_dry_share=0.05)
    assert s.project_days_until(15, s.Sediment(), 7, 20, thick) > s.project_days_until(
        15, s.Sediment(), 7, 20
    )


@pytest.mark.parametrize("true_factor", [0.3, 0.8, 1.0, 2.5, 3.9])
def test_repeated_drains_settle_on_the_truth(true_factor):
    factor = 1.0
    for _ in range(12):
        factor = s.corrected(10 * factor, 10 * true_factor, factor)
    assert factor == pytest.approx(true_factor, rel=0.01)


@given(st.floats(0.1, 1000), st.floats(0, 10_000), st.floats(0.25, 4))
def test_the_correction_stays_in_bounds_and_moves_the_right_way(predicted, observed, factor):
    new = s.corrected(predicted, observed, factor)
    assert 0.25 <= new <= 4
    assert 0.5 * factor * (1 - 1e-9) <= new <= 2 * factor * (1 + 1e-9)
    assert (new - factor) * (observed - predicted) >= -1e-9


@pytest.mark.parametrize("bad", [-1, math.nan, math.inf])
@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda x: s.captured_g(x), "solids_g"),
        (lambda x: s.captured_g(1, x), "capture_share"),
        (lambda x: s.Sediment(easy_g=x), "easy_g"),
        (lambda x: s.Sediment(inert_g=x), "inert_g"),
        (lambda x: s.Sediment().plus(x), "settled_g"),
        (lambda x: s.Sediment().aged(x, 20), "days"),
        (lambda x: s.Sediment().aged(1, x), "temperature_c"),
        (lambda x: s.project_days_until(x, s.Sediment(), 1, 20), "limit_litres"),
        (lambda x: s.project_days_until(1, s.Sediment(), x, 20), "daily_solids_g"),
        (lambda x: s.corrected(x, 1), "predicted_litres"),
        (lambda x: s.corrected(1, x), "observed_litres"),
        (lambda x: s.corrected(1, 1, x), "current_factor"),
        (lambda x: s.depth_from_litres(x, 1), "litres"),
        (lambda x: s.depth_from_litres(1, x), "cross_section_m2"),
        (lambda x: s.litres_from_depth(x, 1), "depth_m"),
        (lambda x: s.SedimentModel(capture_share=x), "capture_share"),
        (lambda x: s.SedimentModel(packed_dry_share=x), "packed_dry_share"),
        (lambda x: s.SedimentModel(decay_per_day_20c=x), "decay_per_day_20c"),
    ],
)
def test_bad_numbers_are_refused_by_name(call, name, bad):
    with pytest.raises(OutOfRange) as caught:
        call(bad)
    assert caught.value.argument == name
