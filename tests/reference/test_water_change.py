"""Water changes against published dilution sums."""

import pytest

from enclosures.chemistry import (
    change_fraction_to_reach,
    fraction_renewed_by_batches,
    fraction_renewed_continuously,
    mixed,
    sodium_bicarbonate_g,
)


def test_batch_and_continuous_exchange_of_half_a_volume():
    # Kraul et al. 1985, Prog. Fish-Cult. 47:69-70: a batch of 50 % renews 50 %, the same water run through 39 %.
    assert fraction_renewed_by_batches(0.5, 1) == pytest.approx(0.50)
    assert fraction_renewed_continuously(0.5, 1, 1) == pytest.approx(0.39, abs=0.005)


def test_flush_of_a_chamber():
    # respirometry R package, flush_water (Steffensen 1989, Eq. 5): 90 L, 2 L/min, 20 min give 0.3588 new water.
    assert fraction_renewed_continuously(2, 20, 90) == pytest.approx(0.3588, abs=0.00005)


def test_three_changes_of_thirty_percent():
    # 1 - 0.7^3, worked by hand.
    assert fraction_renewed_by_batches(0.3, 3) == pytest.approx(0.657)


def test_chlorine_left_in_a_pond_after_a_top_up():
    # Pond page (low authority): tap water of 0.5 mg/L at 10 % exchange gives 0.05 mg/L.
    assert mixed(0, 0.5, 0.1) == pytest.approx(0.05)


def test_change_that_halves_nitrate():
    # Common practice, no source: with clean source water half the volume halves nitrate.
    assert change_fraction_to_reach(40, 20, 0) == pytest.approx(0.5)


def test_bicarbonate_to_raise_alkalinity():
    # By equivalents 63.5 g NaHCO3 lift 3785 L (1000 US gal) by 10 mg/L as CaCO3. SRAC 4502 How to Start a
    # Biofilter (DeLong & Losordo 2012, republished summary) gives 53 g as a rule of thumb, 17 % less.
    assert sodium_bicarbonate_g(3785, 10) == pytest.approx(63.5, abs=0.05)
    assert sodium_bicarbonate_g(3785, 10) * (1 - 0.17) == pytest.approx(53, rel=0.01)
