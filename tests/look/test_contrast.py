"""Text and signs stand out enough in both themes, in sun and at night.

Source: W3C Web Content Accessibility Guidelines 2.2, definitions of relative luminance and contrast ratio;
success criteria 1.4.3 (4.5:1 for text), 1.4.6 (7:1 for text, which body text is held to here) and 1.4.11 (3:1
for the edges of controls).
"""

import re
from pathlib import Path

import pytest

CSS = Path(__file__).resolve().parents[2] / "refuge" / "static" / "clearmere" / "clearmere.css"
TOKENS = re.compile(r"(--[\w-]+): (#[0-9a-f]{6});")


def token_blocks() -> dict[str, dict[str, str]]:
    """The colours of each theme, by the selector that sets them."""
    text = CSS.read_text(encoding="utf-8")
    blocks = re.findall(r"(:root[^{]*?) \{\s*color-scheme: \w+;(.*?)\}", text, re.DOTALL)
    return {selector: dict(TOKENS.findall(body)) for selector, body in blocks}


LIGHT = token_blocks()[":root"]
DARK = token_blocks()[':root[data-theme="dark"]']
THEMES = [pytest.param(LIGHT, id="light"), pytest.param(DARK, id="dark")]
GROUNDS = ["--paper", "--dawn", "--surface"]
WASHES = ["--water-wash", "--ember-wash", "--ochre-wash"]


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour '#rrggbb' [-], 0 to 1."""
    channels = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two sRGB colours [-], 1 to 21."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_ratio_spans_the_published_range() -> None:
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#123456", "#123456") == 1


def test_the_ratio_knows_the_lightest_grey_that_passes_on_white() -> None:
    """Common practice, from memory: #767676 is the lightest grey that reaches 4.5 on white."""
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def test_both_ways_into_the_dark_theme_set_the_same_colours() -> None:
    assert token_blocks()[':root:not([data-theme="light"])'] == DARK
    assert LIGHT.keys() == DARK.keys()


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", [*GROUNDS, *WASHES])
def test_body_text_reaches_seven(theme: dict[str, str], ground: str) -> None:
    assert contrast(theme["--ink"], theme[ground]) >= 7


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("text", ["--ink-soft", "--water", "--ember", "--ochre"])
def test_soft_and_coloured_text_reaches_seven_on_every_ground(
    theme: dict[str, str], ground: str, text: str
) -> None:
    assert contrast(theme[text], theme[ground]) >= 7


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(
    ("text", "ground"),
    [
        ("--on-water", "--water"),
        ("--on-ember", "--ember"),
        ("--paper", "--ink"),
        ("--on-rail", "--rail"),
        ("--ochre", "--ochre-wash"),
        ("--ember", "--ember-wash"),
        ("--ink", "--sunken"),
    ],
)
def test_text_on_colour_reaches_four_and_a_half(theme: dict[str, str], text: str, ground: str) -> None:
    assert contrast(theme[text], theme[ground]) >= 4.5


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", GROUNDS)
def test_edges_of_controls_and_the_focus_ring_reach_three(theme: dict[str, str], ground: str) -> None:
    assert contrast(theme["--line-strong"], theme[ground]) >= 3
    assert contrast(theme["--water"], theme[ground]) >= 3


@pytest.mark.parametrize("theme", THEMES)
def test_the_count_and_the_sign_of_the_current_place_stand_out(theme: dict[str, str]) -> None:
    assert contrast("#10211f", theme["--glint"]) >= 4.5
    assert contrast(theme["--glint"], theme["--rail"]) >= 3


@pytest.mark.parametrize("theme", THEMES)
def test_faded_text_of_the_rail_is_still_read(theme: dict[str, str]) -> None:
    """The refuge's name and the person's are drawn at 85 %."""
    channels = [
        round(0.85 * int(theme["--on-rail"][i : i + 2], 16) + 0.15 * int(theme["--rail"][i : i + 2], 16))
        for i in (1, 3, 5)
    ]
    assert contrast("#" + "".join(f"{c:02x}" for c in channels), theme["--rail"]) >= 4.5
