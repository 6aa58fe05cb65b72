"""Which enclosures could take a newcomer, and what speaks for and against each. Pure: kg, m, m2, m3, °C, g/day.

The order is advice. It is the sum of the penalties named below, the least first; a veterinarian and whoever
knows the animals decide. What is not known costs points as well: it never counts as fine.
The points are this program's own judgement (common practice, no source); only their order is meant.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from husbandry.bioload import Load, planned_daily_load
from husbandry.quarantine_dates import day_count, restarted
from refuge.rules.facts import AnimalFacts, CircuitFacts, FilterFacts
from refuge.rules.limits import LimitsFor
from refuge.units import METRIC, show

# Penalty points by name, with what they are for: (points, words). Shown on the page as they stand here.
PENALTIES: dict[str, tuple[float, str]] = {
    "residents_exposed": (100, "Residents share its water, and the newcomer is to be quarantined"),
    "newcomer_exposed": (100, "Animals in quarantine share its water, and the newcomer is not in quarantine"),
    "restart": (40, "Each quarantine that would start anew"),
    "restart_day": (0.1, "and for each day it would lose"),
    "quarantine_company": (15, "Animals in quarantine share its water, and lose no day by it"),
    "no_filter": (70, "No filter is running on its water"),
    "overload": (60, "The filter cannot carry the load with the newcomer"),
    "overload_share": (40, "and for each further 100 % of what it can carry, up to 150 %"),
    "near_full": (30, "The filter is full with the newcomer; from 80 % on, in proportion"),
    "growing": (15, "A filter of it is cycling or disturbed"),
    "foreseen": (
        40,
        "By the forecast with the newcomer its water is likely to pass a limit: in proportion to the chance",
    ),
    "wrong_purpose": (40, "Kept for something else"),
    "near_purpose": (15, "Kept for something near to what is wanted"),
    "not_set_apart": (10, "Its water is not set apart for quarantine"),
    "company": (20, "Somebody lives in the enclosure already"),
    "company_each": (5, "and for each animal in it"),
    "small": (20, "Less water surface than the benchmark minimum"),
    "small_share": (60, "and for the missing share of it"),
    "shallow": (10, "Less depth than the benchmark minimum"),
    "shallow_share": (20, "and for the missing share of it"),
    "temperature": (10, "Its water is outside the range of the species"),
    "temperature_degree": (5, "and for each degree"),
    "bad_reading": (20, "Each reading beyond its limit"),
    "unknown": (10, "Each thing that is not known"),
}
BLOCKED = "blocked"
# Share of its own weight an animal is offered in a week: common practice, no source (1-3 % a meal is usual).
RATION_SHARE_A_WEEK = 0.025
WATCH_FROM, ACT_FROM = 15, 60  # points from which a place is one with reservations, or the last resort


def points(name: str, times: float = 1.0) -> float:
    """Points of a named penalty, `times` over."""
    return PENALTIES[name][0] * times


@dataclass(frozen=True, slots=True)
class Diet:
    """What a newcomer is to eat: kg a meal, every so many days, and what is in it, as shares of the food as fed."""

    food: str
    ration_kg: float
    every_days: int
    protein_fraction: float
    water_fraction: float

    @property
    def load(self) -> Load:
        """Mean load [g/day]."""
        return planned_daily_load(
            self.ration_kg, 7 / self.every_days, self.protein_fraction, self.water_fraction
        )


@dataclass(frozen=True, slots=True)
class Newcomer:
    """What is known of the animal that comes; None for what is not. `quarantine_days` None: no quarantine."""

    label: str = "The newcomer"
    mass_kg: float | None = None
    carapace_m: float | None = None
    age_days: int | None = None
    adult_mass_kg: float | None = None
    low_c: float | None = None
    high_c: float | None = None
    quarantine_days: int | None = 365
    vet_override: bool = False
    diet: Diet | None = None
    food: str = ""  # chosen already, though what a meal of it weighs may not be known yet


@dataclass(frozen=True, slots=True)
class Place:
    """One enclosure, with everybody and every filter on its water."""

    enclosure_id: int
    label: str
    area: str
    path: str
    purpose: str  # resident, quarantine, nursery, hospital
    in_use: bool
    surface_m2: float
    depth_m: float
    volume_m3: float
    circuit: CircuitFacts
    living_in: tuple[AnimalFacts, ...] = ()
    carapaces_m: tuple[float | None, ...] = ()  # of those living in it
    sharing: tuple[AnimalFacts, ...] = ()  # everybody on the circuit, those living in it too
    filters: tuple[FilterFacts, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that speaks for or against a place. kind: for, against, unknown, blocks."""

    kind: str
    words: str
    weight: float = 0.0


@dataclass(frozen=True, slots=True)
class SetBack:
    """What joining a water costs one animal in quarantine there."""

    animal_id: int
    animal: str
    quarantine_id: int
    day: int
    days: int
    days_lost: int
    ended_on: date
    ends_on: date


@dataclass(frozen=True, slots=True)
class Candidate:
    """A place with what was found about it. Loads are shares of what its filters can carry today."""

    place: Place
    findings: tuple[Finding, ...]
    setbacks: tuple[SetBack, ...]
    load_before: float | None
    load_after: float | None

    @property
    def penalty(self) -> float:
        return sum(each.weight for each in self.findings)

    @property
    def agreement(self) -> str:
        """What agreeing to the restarts sends back; it stands for exactly these restarts."""
        return agreement(
            self.place.enclosure_id, ((each.quarantine_id, each.ends_on) for each in self.setbacks)
        )

    @property
    def is_blocked(self) -> bool:
        return any(each.kind == "blocks" for each in self.findings)

    @property
    def verdict(self) -> str:
        """good, unknown, watch, act, or blocked: how it would be said in one word."""
        if self.is_blocked:
            return BLOCKED
        if self.penalty >= ACT_FROM:
            return "act"
        if any(each.kind == "unknown" for each in self.findings):
            return "unknown"
        return "watch" if self.penalty >= WATCH_FROM else "good"


@dataclass(frozen=True, slots=True)
class Case:
    """One newcomer and one place, with the limits of that water and the reader's units."""

    newcomer: Newcomer
    place: Place
    limits: LimitsFor
    today: date
    system: str = METRIC

    def show(self, value: float | None, quantity: str) -> str:
        return show(value, quantity, self.system)


def rank(candidates: Iterable[Candidate]) -> list[Candidate]:
    """The least penalty first, what cannot take it last; equal ones stay in the order they came."""
    return sorted(candidates, key=lambda each: (each.is_blocked, each.penalty))


def setbacks(sharing: Iterable[AnimalFacts], today: date) -> tuple[SetBack, ...]:
    """Whose quarantine starts anew if somebody joins these animals' water today."""
    found = []
    for animal in sharing:
        quarantine = animal.quarantine
        if quarantine is None:
            continue
        _, ends_on = restarted(quarantine.clock_from, quarantine.days, today)
        if (lost := (ends_on - quarantine.ends_on).days) > 0:
            day = day_count(min(quarantine.clock_from, today), today)
            found.append(
                SetBack(
                    animal.id,
                    animal.label,
                    quarantine.id,
                    day,
                    quarantine.days,
                    lost,
                    quarantine.ends_on,
                    ends_on,
                )
            )
    return tuple(found)


def load_after(circuit: CircuitFacts, diet: Diet | None) -> float | None:
    """Share of what the filters can carry today, once the newcomer eats as planned; None while either is not known.

    The load to plan for is the greater of what was fed and what is planned; the newcomer adds to the plan.
    """
    if not circuit.capacity_tan_g_day or diet is None:
        return None
    after = max(circuit.recent_tan_g_day, circuit.planned_tan_g_day + diet.load.tan_g)
    return after / circuit.capacity_tan_g_day


def agreement(enclosure_id: int, restarts: Iterable[tuple[int, date]]) -> str:
    """A text for one place and the restarts (quarantine id, new planned end) there; empty when there are none.

    Who agreed to one restart has not agreed to another that came between reading and sending.
    """
    parts = [f"{quarantine_id}@{ends_on.isoformat()}" for quarantine_id, ends_on in sorted(restarts)]
    return f"{enclosure_id}:{','.join(parts)}" if parts else ""


def proposed_ration_kg(mass_kg: float, every_days: int) -> float:
    """A ration [kg] to begin with: 2.5 % of body mass a week, shared out over the meals (common practice)."""
    return mass_kg * RATION_SHARE_A_WEEK * every_days / 7
