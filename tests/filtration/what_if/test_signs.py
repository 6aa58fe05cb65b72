"""What a change means that no forecast tells: quarantines, a water without a filter, a stop. By hand-made facts."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from filtration.survival import AIRLESS_LOSS, BED_OXYGEN_HOURS
from filtration.what_if.changes import Ground, Joined, SplitOff, StoppedPump, WithoutFilter, made
from filtration.what_if.signs import named, signs
from refuge.rules.facts import HarmFacts, QuarantineFacts
from tests.filtration.what_if.test_changes import TODAY, animal, facts  # noqa: F401 (a fixture)

GROUND = Ground(1, datetime(2026, 6, 15, 20, tzinfo=UTC), TODAY, {1: 0.5, 2: 0.5})


def told(before, *changes):
    return signs(before, made(changes, before.copy(), GROUND), 1, changes, quiet_tests=3)


def quarantined(found, pk, began=200):
    start = TODAY - timedelta(days=began)
    own = QuarantineFacts(pk, start, start, 365, start + timedelta(days=365))
    found.animal[pk] = replace(animal(pk, pk, pk), quarantine=own)


class TestQuarantine:
    """A quarantine shared with a newcomer begins again (all in, all out: common practice of quarantine, no source)."""

    def test_a_join_says_first_whose_quarantine_starts_anew_until_when_and_who_is_exposed(self, facts):  # noqa: F811
        quarantined(facts, 2)
        [sign] = told(facts, Joined(2, None))
        assert (sign.kind, sign.is_first) == ("act", True)
        assert sign.words == (
            "Quarantine starts anew for T2: it would end on 15 Jun 2027 instead of 27 Nov 2026"
        )
        assert sign.more.startswith("Exposed to a quarantine: T1. ")
        assert "veterinarian decides" in sign.more

    def test_one_that_began_today_is_not_set_back_but_exposes_all_the_same(self, facts):  # noqa: F811
        quarantined(facts, 2, began=0)
        [sign] = told(facts, Joined(2, None))
        assert (sign.kind, sign.words) == ("act", "Exposed to a quarantine: T1")

    def test_two_waters_without_quarantine_are_joined_without_a_word(self, facts):  # noqa: F811
        assert told(facts, Joined(2, None)) == []

    def test_whoever_shares_the_water_already_is_not_exposed_by_something_else(self, facts):  # noqa: F811
        quarantined(facts, 1)
        facts.animal[2] = replace(facts.animal[2], circuit_id=1)
        assert [each.words for each in told(facts, StoppedPump(1))] == [
            "Pumps off for 1 hour: the filter keeps its bacteria, as far as can be told"
        ]

    def test_many_names_are_counted(self):
        many = [animal(pk, 1, 1) for pk in range(1, 8)]
        assert named(many) == "T1, T2, T3, T4 and 3 more"
        assert named(many[:3]) == "T1, T2 and T3"
        assert named(many[:1]) == "T1"


class TestWithoutFilter:
    def test_the_last_filter_lost_leaves_nothing_to_carry_the_load(self, facts):  # noqa: F811
        [sign] = told(facts, WithoutFilter(1, 1.0, 1.0))
        load = facts.circuit[1].tan_g_day
        assert sign.words == f"No filter: carries 0 of {load:.1f} g TAN a day, and 1 animal lives in it"
        advice = " ".join(words for _, words in sign.steps)
        assert all(part in advice for part in ("every day", "no food", "Change water", "Move the animals"))

    def test_without_any_load_no_grams_are_said(self, facts):  # noqa: F811
        facts.circuit[1] = replace(facts.circuit[1], planned_tan_g_day=0.0, animals=20)
        [sign] = told(facts, WithoutFilter(1, 1.0, 1.0))
        assert (sign.kind, sign.words) == ("act", "No filter: carries 0, and 20 animals live in it")

    def test_one_of_two_is_no_water_without_a_filter(self, facts):  # noqa: F811
        facts.filter[2] = replace(facts.filter[2], circuit_id=1)
        assert told(facts, WithoutFilter(1, 0.5, 0.5)) == []

    def test_what_is_split_off_without_one_is_told(self, facts):  # noqa: F811
        facts.circuit.pop(2)
        for table in (facts.enclosure, facts.animal, facts.plan):
            table[2] = replace(table[2], circuit_id=1)
        facts.filter.pop(2)
        [sign] = told(facts, SplitOff(2, None, 0.4, 0.0, 0.5))
        assert sign.words.startswith("What is split off: No filter: carries 0 of ")


class TestStop:
    def test_it_is_the_harm_that_would_be_recorded(self, facts):  # noqa: F811
        """A third is left after a day without oxygen in the bed (common practice, no source)."""
        stop = StoppedPump(12, "Stood without flow: 12 hours")
        after = made([stop], facts.copy(), GROUND)
        unit = after.filter[1]
        left = 2.718281828 ** (-AIRLESS_LOSS * (12 - BED_OXYGEN_HOURS) / 24)
        assert unit.harm == HarmFacts(date(2026, 6, 16), "Stood without flow: 12 hours", pytest.approx(left))
        assert unit.harm_left_today == pytest.approx(left)
        assert unit.quiet_since_harm == 0
        assert after.filter[2] == facts.filter[2]
        assert after.circuit[1].capacity_tan_g_day == pytest.approx(
            left * after.circuit[1].mature_capacity_tan_g_day
        )

    def test_what_was_harmed_before_is_harmed_more(self, facts):  # noqa: F811
        worse = HarmFacts(TODAY, "Fell dry: 60 hours", 0.1)
        facts.filter[1] = replace(facts.filter[1], harm=worse, harm_left_today=0.2, quiet_since_harm=2)
        unit = made([StoppedPump(24)], facts, GROUND).filter[1]
        assert unit.harm == worse
        assert unit.harm_left_today == pytest.approx(0.2 * StoppedPump(24).left)
        assert unit.quiet_since_harm == 0

    def test_it_is_never_good_news(self, facts):  # noqa: F811
        kinds = {hours: told(facts, StoppedPump(hours))[0].kind for hours in (1, 4, 12, 48)}
        assert kinds == {1: "watch", 4: "watch", 12: "act", 48: "act"}

    def test_what_to_do_is_said_but_not_why_it_stopped(self, facts):  # noqa: F811
        [sign] = told(facts, StoppedPump(12))
        words = " ".join(words for _, words in sign.steps)
        assert "Air the water" in words and "Find out why" not in words
