"""The drawing of readings: checked against hand sums and against what must hold for any readings."""

import math
import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refuge.sparkline import course_words, is_outside, path_through, sparkline

READINGS = st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), max_size=30)


def test_points_stand_where_a_hand_sum_puts_them() -> None:
    """120 wide, 32 high, margin 4: x = 4, 60, 116; the scale 0 to 10 takes y from 28 up to 4."""
    drawing = sparkline([0, 10, 5])
    assert drawing.line == "M4 28L60 4L116 16"
    assert drawing.last == (116, 16)


def test_a_gap_lifts_the_pen() -> None:
    assert sparkline([0, 10, None, 10, 0]).line == "M4 28L32 4M88 4L116 28"


def test_not_a_number_is_a_gap() -> None:
    assert sparkline([0, 10, math.nan, 10, 0]).line == sparkline([0, 10, None, 10, 0]).line


def test_a_reading_between_two_gaps_is_a_dot() -> None:
    assert sparkline([0, None, 10, None, 0]).lone == [(4, 28), (60, 4), (116, 28)]


def test_limits_widen_the_scale_and_give_the_band() -> None:
    """Limits 0 and 20 over readings of 10 put them in the middle and the band over the whole scale."""
    drawing = sparkline([10, 10], 0, 20)
    assert drawing.line == "M4 16L116 16"
    assert drawing.band == (4, 24)


def test_an_open_limit_reaches_the_edge() -> None:
    assert sparkline([0, 10], high=5).band == (16, 16)
    assert sparkline([0, 10], low=5).band == (0, 16)


def test_no_limits_draw_no_band() -> None:
    assert sparkline([1, 2]).band is None


def test_readings_beyond_a_limit_are_marked_and_those_on_it_are_not() -> None:
    assert sparkline([0, 5, 10], 0, 5).outside == [(116, 4)]


@pytest.mark.parametrize(
    ("value", "low", "high", "outside"),
    [(1, 2, None, True), (3, None, 2, True), (2, 2, 2, False), (9, None, None, False)],
)
def test_outside(value: float, low: float | None, high: float | None, outside: bool) -> None:
    assert is_outside(value, low, high) is outside


@pytest.mark.parametrize("values", [[], [None], [None, None]])
def test_nothing_known_draws_nothing(values: list[None]) -> None:
    drawing = sparkline(values)
    assert (drawing.line, drawing.last, drawing.outside, drawing.lone) == ("", None, [], [])


def test_equal_readings_lie_in_the_middle() -> None:
    assert sparkline([7, 7]).line == "M4 16L116 16"


def test_limits_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(ValueError, match=r"low 8 is above high 6"):
        sparkline([7], 8, 6)


def test_a_margin_without_room_is_refused() -> None:
    with pytest.raises(ValueError, match="leaves no room"):
        sparkline([7], margin=16)


@given(READINGS)
def test_every_reading_lies_inside_the_margins(values: list[float | None]) -> None:
    for pair in re.findall(r"[ML]([\d.]+) ([\d.]+)", sparkline(values).line):
        assert 4 <= float(pair[0]) <= 116
        assert 4 <= float(pair[1]) <= 28


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=20))
def test_a_higher_reading_is_never_drawn_lower(values: list[float]) -> None:
    heights = [float(pair.split()[1]) for pair in sparkline(values).line[1:].split("L")]
    in_order = sorted(zip(values, heights, strict=True))
    assert all(first[1] >= second[1] for first, second in pairwise(in_order) if first < second)


@given(READINGS)
def test_the_line_names_every_known_reading_once(values: list[float | None]) -> None:
    line = sparkline(values).line
    assert line.count("M") + line.count("L") == sum(value is not None for value in values)


def test_path_numbers_are_plain() -> None:
    assert path_through([(0.5, 1.0), None, (2, 3)]) == "M0.5 1M2 3"


@pytest.mark.parametrize(
    ("values", "unit", "words"),
    [
        ([0.0, 1.2, None, 0.3], "mg/L N", "last 3 readings: 0 to 1.2 mg/L N, lately 0.3"),
        ([0.3], "mg/L", "one reading: 0.3 mg/L"),
        ([7.0, 7.0], "", "last 2 readings: always 7"),
        ([1234.5, 80.0], "g", "last 2 readings: 80 to 1234 g, lately 80"),
        ([None, math.nan], "g", ""),
    ],
)
def test_the_course_is_told_in_words(values: list[float | None], unit: str, words: str) -> None:
    assert course_words(values, unit) == words
