"""What to do about a bad reading. Shares of water by hand: (now - goal) / (now - source), goal at 80 % of the limit."""

from dataclasses import replace
from datetime import timedelta

import pytest

from enclosures.help import help_for
from enclosures.steps import steps
from refuge.rules.facts import Reading
from refuge.rules.limits import LimitsFor
from tests.enclosures.test_rules import TODAY, WATER, read

LIMITS = LimitsFor({})


def helped(facts, **reading):
    return help_for(replace(facts, tests=(read(**reading),)), LIMITS, TODAY)


def words_of(found):
    return " ".join(words for _, words in steps(found))


def test_nothing_bad_needs_no_help():
    assert helped(WATER) is None


def test_nitrite_is_thinned_below_its_limit():
    found = helped(WATER, nitrite=1.2)
    assert found.changes.share == pytest.approx((1.2 - 0.8) / 1.2)
    assert found.changes.each_m3 == pytest.approx(1 / 3)
    assert found.changes.times == 1
    assert "{volume:0.333333} now (33% of the water)" in words_of(found)


def test_more_than_half_is_spread_over_days():
    found = helped(WATER, nitrite=4.0)  # 80 % to renew: 1 - 0.2^(1/3) = 41.5 % three times
    assert found.changes.times == 3
    assert found.changes.share == pytest.approx(1 - 0.2 ** (1 / 3))
    assert (1 - found.changes.share) ** 3 * 4.0 == pytest.approx(0.8)


def test_ammonia_in_chloramine_is_counted_against_the_change():
    tap = replace(WATER, source_disinfectant="chloramine", source_chlorine_mg_l=2.0, source_name="Town")
    reading = {"tan": 2.0, "unionized": 0.08, "ph": 8.0}
    without, chloramine = helped(WATER, **reading), helped(tap, **reading)
    # goal 2 x 0.8 x 0.05 / 0.08 = 1.0; 2 mg/L Cl2 as NH2Cl leave 2 x 14.007 / 70.906 = 0.395 mg N/L.
    assert without.changes.share == pytest.approx(0.5)
    share = chloramine.changes.share
    assert 1 - (1 - share) ** chloramine.changes.times == pytest.approx((2 - 1) / (2 - 0.395), rel=1e-3)
    assert "chloramine" in words_of(chloramine)


def test_a_source_as_bad_as_the_goal_is_said():
    found = helped(replace(WATER, source_nitrate=35.0), nitrate=50.0)
    assert "nitrate may stay beyond its limit" in words_of(found)


@pytest.mark.parametrize("share_of_water", [1.0, 1.5])
def test_a_source_that_carries_as_much_is_no_remedy(share_of_water):
    found = helped(replace(WATER, source_nitrate=50.0 * share_of_water, source_name="Well"), nitrate=50.0)
    assert found.changes is None
    assert "Changing water does not thin the nitrate. Well carries as much" in words_of(found)


def test_chloramine_that_brings_more_ammonia_than_there_is_is_no_remedy():
    """Little ammonia at a high pH: 3 mg/L of chloramine leave 0.59 mg N/L, the water has 0.5."""
    tap = replace(WATER, source_disinfectant="chloramine", source_chlorine_mg_l=3.0, source_name="Town")
    found = helped(tap, tan=0.5, unionized=0.06, ph=8.4)
    assert found.changes is None
    assert not found.urgent
    assert "bind ammonia" in words_of(found)
    both = helped(tap, tan=0.5, unionized=0.06, ph=8.4, nitrite=1.2)
    assert [each.name for each in both.urgent] == ["nitrite"]


def test_where_no_change_is_enough_it_is_not_changed_without_end():
    found = helped(replace(WATER, source_nitrate=35.0), nitrate=50.0)
    assert 1 - (1 - found.changes.share) ** found.changes.times == pytest.approx(0.8)


def test_soft_new_water_leaves_alkalinity_to_bicarbonate():
    soft = replace(
        WATER,
        source_alkalinity=20.0,
        alkalinity=Reading(on=TODAY, value=40.0),
    )
    found = helped(soft, alkalinity=40.0)
    # 1,000 L from 40 to 80 x 1.25 = 100 mg/L: 60 g of CaCO3, 1.679 g of bicarbonate for each.
    assert found.changes is None
    assert "101 g of sodium bicarbonate" in words_of(found)
    unknown = helped(replace(soft, source_alkalinity=None), alkalinity=40.0)
    assert "101 g of sodium bicarbonate" in words_of(unknown)


@pytest.mark.parametrize(("ph", "words"), [(6.1, "Do not lift pH quickly"), (9.0, "Add no acid")])
def test_ph_is_not_chased(ph, words):
    assert words in words_of(helped(WATER, ph=ph))


def test_feeding_stops_for_what_food_makes_worse():
    assert helped(WATER, nitrite=1.2).stop_feeding
    assert not helped(WATER, nitrate=60.0).stop_feeding
    assert "Do not feed" in words_of(helped(WATER, oxygen=3.0))


def test_chlorine_is_taken_out_of_the_water_itself():
    found = helped(WATER, chlorine=0.5)
    # 7 g of thiosulfate for each g of chlorine (2 x 248.18 / 70.906), 1,000 L at 0.5 mg/L.
    assert found.dose_g == pytest.approx(3.5, rel=0.01)
    assert "sodium thiosulfate" in words_of(found)


def test_values_far_beyond_send_for_the_veterinarian_first():
    found = helped(WATER, nitrite=5.0)
    assert found.is_grave
    assert steps(found)[0][1].startswith("Call the veterinarian now")
    assert not helped(WATER, nitrite=1.2).is_grave


def test_an_old_reading_is_no_emergency():
    assert help_for(replace(WATER, tests=(read(15, nitrite=3.0),)), LIMITS, TODAY) is None
    assert help_for(replace(WATER, tests=(read(14, nitrite=3.0),)), LIMITS, TODAY + timedelta(0)) is not None


def test_a_good_test_since_ends_it():
    assert help_for(replace(WATER, tests=(read(0), read(1, nitrite=3.0))), LIMITS, TODAY) is None
