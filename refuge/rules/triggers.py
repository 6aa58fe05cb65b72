"""What makes work due: five kinds of trigger, and the answer 'not known'.

Every function returns a `Due` whose `reason` says in words, with its numbers, why that day; the day may lie
ahead. Dates are the refuge's local days.
"""

import math
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import partial
from typing import Any

from refuge.rules import words

FAR_DAYS = 3650  # ten years: beyond it a projection says nothing
LATEST_DAYS = 365  # looking back on when a limit was passed, nothing is claimed beyond a year


# The kind of a reason that speaks against doing the work as planned: it takes away the single button.
AGAINST = "against"
# Kinds of reasons that come of something found or happened, not of the calendar or of a sum that grows.
FOUND = frozenset({"reading", "missing", "state", "event"})


@dataclass(frozen=True, slots=True)
class Due:
    """Work that falls due on a day, and why. `instruction` and `prefill` help whoever does it.

    about: what was found or happened that it goes by. When that becomes another, work that was put off is asked
    for again. Left out, the words themselves for the kinds in FOUND, which do where they stay the same until
    something new is recorded, and nothing for the others.
    """

    on: date
    reason: str
    kind: str
    instruction: str = ""
    prefill: dict[str, Any] = field(default_factory=dict)
    about: str = ""

    @property
    def goes_by(self) -> str:
        """What was found or happened; '' for what only the calendar or a growing sum asks for."""
        return self.about or (self.reason if self.kind in FOUND else "")


@dataclass(frozen=True, slots=True)
class Unknown:
    """The rule cannot judge: `lacks` names what is missing, `ask` what to do about it."""

    lacks: str
    ask: str
    kind: str = "unknown"


Trigger = Due | Unknown


def days_text(days: float) -> str:
    """A number of days as people say it: 'today', '1 day', '12 days', '7 months', '2.9 years'."""
    whole = round(days)
    if whole == 0:
        return "less than a day"
    if whole < 90:
        return f"{whole} day" if whole == 1 else f"{whole} days"
    if whole < 730:
        return f"{whole / 30.44:.0f} months"
    return f"{whole / 365.25:.1f} years"


def food_text(kg: float) -> str:
    """A mass of food for a reason, as a mark: '1.36 kg' to one reader, '3 lb' to another."""
    return words.amount(kg, "food")


def day_text(day: date) -> str:
    """A date for a reason: '4 Mar 2026'."""
    return f"{day.day} {day:%b %Y}"


def elapsed(
    *, last: date | None, every_days: float, today: date, what: str, since: date | None = None
) -> Due:
    """Due `every_days` after `last`; never done counts from `since`, or is due today.

    Raises ValueError when `every_days` is not positive.
    """
    if every_days <= 0:
        raise ValueError(f"every_days must be positive, not {every_days!r}")
    if last is not None:
        on = last + timedelta(days=math.floor(every_days))
        return Due(on, f"{what} last on {day_text(last)}; at most {days_text(every_days)} apart", "elapsed")
    if since is not None:
        on = since + timedelta(days=math.floor(every_days))
        return Due(
            on, f"{what} not recorded since {day_text(since)}; within {days_text(every_days)}", "elapsed"
        )
    return Due(today, f"{what} never recorded", "elapsed")


def accumulating(
    *,
    amount: float,
    limit: float,
    rate_per_day: float,
    today: date,
    what: str,
    unit: str = "",
    kind: str = "",
    digits: int = 0,
) -> Due | None:
    """Due when `amount`, growing evenly at `rate_per_day`, reaches `limit`; None if that takes over ten years.

    The reason says the amounts in `unit`, or, when they are SI values of a `kind` of refuge.units, in marks
    that everybody reads in their own units. Past the limit, the day is when it was passed at that rate, so
    that what is late shows how late it is.
    """
    said = partial(_said, unit=unit, kind=kind, digits=digits)
    if amount >= limit:
        on = passed_on(amount - limit, rate_per_day, today)
        return Due(on, f"{what} {said(amount)}, limit {said(limit)}", "accumulating")
    if rate_per_day <= 0:
        return None
    days = (limit - amount) / rate_per_day
    if days > FAR_DAYS:
        return None
    rate = words.amount(rate_per_day, kind) if kind else f"{rate_per_day:.3g} {unit}"
    reason = f"{what} {said(amount)} and rising {rate} a day: reaches {said(limit)} in {days_text(days)}"
    return Due(today + timedelta(days=math.floor(days)), reason, "accumulating")


def _said(value: float, *, unit: str, kind: str, digits: int) -> str:
    return words.amount(value, kind, digits) if kind else f"{value:.{digits}f} {unit}"


def passed_on(beyond: float, rate_per_day: float, today: date) -> date:
    """The day an amount passed its limit, being `beyond` it today; today when nothing grows. A year at most."""
    days = beyond / rate_per_day if rate_per_day > 0 else 0.0
    return today - timedelta(days=math.floor(min(days, LATEST_DAYS)))


def reading(
    *, value: float, limit: float, read_on: date, within_days: int, what: str, unit: str
) -> Due | None:
    """Due `within_days` of a reading above its limit; None when it is not above."""
    if value <= limit:
        return None
    reason = f"{what} was {value:.3g} {unit} on {day_text(read_on)}, above {limit:.3g} {unit}".replace(
        "  ", " "
    )
    return Due(read_on + timedelta(days=within_days), reason, "reading")


def missing(*, seen: int, expected: int, counted_on: date, instruction: str) -> Due | None:
    """Due from the day of a head count that did not find everybody; None when it did."""
    if seen >= expected:
        return None
    reason = f"{seen} of {expected} seen on {day_text(counted_on)}: {expected - seen} missing"
    return Due(counted_on, reason, "missing", instruction)


def state(*, on: date, reason: str) -> Due:
    """Due because of a state the subject is in (cycling, quarantine, being built)."""
    return Due(on, reason, "state")


def against(*, on: date, reason: str, instruction: str) -> Due:
    """Something that forbids to do on a day what is planned for it, until that is over."""
    return Due(on, reason, AGAINST, instruction)


def after_event(*, happened_on: date, days_after: int, reason: str) -> Due:
    """Due a number of days after something happened."""
    return Due(happened_on + timedelta(days=days_after), reason, "event")
