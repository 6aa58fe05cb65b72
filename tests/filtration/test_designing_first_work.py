"""Days to the first drain and rinse of a plan: the sums and limits of a filter that runs, in this void."""

import pytest

import filtration.rules  # noqa: F401 - its limits
from filtration.designing.assess import assess
from filtration.designing.bucket_words import SERIOUS
from filtration.designing.figures import figures
from filtration.designing.first_work import (
    DRAIN_SHARE,
    RINSE_G_L,
    first_drain,
    first_rinse,
    rinse_limit_g,
    solids_g_day,
    solids_per_tan,
)
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.operating_point import Fault, operating_point
from filtration.solids import Sediment, captured_g, project_days_until
from refuge.rules.limits import limits
from tests.filtration.hydraulic_designs import GOOD, barrel


@pytest.fixture
def numbers():
    return assess(barrel(**GOOD), tan_g_day=4.0).numbers


def test_limits_are_those_of_the_rules():
    kept = (
        limits[f"filtration.{key}"].default for key in ("drain_share", "rinse_solids_g_l", "rinse_flow_share")
    )
    assert tuple(kept) == (DRAIN_SHARE, RINSE_G_L, SERIOUS)


def test_the_drain_is_that_of_the_solids_model(numbers):
    void_l = numbers.design.section_m2 * 0.2 * 1000
    settling = captured_g(4.0 * solids_per_tan(), numbers.capture.share)
    by_hand = project_days_until(0.30 * void_l, Sediment(), settling, 24)
    assert first_drain(numbers).likely == pytest.approx(by_hand)
    assert first_drain(numbers).early < by_hand < first_drain(numbers).late


def test_the_rinse_by_hand(numbers):
    share = 1 - numbers.capture.share
    assert first_rinse(numbers).likely == pytest.approx(
        rinse_limit_g(numbers) / (solids_g_day(numbers) * share)
    )
    assert first_rinse(numbers).early < first_rinse(numbers).likely < first_rinse(numbers).late


def test_stones_that_slow_the_flow_first_ask_sooner():
    fine = assess(barrel(layers=(BedLayer("gravel", 0.4, grain_size_m=0.003),)), tan_g_day=4.0).numbers
    held = rinse_limit_g(fine)
    assert held < RINSE_G_L * fine.design.pore_volume_m3 * 1000
    slowed = operating_point(fine.design, Fault(held_kg=held / 1000)).flow_m3_h
    assert slowed == pytest.approx(SERIOUS * fine.point.flow_m3_h, rel=1e-3)


def test_twice_the_load_asks_at_most_half_as_late(numbers):
    twice = assess(barrel(**GOOD), tan_g_day=8.0).numbers
    assert first_drain(twice).likely <= first_drain(numbers).likely / 2
    assert first_rinse(twice).likely == pytest.approx(first_rinse(numbers).likely / 2)


def test_figures_show_a_range_and_nothing_without_a_load():
    said = {each.key: each.said for each in figures(assess(barrel(**GOOD), tan_g_day=4.0))}
    assert "days (" in said["first_drain"] and " to " in said["first_rinse"]
    assert "first_drain" not in {each.key for each in figures(assess(barrel(**GOOD)))}
