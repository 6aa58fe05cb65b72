import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from enclosures import chemistry as c
from refuge.errors import OutOfRange

temperatures = st.floats(0, 40)
amounts = st.floats(0, 1000)


@given(st.floats(0, 49), st.floats(4, 10))
def test_warmth_and_ph_raise_the_unionized_share(temperature_c, ph):
    share = c.unionized_fraction(temperature_c, ph)
    assert 0 < share < c.unionized_fraction(temperature_c + 1, ph) < 1
    assert share < c.unionized_fraction(temperature_c, ph + 0.1)


@given(st.sampled_from(["ammonia", "ammonium", "nitrite", "nitrate"]), amounts)
def test_nitrogen_and_ion_turn_back_into_each_other(species, mg_l):
    assert c.ion_from_nitrogen(species, c.nitrogen_from_ion(species, mg_l)) == pytest.approx(mg_l)


@given(temperatures, st.floats(-500, 5900))
def test_oxygen_falls_with_warmth_and_height(temperature_c, elevation_m):
    here = c.oxygen_saturation_mg_l(temperature_c, elevation_m)
    assert 0 < c.oxygen_saturation_mg_l(temperature_c, elevation_m + 100) < here
    if temperature_c <= 39:
        assert c.oxygen_saturation_mg_l(temperature_c + 1, elevation_m) < here


@given(st.floats(0.1, 500), st.floats(0.01, 0.99), st.floats(0, 0.95))
def test_the_change_it_asks_for_reaches_the_target(current, target_share, source_share):
    target = current * target_share
    source = target * source_share
    fraction = c.change_fraction_to_reach(current, target, source)
    assert 0 < fraction < 1
    assert c.mixed(current, source, fraction) == pytest.approx(target)


def test_no_change_is_needed_at_or_below_the_target():
    assert c.change_fraction_to_reach(20, 20, 5) == 0
    assert c.change_fraction_to_reach(10, 20, 30) == 0


@pytest.mark.parametrize("source", [20, 25])
def test_a_source_no_better_than_the_target_cannot_reach_it(source):
    with pytest.raises(OutOfRange, match="source"):
        c.change_fraction_to_reach(40, 20, source)


@given(st.floats(0.01, 0.99), st.integers(1, 30))
def test_batches_renew_what_repeated_mixing_leaves(fraction, times):
    left = 1.0
    for _ in range(times):
        left = c.mixed(left, 0, fraction)
    assert c.fraction_renewed_by_batches(fraction, times) == pytest.approx(1 - left)


@given(st.floats(0.001, 0.9))
def test_running_water_through_renews_less_than_a_batch(fraction):
    assert c.fraction_renewed_continuously(fraction, 1, 1) < fraction


@given(st.floats(0.5, 15), st.floats(0, 1), st.floats(100, 1e5))
def test_bleach_sums_turn_back_into_each_other(percent, share, final_ml):
    ppm = c.hypochlorite_ppm(percent, share * final_ml, final_ml)
    assert c.product_ml_for(ppm * (1 - 1e-12), percent, final_ml) == pytest.approx(
        share * final_ml, rel=1e-6, abs=1e-6
    )


def test_chronic_criterion_is_below_the_acute_one():
    for ph in (6.5, 7.5, 8.5):
        assert c.epa_2013_chronic_tan_mg_l(ph, 22) < c.epa_2013_acute_tan_mg_l(ph, 22)


def test_mussels_do_not_matter_to_the_acute_criterion_in_the_cold():
    assert c.epa_2013_acute_tan_mg_l(7, 8, mussels=False) >= c.epa_2013_acute_tan_mg_l(7, 8, mussels=True)


SINGLE = {
    "temperature_c": lambda x: c.ammonium_pka(x),
    "ph": lambda x: c.unionized_fraction(20, x),
    "tan_mg_l": lambda x: c.unionized_ammonia_mg_l(x, 20, 7),
    "mg_l": lambda x: c.nitrogen_from_ion("nitrate", x),
    "nitrogen_mg_l": lambda x: c.ion_from_nitrogen("nitrate", x),
    "nitrogen_mg": c.alkalinity_used_mg,
    "elevation_m": lambda x: c.oxygen_saturation_mg_l(20, x),
    "current": lambda x: c.mixed(x, 0, 0.5),
    "target": lambda x: c.change_fraction_to_reach(5, x, 0),
    "source": lambda x: c.mixed(5, x, 0.5),
    "fraction": lambda x: c.mixed(5, 1, x),
    "times": lambda x: c.fraction_renewed_by_batches(0.5, x),
    "flow": lambda x: c.fraction_renewed_continuously(x, 1, 1),
    "time": lambda x: c.fraction_renewed_continuously(1, x, 1),
    "volume": lambda x: c.fraction_renewed_continuously(1, 1, x),
    "volume_l": lambda x: c.thiosulfate_g(x, 1),
    "total_chlorine_mg_l": lambda x: c.thiosulfate_g(1, x),
    "product_percent": lambda x: c.hypochlorite_ppm(x, 1, 10),
    "product_ml": lambda x: c.hypochlorite_ppm(5, x, 10),
    "final_ml": lambda x: c.hypochlorite_ppm(5, 0, x),
    "ppm": lambda x: c.product_ml_for(x, 5, 10),
}


@pytest.mark.parametrize("name", SINGLE)
@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, -501])
def test_bad_numbers_are_refused_by_name(name, bad):
    with pytest.raises(OutOfRange) as caught:
        SINGLE[name](bad)
    assert caught.value.argument == name


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: c.ammonium_pka(50.1), "temperature_c"),
        (lambda: c.unionized_fraction(20, 14.1), "ph"),
        (lambda: c.oxygen_saturation_mg_l(40.1), "temperature_c"),
        (lambda: c.oxygen_saturation_mg_l(20, 6001), "elevation_m"),
        (lambda: c.mixed(1, 1, 1.01), "fraction"),
        (lambda: c.fraction_renewed_continuously(1, 1, 0), "volume"),
        (lambda: c.hypochlorite_ppm(20.1, 1, 10), "product_percent"),
        (lambda: c.hypochlorite_ppm(5, 11, 10), "product_ml"),
        (lambda: c.product_ml_for(60_000, 5, 10), "ppm"),
        (lambda: c.epa_2013_chronic_tan_mg_l(5.9, 20), "ph"),
        (lambda: c.nitrogen_from_ion("nitrogen", 1), "species"),
    ],
)
def test_values_just_past_their_bound_are_refused(call, name):
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.argument == name
