"""Two forecasts in words and shapes, by forecasts made by hand."""

import re
from datetime import date, timedelta

import numpy as np
import pytest

from filtration.forecast import Ensemble, Forecast, Limit, Span
from filtration.forecast import layout as at
from filtration.forecasting import lines
from filtration.what_if import compare, telling
from filtration.what_if.compare import courses
from filtration.what_if.drawing import BARS_BOTTOM, BARS_TOP, BOTTOM, LEFT, RIGHT, TOP, sketch
from filtration.what_if.shown import with_signs
from filtration.what_if.signs import Sign
from filtration.what_if.telling import (
    Verdict,
    chance_text,
    day_words,
    days_text,
    leading,
    mature_words,
    sentence,
    swing_text,
    value_text,
    verdict_on_part,
)

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


def verdict(found, *, is_changed):
    return telling.verdict(found, TODAY, is_changed=is_changed)


RISKY = np.array([0.03, 0.8] + [0.1] * 12)


class TestWords:
    def test_a_limit_passed_is_said_with_its_first_day_and_both_chances(self):
        found = course({"chances": 0.03}, {"chances": RISKY})
        words = sentence(found, TODAY, is_changed=True)
        assert words.startswith(
            "passes 0.05 mg/L N tomorrow: chance 80\u00a0%; before: chance 3\u00a0% today."
        )
        assert found.verdict == "worse"

    def test_first_comes_the_first_day_that_is_worth_care_then_the_worst(self):
        rising = np.linspace(0.0, 0.91, 14)  # 14 % on the third day
        assert sentence(course({"chances": rising}, {}), TODAY, is_changed=False) == (
            "passes 0.05 mg/L N on Friday: chance 14\u00a0%, 91\u00a0% on 8 Dec."
        )
        falling = np.array([0.59] + [0.54] * 13)
        assert sentence(course({"chances": falling}, {}), TODAY, is_changed=False) == (
            "passes 0.05 mg/L N today: chance 59\u00a0%."
        )

    @pytest.mark.parametrize("chances", [RISKY, np.linspace(0, 0.91, 14), [0.07] * 14, [0.6] + [0.1] * 13])
    def test_the_page_of_the_forecast_says_the_same(self, chances):
        found = course({"chances": chances}, {})
        kept = [round(float(each), 3) for each in found.before.chances]
        page = lines._risk_words(found.bound, found.limit, kept, TODAY, TODAY)
        assert page == f"Un-ionized ammonia {sentence(found, TODAY, is_changed=False)}"

    def test_what_the_page_of_the_forecast_does_the_same_way(self):
        assert (compare.CARE, compare.GRAVE, telling.SURE) == (lines.CARE, lines.ACT, lines.SURE)
        for day in range(14):
            assert day_words(day, TODAY) == lines.day_words(TODAY + timedelta(days=day), TODAY)
        for chance in np.linspace(0.011, 1, 129):
            assert chance_text(chance) == lines._percent(round(float(chance), 3))

    def test_under_one_percent_is_within(self):
        acid = Limit("ph", 6.5, is_least=True)
        safe = course({"middle": 6.6, "chances": 0.3}, {"middle": 7.2, "chances": 0.004}, acid)
        assert sentence(safe, TODAY, is_changed=True) == "stays above 6.5; before: chance 30\u00a0% today."
        risky = course({"middle": 7.2, "chances": 0.004}, {"middle": 6.6, "chances": 0.3}, acid)
        assert sentence(risky, TODAY, is_changed=True).startswith(
            "falls below 6.5 today: chance 30\u00a0%; before: within it."
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
        [(0.0, "under 1\u00a0%"), (0.004, "under 1\u00a0%"), (0.5, "50\u00a0%"), (0.98, "98\u00a0%"), (1.0, "more than 98\u00a0%")],
    )  # fmt: skip
    def test_nobody_is_ever_quite_sure(self, chance, words):
        assert chance_text(chance) == words

    def test_small_words(self):
        assert [days_text(days) for days in (0.01, 1.0, 4.13)] == ["none", "1.0 day", "4.1 days"]
        assert [day_words(day, TODAY) for day in (0, 1, 5, 9)] == [
            "today",
            "tomorrow",
            "on Monday",
            "on 4 Dec",
        ]
        assert [value_text(value) for value in (0.0001, 0.123, 41.3)] == ["0", "0.12", "41"]
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
        assert found.words == (
            "Worse: un-ionized ammonia is likely too high from today, for 13 of 14 days; before 0.1"
        )

    def test_a_single_likely_day_is_no_beginning(self):
        found = verdict([course({}, {"chances": RISKY})], is_changed=True)
        assert found.words == (
            "Worse: un-ionized ammonia is likely too high tomorrow, for 2.0 of 14 days; before none"
        )

    def test_likely_either_way_it_is_told_by_its_chance(self):
        found = verdict([course({"chances": 0.55}, {"chances": [0.7] + [0.55] * 13})], is_changed=True)
        assert found.words == (
            "Worse: un-ionized ammonia is likely too high from today, chance up to 70\u00a0%; before 55\u00a0%"
        )

    def test_what_may_be_is_not_called_likely(self):
        found = verdict([course({"chances": 0.03}, {"chances": 0.3})], is_changed=True)
        assert (found.kind, found.words) == (
            "watch",
            "Worse: un-ionized ammonia may be too high from today, chance up to 30\u00a0%; before 3\u00a0%",
        )

    def test_more_such_days_at_the_same_worst_chance_are_told_by_their_number(self):
        found = verdict([course({"chances": [0.3] + [0.0] * 13}, {"chances": 0.3})], is_changed=True)
        assert found.words.endswith("chance up to 30\u00a0%, in all for 4.2 of 14 days; before 0.3")

    def test_worse_without_danger_is_a_warning(self):
        assert verdict([course({"middle": 0.01}, {"middle": 0.03})], is_changed=True).kind == "watch"

    def test_what_is_likely_goes_before_what_is_not_and_what_harms_at_once_before_what_does_not(self):
        alkalinity, nitrite = Limit("alkalinity", 80.0, is_least=True), Limit("nitrite", 1.0)
        near = course({"middle": 0.002}, {"middle": 0.02, "chances": 0.1})
        long = course({"middle": 100.0}, {"middle": 40.0, "chances": 0.9}, alkalinity)
        harmful = course({}, {"middle": 1.2, "chances": [0.0] * 12 + [0.6, 0.6]}, nitrite)
        words = verdict([near, long], is_changed=True).words
        assert words.startswith("Worse: alkalinity is likely too low from today, for 13 of 14 days")
        told = verdict([near, long, harmful], is_changed=True)
        assert told.words.startswith("Worse: nitrite is likely too high from 7 Dec, for 1.2 of 14 days")
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
        assert told.words == (
            "Better: un-ionized ammonia stays within its limit; before too high for 13 of 14 days"
        )
        assert leading([nearer, safer], is_changed=True) is safer
        assert told.more.startswith("Worse: alkalinity.")

    def test_no_difference_is_said(self):
        assert verdict([course({}, {})], is_changed=True).words.startswith("No difference")

    def test_a_part_in_danger_goes_before_what_the_rest_gains(self):
        whole = verdict([course({"chances": 0.4}, {"chances": 0.0})], is_changed=True)
        found = verdict_on_part([course({}, {"chances": 0.9})], whole, TODAY)
        assert found.kind == "act"
        assert found.words == (
            "What is split off: un-ionized ammonia is likely too high from today, for 13 of 14 days"
        )
        assert "Better: un-ionized ammonia" in found.more
        assert verdict_on_part([course({}, {})], whole, TODAY) is whole

    def test_unchanged_it_says_one_sentence_first(self):
        nitrite = course({"chances": [0.0, 0.2] + [0.7] * 12}, {}, Limit("nitrite", 1.0))
        low = course({"chances": 0.2}, {}, OXYGEN)
        found = verdict([low, nitrite], is_changed=False)
        assert (found.kind, found.words) == ("act", "Nitrite is likely too high from Friday")
        assert found.more == "At risk too: oxygen."
        assert leading([low, nitrite], is_changed=False) is nitrite
        maybe = verdict([low], is_changed=False)
        assert (maybe.kind, maybe.words) == (
            "watch",
            "Oxygen may be too low from today, chance up to 20\u00a0%",
        )
        assert verdict([course({}, {})], is_changed=False).kind == "good"

    def test_the_picture_is_of_what_changes_most(self):
        calm, nearer = course({}, {}, OXYGEN), course({"middle": 0.01}, {"middle": 0.03})
        assert leading([calm, nearer], is_changed=True) is nearer
        assert (
            leading([calm, course({"chances": 0.4}, {}), calm], is_changed=False).before.worst_chance == 0.4
        )
        assert leading([], is_changed=True) is None


class TestWithSigns:
    """What the facts tell and what the forecast tells, as one headline."""

    GOOD, WORSE = Verdict("good", "Better: pH"), Verdict("act", "Worse: ammonia", "Also worse: nitrite.")

    def test_good_news_is_left_out_beside_a_stop(self):
        stop = Sign("act", "Pumps off for 12 hours", is_first=False)
        assert with_signs(self.GOOD, [stop]) == Verdict("act", "Pumps off for 12 hours")

    def test_a_danger_of_the_water_goes_before_a_stop_and_after_a_quarantine(self):
        stop = Sign("act", "Pumps off for 48 hours", is_first=False)
        grave = Sign("act", "Quarantine starts anew", "Exposed: T1.")
        assert with_signs(self.WORSE, [stop]).words == "Worse: ammonia"
        told = with_signs(self.WORSE, [grave, stop])
        assert told.words == "Quarantine starts anew"
        assert told.more == "Exposed: T1. Worse: ammonia. Also worse: nitrite. Pumps off for 48 hours."

    def test_without_signs_it_is_what_the_forecast_says(self):
        assert with_signs(self.GOOD, []) is self.GOOD


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
