"""What to do about a bad reading. Shares of water by hand: (now - goal) / (now - source), goal at 80 % of the limit."""

from dataclasses import replace
from datetime import timedelta

import pytest

from enclosures.help import help_for, unread
from enclosures.steps import at_once, steps
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


def test_what_harms_soon_and_was_not_read_is_said_not_taken_as_well():
    ammonia, nitrite = "ammonia, with pH and temperature", "nitrite"
    read_both = {"tan": 0.1, "unionized": 0.01, "nitrite": 0.1}
    assert unread(replace(WATER, tests=()), TODAY) == (ammonia, nitrite)
    assert unread(replace(WATER, tests=(read(tan=0.1, unionized=None, nitrite=None),)), TODAY) == (
        ammonia,
        nitrite,
    )  # no pH: not known
    assert unread(replace(WATER, tests=(read(nitrite=0.1, unionized=None),)), TODAY) == (ammonia,)
    assert unread(replace(WATER, tests=(read(**read_both),)), TODAY) == ()
    later = TODAY + timedelta(days=15)
    assert unread(replace(WATER, tests=(read(**read_both),)), later) == (ammonia, nitrite)


def test_a_test_of_ph_alone_that_finds_the_water_sour_keeps_the_changes_small():
    ammonia = read(1, tan=3.0, ph=7.6, unionized=0.066, unionized_ph=7.6, unionized_temperature_c=25)
    sour = read(tan=None, nitrite=None, unionized=None, ph=5.6)
    before, after = (
        help_for(replace(WATER, tests=tests), LIMITS, TODAY) for tests in ((ammonia,), (sour, ammonia))
    )
    assert (before.is_sour, after.is_sour) == (False, True)
    assert before.changes.share > 0.25
    assert after.changes.share == pytest.approx(0.1)
    assert "This water is sour" in words_of(after)


def test_one_that_was_sour_with_its_ammonia_stays_so_until_ammonia_is_read_again():
    acid = read(1, tan=8.0, ph=5.6, unionized=0.002, unionized_ph=5.6, unionized_temperature_c=25)
    sweet = read(tan=None, nitrite=None, unionized=None, ph=7.3)
    assert help_for(replace(WATER, tests=(sweet, acid)), LIMITS, TODAY).is_sour


def test_ammonia_read_without_ph_asks_for_ph_and_says_what_it_was_judged_by():
    lent = helped(WATER, tan=3.0, ph=None, unionized=0.066, unionized_ph=7.6, unionized_temperature_c=25)
    assert "Read pH too" in words_of(lent)
    assert "the pH of another test, 7.6." in words_of(lent)
    none = helped(WATER, tan=3.0, ph=None, unionized=None)
    assert "nobody knows how much of the ammonia harms" in words_of(none)
    own = helped(WATER, tan=3.0, ph=7.6, unionized=0.066, unionized_ph=7.6)
    assert "Read pH" not in words_of(own)
    assert "Read pH" not in words_of(helped(WATER, nitrite=2.0, ph=None))


def test_nitrite_is_thinned_below_its_limit():
    found = helped(WATER, nitrite=1.2)
    assert found.changes.share == pytest.approx((1.2 - 0.8) / 1.2)
    assert found.changes.each_m3 == pytest.approx(1 / 3, rel=2e-3)
    assert found.changes.times == 1
    assert "{volume:0.333} now (33% of the water)" in words_of(found)


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
    much = helped(replace(tap, source_chlorine_mg_l=20.0), tan=2.5, unionized=0.3, ph=8.4)
    assert words_of(much).count("Changing water does not thin the ammonia") == 1
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


class TestSourWater:
    """Total ammonia 8 at pH 6: harmless while it is sour, deadly once new water lifts its pH."""

    SOUR = {"tan": 8.0, "ph": 6.0, "alkalinity": 10.0, "unionized": 0.005}

    @pytest.fixture
    def found(self):
        hard = replace(WATER, source_alkalinity=160.0, alkalinity=Reading(on=TODAY, value=10.0))
        reading = read(**self.SOUR, unionized_ph=6.0, unionized_temperature_c=25.0)
        return help_for(replace(hard, tests=(reading,)), LIMITS, TODAY)

    def test_is_changed_by_a_tenth_a_day_and_not_sweetened(self, found):
        assert found.is_sour
        assert (found.changes.share, found.changes.times) == (pytest.approx(0.1), 7)
        assert "each after a test" in words_of(found)
        assert found.bicarbonate == ""

    def test_animals_go_out_or_ammonia_is_bound_before_any_water_is_changed(self, found):
        words = [each for _, each in steps(found)]
        move, sour, change = (
            next(i for i, each in enumerate(words) if part in each)
            for part in ("Move the animals out", "This water is sour", "Change {volume")
        )
        assert move < sour < change
        assert "This water is sour" in at_once(found, found.changes)[0]

    def test_nobody_is_fed_though_un_ionized_ammonia_is_low(self, found):
        assert found.stop_feeding

    def test_little_ammonia_in_acid_water_is_not_that(self):
        reading = read(tan=0.2, ph=6.0, unionized=0.0, unionized_ph=6.0, unionized_temperature_c=25.0)
        assert not help_for(replace(WATER, tests=(reading,)), LIMITS, TODAY).is_sour


class TestChangedSince:
    def test_what_was_changed_counts_and_the_rest_is_asked_for(self):
        before = helped(WATER, nitrite=4.0)
        after = helped(WATER, nitrite=4.0, renewed_since=before.changes.share)
        assert after.changes.times == before.changes.times - 1
        assert after.changes.share == pytest.approx(before.changes.share)
        # 4 x 0.8 to the third of a part: 4 x 0.2^(1/3) = 2.3
        assert (
            "42% of the water was changed since that reading. By the sums: nitrite now about 2.3"
            in words_of(after)
        )

    def test_enough_changed_leaves_only_the_test(self):
        found = helped(WATER, nitrite=1.2, renewed_since=0.4)
        assert found.changes is None
        assert not found.urgent
        assert not found.unmended
        assert found.stop_feeding  # until a test is good
        assert words_of(found).endswith("Test again now: only a test ends this.")

    def test_chloramine_in_the_new_water_counts(self):
        tap = replace(WATER, source_disinfectant="chloramine", source_chlorine_mg_l=2.0)
        found = helped(tap, tan=2.0, unionized=0.08, ph=8.0, renewed_since=0.5)
        by_name = {each.name: each.now for each in found.troubles}
        # half of 2.0 and half of 0.395
        assert by_name["unionized"] == pytest.approx(0.08 * (1.0 + 0.1975) / 2.0, rel=1e-3)


def test_an_old_reading_is_taken_anew_before_anything_is_done():
    found = help_for(replace(WATER, tests=(read(5, nitrite=3.0),)), LIMITS, TODAY)
    words = words_of(found)
    assert words.startswith("Test first. The last reading is 5 days old.")
    assert "If it still reads so, change" in words


def test_without_a_volume_there_is_help_all_the_same():
    found = helped(replace(WATER, volume_m3=0.0), nitrite=8.0)
    words = words_of(found)
    assert found.stop_feeding
    assert "veterinarian" in words
    assert "of the water now" in words
    assert "{volume" not in words
    assert at_once(found, found.changes)[1] == {}


def test_grave_readings_move_the_animals_out():
    assert "Move the animals out" in words_of(helped(WATER, nitrite=5.0))
    assert "Move the animals out" not in words_of(helped(WATER, nitrite=1.2))


def test_chlorine_stops_inflow_and_food_and_is_read_again_soon():
    tap = replace(WATER, source_disinfectant="chloramine", source_chlorine_mg_l=2.0)
    found = helped(tap, chlorine=2.0)
    assert found.stop_feeding
    words = words_of(found)
    # 2 mg/L of chlorine as chloramine: 0.395 mg N/L
    for part in ("Stop new water", "About 0.40 mg/L of ammonia", "a quarter of an hour", "the filter's page"):
        assert part in words


def test_low_oxygen_is_read_again_within_the_hour():
    assert "within the hour" in words_of(helped(WATER, oxygen=1.2))


def test_a_source_a_little_above_the_limit_is_not_asked_for_more_than_it_gives():
    """75 mg/L, at least 80, the source has 90: half-way between limit and source is 85, (85 - 75) / (90 - 75)."""
    found = helped(replace(WATER, source_alkalinity=90.0), alkalinity=75.0)
    assert 1 - (1 - found.changes.share) ** found.changes.times == pytest.approx(2 / 3)


def test_nitrite_far_beyond_is_not_blamed_on_the_source():
    assert "With this source" not in words_of(helped(WATER, nitrite=60.0))
