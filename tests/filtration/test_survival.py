"""How many bacteria live on, held against what was published and against the forecast."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filtration import survival
from filtration.forecast.inputs import BED_OXYGEN_HOURS
from filtration.forecast.priors import PRIORS
from filtration.survival import (
    FROZEN,
    MEDICATED,
    NINETY_PERCENT,
    OVERHEATED,
    carried_after_harm,
    chlorinated,
    fell_dry,
    left_after,
    regrown,
    stood_still,
)
from refuge.errors import OutOfRange

KINDS = ("no_flow", "dry", "chlorine", "medicine", "frost", "heat")
amounts = st.floats(0, 2000)


def prior(name):
    return next(each for each in PRIORS if each.name == name)


def test_the_page_and_the_forecast_take_the_same_numbers():
    standing, chlorine = prior("airless_loss"), prior("chlorine_harm")
    assert (standing.median, standing.spread) == (survival.AIRLESS_LOSS, survival.AIRLESS_SPREAD)
    assert (chlorine.median, chlorine.spread) == (survival.CHLORINE_HARM, survival.CHLORINE_SPREAD)
    assert survival.BED_OXYGEN_HOURS == BED_OXYGEN_HOURS
    assert (prior("harm").median, prior("harm").spread) == (1.0, survival.HARM_SPREAD)


def test_nine_members_in_ten_keep_what_is_known_of_a_medicine_and_of_frost():
    """The range of the page and that of the forecast, which takes the middle to a lognormal power, are near each other."""
    for known in (MEDICATED, FROZEN, OVERHEATED):
        low, high = (
            known.middle ** math.exp(z * survival.HARM_SPREAD) for z in (NINETY_PERCENT, -NINETY_PERCENT)
        )
        assert low == pytest.approx(known.low, abs=0.08)
        assert high == pytest.approx(known.high, abs=0.15)


def test_about_a_third_is_left_after_a_day_without_flow():
    """Common practice, no source."""
    assert stood_still(24).middle == pytest.approx(1 / 3, abs=0.02)
    assert stood_still(1).low == 1


def test_chlorine_harms_as_a_day_of_chloramine_did_in_the_laboratory():
    """Oldenburg, Regan, Harrington & Noguera 2002: 0.00024 to 0.0025 L/mg a minute at pH 9 and 7, by living cells."""
    mildest, harshest = (math.exp(-rate * 24 * 60) for rate in (0.00024, 0.0025))
    left = chlorinated(1.0)
    assert left.low == pytest.approx(harshest, abs=0.02)
    assert left.high == pytest.approx(mildest, abs=0.05)
    assert harshest < left.middle < mildest


def test_what_was_frozen_or_dried_through():
    """Vogelsang and others 1999, gel beads: 60 % of the rate after freezing, 10 % or less after drying."""
    assert FROZEN.middle == 0.6
    assert fell_dry(48).middle < 0.1
    assert fell_dry(4).low == 1


def test_medicines_lie_within_what_filters_of_fish_farms_showed():
    """Schwartz and others 2000: formalin at 167 mg/L did no harm, benzalkonium chloride took 63 %, peroxide nearly all."""
    assert MEDICATED.low <= 0.05
    assert MEDICATED.high == 1.0
    assert MEDICATED.low < 1 - 0.63 < MEDICATED.high


@pytest.mark.parametrize("kind", KINDS)
@given(amount=amounts)
def test_a_range_holds_its_middle_and_is_a_share(kind, amount):
    left = left_after(kind, hours=amount, chlorine_mg_l=amount)
    assert 0 <= left.low <= left.middle <= left.high <= 1
    assert left.how


@given(st.floats(0, 1000), st.floats(0, 1000))
def test_longer_is_worse(one, two):
    short, long = sorted((one, two))
    for of in (stood_still, fell_dry, chlorinated):
        assert of(long).middle <= of(short).middle


def test_what_is_not_known_is_refused():
    with pytest.raises(OutOfRange, match="kind"):
        left_after("boredom")
    with pytest.raises(OutOfRange):
        stood_still(-1)


class TestGrowingBack:
    @given(st.floats(0, 1), st.floats(0, 60), st.floats(0, 40))
    def test_never_below_what_was_left_and_never_above_full(self, left, days, celsius):
        assert left <= regrown(left, days, celsius) <= 1

    def test_at_once_nothing_has_grown(self):
        assert regrown(0.3, 0, 24) == pytest.approx(0.3)

    def test_faster_in_warm_water(self):
        assert regrown(0.3, 5, 26) > regrown(0.3, 5, 14)

    def test_a_tenth_comes_back_as_a_seeded_filter_starts(self):
        from filtration.nitrification import maturity

        assert regrown(0.1, 10, 24) == pytest.approx(maturity(10, 24, seeded=True))


def test_what_a_filter_carries_after_harm():
    assert carried_after_harm(1.0, "mature", None) == 1.0
    assert carried_after_harm(1.0, "mature", 0.7) == 0.7
    assert carried_after_harm(0.5, "cycling", 0.5) == 0.25
    assert carried_after_harm(0.5, "disturbed", 0.8) == 0.8  # not by the usual half
