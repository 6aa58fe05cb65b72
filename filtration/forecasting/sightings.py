"""Water tests as the forecast sees them: each reading an interval, by the kit it looks to be read with.

Nobody enters the kit. Readings that mostly lie on the colours of a usual card are taken as read from that card;
others as read by a finer kit whose last digit is the step that all of them share. Both are assumptions, and
both are said where the forecast explains itself.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from math import inf

from filtration.forecast import USUAL_KITS, Kit, Observation, colour_card, read
from filtration.forecast.outlook import CLEAR_MG_L
from filtration.forecasting.records import Test

READ = ("tan", "nitrite", "nitrate", "alkalinity", "ph", "oxygen")
# mg of the ion (or of ammonia) in 1 mg of its nitrogen: molar masses 14.007, 17.031, 18.038, 46.005, 62.004.
ION_PER_NITROGEN = {"tan": (1.2159, 1.2878), "nitrite": (3.2845,), "nitrate": (4.4266,)}
CARDS = {"tan": colour_card(0.25, 7), "nitrite": colour_card(0.25, 7), "nitrate": colour_card(2.5, 7)}
ION_CARDS = {"tan": (0.25, 7), "nitrite": (0.25, 7), "nitrate": (5.0, 7)}
STEPS = (50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
FINE_ERROR = {"tan": 0.12, "nitrite": 0.12, "nitrate": 0.12, "alkalinity": 0.08, "ph": 0.1, "oxygen": 0.05}
# A colour cannot be told from none at all to better than about half the last digit: common practice, no source.
BLANK_DIGITS = 0.5
# From so large a share on its colours a series is read from a card: whatever lies between them was guessed there, and is
# known no better than half-way to both neighbours. An instrument meets them seldom. Assumption.
ON_THE_CARD = 0.5
# Cards of nitrite that end at 5 mg/L, of N or of the ion: recalled as common, no source. Above 5 all looks like 5.
TO_FIVE = (0.0, 0.25, 0.5, 1.0, 2.0, 5.0)
ROUNDED = 0.03
# What the words for clarity stand for, in mg/L of fine solids. Assumption; a clear bottom as in the outlook.
CLARITY = {1: (-1.0, CLEAR_MG_L), 2: (CLEAR_MG_L, 15.0), 3: (15.0, 40.0), 4: (40.0, inf)}
CLARITY_ERROR, CLARITY_FLOOR = 0.6, 0.5


@dataclass(frozen=True, slots=True)
class Sighting:
    """One test: when, how warm it was if that was read, and its readings as intervals."""

    at: datetime
    temperature_c: float | None
    observations: tuple[Observation, ...]


def sightings(tests: Sequence[Test]) -> list[Sighting]:
    """The tests that read something the forecast knows, oldest first."""
    kits = {
        name: kit_of(name, [value for t in tests if (value := getattr(t, name)) is not None]) for name in READ
    }
    seen = [Sighting(t.at, t.temperature_c, tuple(_observations(t, kits))) for t in tests]
    return [each for each in seen if each.observations]


def _observations(test: Test, kits: dict[str, Kit]) -> Iterable[Observation]:
    for name in READ:
        value = getattr(test, name)
        if value is not None:
            yield read(name, on_the_card(kits[name], value), kits[name])
    if test.clarity is not None:
        low, high = CLARITY[test.clarity]
        yield Observation("suspended", low, high, CLARITY_ERROR, CLARITY_FLOOR)


def kit_of(quantity: str, values: Sequence[float]) -> Kit:
    """The kit that readings of a quantity [mg/L, nitrogen as N; pH plain] look to be read with."""
    above = [value for value in values if value > 0]  # every kit shows nothing at times
    hits = [(sum(_is_on(card, value) for value in above), card) for card in _cards(quantity) if values]
    most, card = max(hits, key=lambda each: each[0], default=(0, None))  # of several alike the first
    if card is not None and most >= ON_THE_CARD * len(above):
        return card
    usual = USUAL_KITS[quantity]
    digit, error = shared_step(values) or usual.digit or STEPS[-1], FINE_ERROR[quantity]
    if quantity == "ph":
        return Kit(error, digit=digit)
    blank = BLANK_DIGITS * digit / error if quantity in CARDS else digit
    return Kit(error, max(blank, usual.floor / 2), digit=digit)


@cache
def _cards(quantity: str) -> tuple[Kit, ...]:
    if quantity not in CARDS:
        return ()
    first, colours = ION_CARDS[quantity]
    as_ions = (colour_card(first / ratio, colours) for ratio in ION_PER_NITROGEN[quantity])
    to_five = (_ends_at_five(ratio) for ratio in (1.0, *ION_PER_NITROGEN[quantity]) if quantity == "nitrite")
    return (CARDS[quantity], *as_ions, *to_five)


def _ends_at_five(ratio: float) -> Kit:
    """A card to 5 mg/L of what weighs `ratio` times its nitrogen."""
    usual = USUAL_KITS["nitrite"]
    return Kit(usual.error, TO_FIVE[1] / ratio / 5, tuple(colour / ratio for colour in TO_FIVE))


def _is_on(card: Kit, value: float) -> bool:
    return any(abs(value - step) <= ROUNDED * step for step in card.steps)


def on_the_card(kit: Kit, value: float) -> float:
    """The colour that a reading stands for, where turning ions into nitrogen rounded it; else as it is."""
    return next((step for step in kit.steps if abs(value - step) <= ROUNDED * step), value)


def shared_step(values: Sequence[float]) -> float:
    """The largest step of 1, 2, 5, 10 and so on that all values are multiples of; 0 without values above zero."""
    above = [value for value in values if value > 0]
    if not above:
        return 0.0
    return next((step for step in STEPS if all(_is_multiple(value, step) for value in above)), STEPS[-1])


def _is_multiple(value: float, step: float) -> bool:
    times = round(value / step)
    return times >= 1 and abs(value / step - times) < 0.02
