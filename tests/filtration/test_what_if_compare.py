"""Two forecasts in words and shapes, by forecasts made by hand."""

import re
from datetime import date

import numpy as np
import pytest

from filtration.forecast import Ensemble, Forecast, Limit, Span
from filtration.forecast import layout as at
from filtration.what_if.compare import (
    chance_text,
    courses,
    day_name,
    days_text,
    mature_words,
    sentence,
    swing_text,
    verdict,
    verdict_on_part,
)
from filtration.what_if.drawing import BARS_BOTTOM, BARS_TOP, BOTTOM, LEFT, RIGHT, TOP, sketch

TODAY = date(2026, 11, 25)
AMMONIA = Limit("unionized", 0.05)
OXYGEN = Limit("oxygen", 5.0, is_least=True)
NOBODY = Ensemble(np.zeros((2, 19)), np.zeros((2, 26)), 0)


def forecast(limit=AMMONIA, middle=0.01, chances=0.0, width=0.005):
    """Two weeks in steps of 6 hours; middle and chances: one value, or one a record and one a day."""
    bands = np.zeros((len(at.QUANTITY_NAMES), 57, 5), np.float32)
    course = np.broadcast_to(np.asarray(middle, float), 57)
    for level, by in enumerate((-1, -0.5, 0, 0.5, 1)):
        bands[at.QUANTITY[limit.quantity], :, level] = course + by * width
    daily = np.broadcast_to(np.asarray(chances, float), 14)
    return Forecast(bands, 6, (limit,), daily[None, :].copy(), NOBODY)


def course(before, after, limit=AMMONIA):
    return courses(forecast(limit, **before), forecast(limit, **after))[0]


RISKY = np.array([0.03, 0.8] + [0.1] * 12)


class TestWords:
    def test_a_limit_passed_is_said_with_its_day_and_both_chances(self):
        found = course({"chances": 0.03}, {"chances": RISKY})
        words = sentence(found, TODAY, is_changed=True)
        assert words.startswith("passes 0.05 mg/L N tomorrow with 80\u00a0%, before: 3\u00a0%.")
        assert found.verdict == "worse"

    def test_the_day_that_tells_is_the_one_that_got_better(self):
        found = course({"chances": [0.7, 0.7] + [0.6] * 12}, {"chances": [0.7, 0.7] + [0.1] * 12})
        assert found.verdict == "better"
        assert sentence(found, TODAY, is_changed=True).startswith(
            "passes 0.05 mg/L N on day 3 (Fri 27 Nov) with 10"
        )

    def test_what_must_not_fall_falls(self):
        found = course({"middle": 7.0}, {"middle": 4.8, "chances": 0.7}, OXYGEN)
        assert sentence(found, TODAY, is_changed=True).startswith("falls below 5 mg/L")
        assert found.verdict == "worse"

    def test_calm_is_said_shortly(self):
        found = course({}, {})
        assert sentence(found, TODAY, is_changed=True) == "stays below 0.05 mg/L N, before and after."
        assert sentence(found, TODAY, is_changed=False) == "stays below 0.05 mg/L N."
        assert found.verdict == "same"

    def test_calm_but_closer_says_how_close(self):
        words = sentence(course({"middle": 0.01}, {"middle": 0.03}), TODAY, is_changed=True)
        assert words == "stays below 0.05 mg/L N; at its highest about 0.03, before 0.01."

    def test_evener_meals_are_told_by_the_second_week(self):
        waves = 0.03 + 0.03 * np.sin(np.arange(57) / 28 * 2 * np.pi)
        found = course({"middle": waves, "chances": 0.3}, {"middle": 0.03, "chances": 0.3})
        assert found.evenness == "evener"
        assert "In the second week about 0.03, before " in sentence(found, TODAY, is_changed=True)
        assert verdict([found], is_changed=True).more.startswith(
            "Evener in the second week: un-ionized ammonia"
        )

    @pytest.mark.parametrize(
        ("chance", "words"),
        [(0.0, "under 1\u00a0%"), (0.004, "under 1\u00a0%"), (0.5, "50\u00a0%"), (0.999, "over 99\u00a0%"), (1.0, "over 99\u00a0%")],
    )  # fmt: skip
    def test_nobody_is_ever_quite_sure(self, chance, words):
        assert chance_text(chance) == words

    def test_small_words(self):
        assert [days_text(days) for days in (0.01, 1.0, 4.13)] == ["none", "1.0 day", "4.1 days"]
        assert [day_name(day, TODAY) for day in (0, 1, 5)] == ["today", "tomorrow", "day 6 (Mon 30 Nov)"]
        assert swing_text(course({}, {}).after) == "0.01"
        assert swing_text(course({}, {"middle": 3e-6}).after) == "0"


class TestVerdict:
    def test_days_to_mature_have_their_range_and_say_when_there_is_none(self):
        spans = (Span(4.6, 10, 18.2, 1), Span(20, 40, None, 0.7), Span(None, None, None, 0), None)
        assert [mature_words(days, 63) for days in spans] == [
            "5 to 18 days, most likely about 10",
            "20 to more than 63 days, most likely about 40",
            "perhaps not within 63 days",
            "no meal planned, so nothing to grow on",
        ]

    def test_worse_names_the_number_of_days(self):
        found = verdict([course({"chances": 0.01}, {"chances": 0.9})], is_changed=True)
        assert found.kind == "act"
        assert found.words == "Worse: un-ionized ammonia beyond its limit 13 of 14 days, before 0.1"

    def test_worse_without_danger_is_a_warning(self):
        assert verdict([course({"middle": 0.01}, {"middle": 0.03})], is_changed=True).kind == "watch"

    def test_what_is_likely_goes_before_what_is_not_and_what_harms_at_once_before_what_does_not(self):
        alkalinity, nitrite = Limit("alkalinity", 80.0, is_least=True), Limit("nitrite", 1.0)
        near = course({"middle": 0.002}, {"middle": 0.02, "chances": 0.1})
        long = course({"middle": 100.0}, {"middle": 40.0, "chances": 0.9}, alkalinity)
        harmful = course({}, {"middle": 1.2, "chances": [0.0] * 12 + [0.6, 0.6]}, nitrite)
        assert verdict([near, long], is_changed=True).words.startswith(
            "Worse: alkalinity beyond its limit 13"
        )
        told = verdict([near, long, harmful], is_changed=True)
        assert told.words.startswith("Worse: nitrite beyond its limit 1.2")
        assert told.more == "Also worse: alkalinity, un-ionized ammonia."

    def test_what_gets_better_is_said_after_what_gets_worse(self):
        worse, better = (
            course({"chances": 0}, {"chances": 0.4}),
            course({"chances": 0.4}, {"chances": 0}, OXYGEN),
        )
        found = verdict([worse, better], is_changed=True)
        assert found.words.startswith("Worse: un-ionized ammonia")
        assert found.more == "Better: oxygen."

    def test_a_danger_less_goes_before_what_only_comes_nearer_to_its_limit(self):
        alkalinity = Limit("alkalinity", 80.0, is_least=True)
        nearer = course({"middle": 160.0}, {"middle": 120.0}, alkalinity)
        safer = course({"middle": 0.08, "chances": 0.9}, {"middle": 0.02, "chances": 0.0})
        told = verdict([safer, nearer], is_changed=True)
        assert told.kind == "good"
        assert told.words.startswith("Better: un-ionized ammonia beyond its limit none of 14")
        assert told.more.startswith("Worse: alkalinity.")

    def test_no_difference_is_said(self):
        assert verdict([course({}, {})], is_changed=True).words.startswith("No difference")

    def test_a_part_in_danger_goes_before_what_the_rest_gains(self):
        whole = verdict([course({"chances": 0.4}, {"chances": 0.0})], is_changed=True)
        found = verdict_on_part([course({}, {"chances": 0.9})], whole)
        assert found.kind == "act"
        assert found.words == "What is split off: un-ionized ammonia beyond its limit 13 of 14 days"
        assert "Better: un-ionized ammonia" in found.more
        assert verdict_on_part([course({}, {})], whole) is whole

    def test_unchanged_it_says_what_is_at_risk(self):
        found = verdict([course({"chances": RISKY}, {"chances": RISKY})], is_changed=False)
        assert (found.kind, found.words) == ("act", "As it is, at risk: un-ionized ammonia")


class TestDrawing:
    def drawn(self, **more):
        return sketch(course({"chances": 0.25}, {"middle": 0.1, "chances": 1.0} | more), is_changed=True)

    def test_everything_lies_inside(self):
        drawn = self.drawn(width=5.0)
        numbers = [float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", drawn.wide + drawn.old_wide)]
        xs, ys = numbers[0::2], numbers[1::2]
        assert min(xs) >= LEFT and max(xs) <= RIGHT
        assert min(ys) >= TOP and max(ys) <= BOTTOM
        assert drawn.cut

    def test_both_sides_share_one_axis(self):
        drawn = self.drawn()
        height = lambda line: float(re.findall(r"[ML]\d+ (\d+\.\d)", line)[0])  # noqa: E731
        new, old = (BOTTOM - height(each) for each in (drawn.line, drawn.old_line))
        assert new / old == pytest.approx(10, rel=0.02)
        assert (BOTTOM - drawn.limit_y) / new == pytest.approx(0.5, rel=0.02)

    def test_bars_are_as_high_as_their_chances(self):
        drawn = self.drawn()
        assert len(drawn.bars) == len(drawn.old_bars) == 14
        assert drawn.bars[0].height == pytest.approx(BARS_BOTTOM - BARS_TOP)
        assert drawn.old_bars[0].height == pytest.approx((BARS_BOTTOM - BARS_TOP) / 4)
        assert drawn.old_bars[0].x + drawn.old_bars[0].width <= drawn.bars[0].x + 0.1

    def test_all_bars_are_one_path(self):
        drawn = self.drawn()
        assert drawn.bars_path.count("M") == 14
        first = drawn.bars[0]
        assert drawn.bars_path.startswith(f"M{first.x} {first.y}h{first.width}v{first.height}")

    def test_without_a_change_there_is_one_side(self):
        drawn = sketch(course({}, {}), is_changed=False)
        assert not drawn.old_line and not drawn.old_bars
