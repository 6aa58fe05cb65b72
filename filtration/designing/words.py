"""How amounts of hydraulics are said. Sizes of particles are in mm for everybody."""

import math

from refuge.rules.words import amount

MINUTE_S, HOUR_S = 60, 3600


def length(metres: float) -> str:
    return amount(metres, "length")


def distance(metres: float) -> str:
    return amount(metres, "distance")


def flow(m3_h: float) -> str:
    return amount(m3_h, "flow")


def volume(m3: float) -> str:
    return amount(m3, "volume")


def mass(kg: float) -> str:
    return amount(kg, "mass", 0)


def speed(m_s: float) -> str:
    return amount(m_s, "speed")


def percent(share: float) -> str:
    return f"{share * 100:.0f}\u00a0%"


def times(number: float) -> str:
    return f"{number:.1f} times" if number < 10 else f"{number:.0f} times"


def span_words(early: float | None, likely: float | None, late: float | None) -> str:
    """'about 90 days (60 to 400)'; None is over ten years, and two ends alike are said once."""
    said = [_days(each) for each in (early, likely, late)]
    if said[0] == said[2]:
        return f"{said[1]} days" if likely is not None else said[1]
    middle = said[1] if likely is None else f"about {said[1]} days"
    return f"{middle} ({said[0]} to {said[2]})"


def _days(days: float | None) -> str:
    return "over 10 years" if days is None else f"{days:.0f}"


def duration(seconds: float) -> str:
    """A time in the unit that a person would say it in."""
    if math.isinf(seconds):
        return "for ever"
    if seconds < 2 * MINUTE_S:
        return f"{seconds:.0f}\u00a0s"
    if seconds < 2 * HOUR_S:
        return f"{seconds / MINUTE_S:.0f}\u00a0min"
    return f"{seconds / HOUR_S:.1f}\u00a0h"
