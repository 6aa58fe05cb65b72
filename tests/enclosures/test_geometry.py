import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from enclosures.geometry import water_surface_m2, water_volume_m3
from refuge.errors import ClearmereError, OutOfRange

sizes = st.floats(0.05, 200)


def test_each_shape_by_hand():
    assert water_surface_m2("rectangle", 3, 2) == 6
    assert water_surface_m2("round", 2) == pytest.approx(math.pi)
    assert water_surface_m2("oval", 4, 2) == pytest.approx(2 * math.pi)
    assert water_volume_m3("rectangle", 3, 2, 0.5) == 3


def test_a_round_stock_tank_holds_what_its_maker_says():
    # A tank 6 ft across filled to 2 ft holds pi x 9 x 2 = 56.5 ft3 = 423 US gallons (hand sum, 7.4805 gal/ft3).
    assert water_volume_m3("round", 6 * 0.3048, None, 2 * 0.3048) / 0.003785411784 == pytest.approx(
        423, abs=0.5
    )


@given(sizes, sizes)
def test_an_oval_lies_between_nothing_and_its_rectangle(length, width):
    assert 0 < water_surface_m2("oval", length, width) < water_surface_m2("rectangle", length, width)


@given(sizes)
def test_an_oval_with_equal_axes_is_a_circle(diameter):
    assert water_surface_m2("oval", diameter, diameter) == pytest.approx(water_surface_m2("round", diameter))


@given(sizes)
def test_the_width_of_a_round_water_is_ignored(diameter):
    assert water_surface_m2("round", diameter, math.nan) == water_surface_m2("round", diameter)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf, -math.inf, "wide", None])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_bad_sizes_are_refused_by_name(bad, place):
    sizes_m = [1.0, 1.0, 1.0]
    sizes_m[place] = bad
    with pytest.raises(OutOfRange) as caught:
        water_volume_m3("rectangle", *sizes_m)
    assert caught.value.argument == ["length_m", "width_m", "depth_m"][place]
    assert repr(bad) in str(caught.value)
    assert isinstance(caught.value, ValueError)
    assert isinstance(caught.value, ClearmereError)


def test_missing_width_and_unknown_shape_are_refused():
    with pytest.raises(OutOfRange, match="width_m"):
        water_surface_m2("oval", 2)
    with pytest.raises(OutOfRange, match="shape"):
        water_surface_m2("star", 2, 2)
