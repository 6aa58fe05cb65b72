"""Where a water is heading: nitrate and alkalinity by today's forecast; without one, from the last test and the meals since."""

from dataclasses import dataclass
from datetime import date, timedelta

from enclosures.changes import (
    alkalinity_now,
    change_volume_m3,
    conditioner_words,
    nitrate_now,
    nitrogen_rise_mg_l_day,
    seen_ahead,
)
from enclosures.chemistry import ALKALINITY_PER_NITROGEN
from enclosures.help import help_for
from enclosures.rules import water_change
from refuge.rules.facts import CircuitFacts
from refuge.rules.limits import LimitsFor
from refuge.rules.triggers import FAR_DAYS, Due

STEADY = 0.005  # mg/L a day: 0.00 as shown


@dataclass(frozen=True, slots=True)
class Course:
    """One value on its way to a limit [mg/L]. `reached_on` is None when it is not on its way there."""

    label: str
    unit: str
    now: float
    per_day: float
    limit: float
    reached_on: date | None
    is_least: bool

    @property
    def pace(self) -> float:
        """How much it rises or falls in a day."""
        return abs(self.per_day)

    @property
    def is_steady(self) -> bool:
        """Whether it moves by less than can be shown."""
        return self.pace < STEADY

    @property
    def is_reached(self) -> bool:
        return self.now <= self.limit if self.is_least else self.now >= self.limit


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a water is heading for, when it must be changed, and how much of it.

    is_forecast: by the forecast. is_now: help says to change water now, how much and how: no other change is told.
    """

    courses: list[Course]
    lacks: list[str]
    change_on: date | None
    change_reason: str
    change_m3: float
    conditioner: str
    is_forecast: bool = False
    is_now: bool = False


def outlook(facts: CircuitFacts, limits: LimitsFor, today: date) -> Outlook | None:
    """The outlook of a water; None while its volume is not known. Needs no query."""
    if facts.volume_m3 <= 0:
        return None
    help_ = help_for(facts, limits, today)
    is_now = help_ is not None and help_.changes is not None
    triggers = (
        [] if is_now else [each for each in water_change(facts, limits, today) if isinstance(each, Due)]
    )
    first = min(triggers, key=lambda due: due.on, default=None)
    volume = change_volume_m3(facts, limits)
    courses = [each for each in (_nitrate(facts, limits, today), _alkalinity(facts, limits, today)) if each]
    return Outlook(
        courses=courses,
        lacks=[name for name in ("nitrate", "alkalinity") if getattr(facts, name) is None],
        change_on=first.on if first else None,
        change_reason=first.reason if first else "",
        change_m3=volume,
        conditioner=conditioner_words(facts, volume)[0],
        is_forecast=any(seen_ahead(facts, name, today) for name in ("nitrate", "alkalinity")),
        is_now=is_now,
    )


def _nitrate(facts: CircuitFacts, limits: LimitsFor, today: date) -> Course | None:
    if facts.nitrate is None:
        return None
    limit, ahead = limits["water.nitrate_mg_l"], seen_ahead(facts, "nitrate", today)
    now = ahead.now if ahead else nitrate_now(facts, facts.nitrate)
    rise = ahead.per_day if ahead else nitrogen_rise_mg_l_day(facts)
    reached = _reached(limit - now, ahead.pace_to(limit) if ahead else rise, today)
    return Course("Nitrate", "mg/L N", now, rise, limit, reached, False)


def _alkalinity(facts: CircuitFacts, limits: LimitsFor, today: date) -> Course | None:
    if facts.alkalinity is None:
        return None
    limit, ahead = limits["water.alkalinity_mg_l"], seen_ahead(facts, "alkalinity", today)
    now = ahead.now if ahead else alkalinity_now(facts, facts.alkalinity)
    use = -ahead.per_day if ahead else nitrogen_rise_mg_l_day(facts) * ALKALINITY_PER_NITROGEN
    use = use if now > 0 else min(use, 0.0)  # what is used up falls no further
    reached = _reached(now - limit, -ahead.pace_to(limit) if ahead else use, today)
    return Course("Alkalinity", "mg/L CaCO₃", now, -use, limit, reached, True)


def _reached(distance: float, per_day: float, today: date) -> date | None:
    if distance <= 0:
        return today
    if per_day <= 0 or distance / per_day > FAR_DAYS:
        return None
    return today + timedelta(days=int(distance / per_day))
