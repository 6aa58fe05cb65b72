"""Amounts inside sentences: written once, read in the units of whoever reads."""

import pytest

from refuge.rules.words import amount, litres, load_words
from refuge.units import QUANTITIES, spoken


def said(text: str, system: str = "metric") -> str:
    """With plain spaces, as one types them in a test."""
    return spoken(text, system).replace("\u00a0", " ").replace("\u202f", " ")


class TestAmount:
    @pytest.mark.parametrize(
        ("mark", "text"),
        [
            (amount(1.36, "mass"), "{mass:1.36}"),
            (amount(1.36, "mass", 3), "{mass:1.36:3}"),
            (amount(-4, "temperature"), "{temperature:-4}"),
            (amount(1e-7, "volume"), "{volume:1e-07}"),
            (litres(12.3456), "{bucket:0.0123}"),
        ],
    )
    def test_is_a_mark_in_the_text(self, mark, text):
        assert mark == text

    @pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
    def test_refuses_what_is_no_number(self, value):
        with pytest.raises(ValueError, match="finite"):
            amount(value, "mass")

    def test_refuses_a_kind_nobody_knows_and_too_many_digits(self):
        with pytest.raises(ValueError, match="no kind of amount is called 'weight'"):
            amount(1, "weight")
        with pytest.raises(ValueError, match="digits"):
            amount(1, "mass", 12)

    @pytest.mark.parametrize("kind", QUANTITIES)
    @pytest.mark.parametrize("value", [0, 1e-9, -0.5, 3.14159, 2.5e8])
    def test_every_mark_is_understood_in_both_systems(self, kind, value):
        for system in ("metric", "us"):
            words = spoken(amount(value, kind), system)
            assert "{" not in words
            assert "\u00a0" in words


class TestSpoken:
    @pytest.mark.parametrize(
        ("mark", "metric", "us"),
        [
            ("{mass:1.36}", "1.36 kg", "3 lb"),
            ("{food:0.35}", "350 g", "12.3 oz"),
            ("{food:0.0004}", "0.4 g", "0.014 oz"),
            ("{mass:55}", "55 kg", "121.3 lb"),
            ("{volume:3.8}", "3 800 L", "1 004 gal"),
            ("{bucket:0.0123}", "12.3 L", "3.2 gal"),
            ("{bucket:0.0123:0}", "12 L", "3 gal"),
            ("{flow:2}", "2 000 L/h", "528 gal/h"),
            ("{length:0.2032}", "20.3 cm", "8 in"),
            ("{temperature:22}", "22 °C", "72 °F"),
            ("{temperature:-1.5}", "-1.5 °C", "29 °F"),
            ("{volume:0}", "0 L", "0 gal"),
        ],
    )
    def test_says_a_mark_in_the_readers_units(self, mark, metric, us):
        assert said(f"About {mark}.") == f"About {metric}."
        assert said(f"About {mark}.", "us") == f"About {us}."

    def test_all_marks_of_a_sentence_and_nothing_else(self):
        words = "Change {volume:0.25} (25 % of {volume:1}); 3.5 g of conditioner, 40 mg/L"
        assert said(words, "us") == "Change 66 gal (25 % of 264 gal); 3.5 g of conditioner, 40 mg/L"

    @pytest.mark.parametrize(
        "text",
        [
            "",
            "Nothing to say",
            "{mass:}",
            "{mass:heavy}",
            "{mass: 3}",
            "{weight:3}",
            "{mass:nan}",
            "{mass:1.2.3}",
            "a { brace",
            '{"within": "stop"}',
        ],
    )
    def test_text_without_a_whole_mark_stays_as_typed(self, text):
        assert spoken(text, "us") == text


class TestLoadWords:
    @pytest.mark.parametrize(
        ("share", "words"),
        [
            (0.64, "64 % of what the filter can carry"),
            (1.6, "160 % of what the filter can carry"),
            (3.25, "far beyond what the filter can carry: 3.2 times"),
            (1234.5, "far beyond what the filter can carry: 1 234 times"),
        ],
    )
    def test_a_multiple_when_a_percentage_says_little(self, share, words):
        assert load_words(share).replace("\u00a0", " ").replace("\u202f", " ") == words

    @pytest.mark.parametrize(
        ("share", "grown", "now", "mature"),
        [
            (0.5, 0.4, "50 % of what the filter carries so far", "20 % of what it can carry"),
            (1.6, 0.5, "so far the filter carries 62 % of this load", "80 % of what it can carry"),
            (76, 0.005, "so far the filter carries 1 % of this load", "38 % of what it can carry"),
            (
                800,
                0.005,
                "so far the filter carries less than 1 % of this load",
                "far beyond what it can carry: 4.0 times",
            ),
        ],
    )
    def test_of_a_young_filter_what_it_carries_now_and_once_mature(self, share, grown, now, mature):
        said = load_words(share, grown=grown).replace("\u00a0", " ")
        assert said == f"{now}; once it is mature, the load is {mature}"
