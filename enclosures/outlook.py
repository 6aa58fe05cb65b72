"""Where a water is heading: nitrate and alkalinity from the last test, the meals since, and the changes."""

from dataclasses import dataclass
from datetime import date, timedelta

from enclosures.changes import (
    alkalinity_now,
    change_volume_m3,
    conditioner_words,
    nitrate_now,
    nitrogen_rise_mg_l_day,
)
from enclosures.chemistry import ALKALINITY_PER_NITROGEN
from enclosures.rules import water_change
from refuge.rules.facts import CircuitFacts
from refuge.rules.limits import LimitsFor
from refuge.rules.triggers import FAR_DAYS, Due


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
    def is_reached(self) -> bool:
        return self.now <= self.limit if self.is_least else self.now >= self.limit


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a water is heading for, when it must be changed, and how much of it."""

    courses: list[Course]
    lacks: list[str]
    change_on: date | None
    change_reason: str
    change_m3: float
    conditioner: str


def outlook(facts: CircuitFacts, limits: LimitsFor, today: date) -> Outlook | None:
    """The outlook of a water; None while its volume is not known. Needs no query."""
    if facts.volume_m3 <= 0:
        return None
    triggers = [each for each in water_change(facts, limits, today) if isinstance(each, Due)]
    first = min(triggers, key=lambda due: due.on, default=None)
    volume = change_volume_m3(facts, limits)
    courses = [each for each in (_nitrate(facts, limits, today), _alkalinity(facts, limits, today)) if each]
    lacks = [name for name in ("nitrate", "alkalinity") if getattr(facts, name) is None]
    return Outlook(
        courses=courses,
        lacks=lacks,
        change_on=first.on if first else None,
        change_reason=first.reason if first else "",
        change_m3=volume,
        conditioner=conditioner_words(facts, volume)[0],
    )


def _nitrate(facts: CircuitFacts, limits: LimitsFor, today: date) -> Course | None:
    if facts.nitrate is None:
        return None
    now, limit = nitrate_now(facts, facts.nitrate), limits["water.nitrate_mg_l"]
    rise = nitrogen_rise_mg_l_day(facts)
    return Course("Nitrate", "mg/L N", now, rise, limit, _reached(limit - now, rise, today), False)


def _alkalinity(facts: CircuitFacts, limits: LimitsFor, today: date) -> Course | None:
    if facts.alkalinity is None:
        return None
    now, limit = alkalinity_now(facts, facts.alkalinity), limits["water.alkalinity_mg_l"]
    use = nitrogen_rise_mg_l_day(facts) * ALKALINITY_PER_NITROGEN
    return Course("Alkalinity", "mg/L CaCO3", now, -use, limit, _reached(now - limit, use, today), True)


def _reached(distance: float, per_day: float, today: date) -> date | None:
    if distance <= 0:
        return today
    if per_day <= 0 or distance / per_day > FAR_DAYS:
        return None
    return today + timedelta(days=int(distance / per_day))
