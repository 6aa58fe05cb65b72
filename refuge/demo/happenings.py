"""What the story tells: plain values that name people, places and animals by their codes. No Django.

Masses in kg (TAN and solids in g), volumes in m3 or L as named, concentrations in mg/L, moments in UTC.
"""

from dataclasses import dataclass, field
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class Stamp:
    """When something happened, when it was entered, by whom (sign-in name), and a note."""

    at: datetime
    entered_at: datetime
    by: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Meal:
    stamp: Stamp
    enclosure: str
    circuit: str
    animal: str | None
    plan: int
    food: str
    offered_kg: float
    left_kg: float
    refused: bool
    tan_g: float
    solids_g: float


@dataclass(frozen=True, slots=True)
class Reading:
    """One water test; `values` holds the readings by the name of their field."""

    stamp: Stamp
    circuit: str
    values: dict[str, float]


@dataclass(frozen=True, slots=True)
class Renewal:
    """A water change or a top-up."""

    stamp: Stamp
    circuit: str
    kind: str
    volume_m3: float
    source: str
    conditioner: str = ""
    conditioner_g: float | None = None


@dataclass(frozen=True, slots=True)
class Upkeep:
    """Work on a filter; `seen` holds what was observed by the name of its field."""

    stamp: Stamp
    filter: str
    kind: str
    seen: dict[str, float | bool | str] = field(default_factory=dict)
    layer: int | None = None


@dataclass(frozen=True, slots=True)
class Mishap:
    """Something that happened to a filter; `told` holds what is known of it by the name of its field."""

    stamp: Stamp
    filter: str
    kind: str
    told: dict[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Weighing:
    stamp: Stamp
    animal: str
    mass_kg: float
    carapace_m: float | None = None


@dataclass(frozen=True, slots=True)
class HealthLook:
    stamp: Stamp
    animal: str
    kind: str
    is_normal: bool = True
    finding: str = ""


@dataclass(frozen=True, slots=True)
class Count:
    stamp: Stamp
    enclosure: str
    seen: int
    expected: int


@dataclass(slots=True)
class Residence:
    """An animal in one enclosure, from one moment to the next."""

    animal: str
    enclosure: str
    circuit: str
    starts_at: datetime
    by: str
    reason: str
    ends_at: datetime | None = None


@dataclass(slots=True)
class PlannedCheck:
    """A planned check of a quarantine; `answer` is the place of its answer among the story's health looks."""

    kind: str
    due_on: date
    answer: int | None = None


@dataclass(frozen=True, slots=True)
class Restart:
    on: date
    because_of: str
    previous_clock_from: date
    previous_ends_on: date


@dataclass(slots=True)
class QuarantineTold:
    animal: str
    started_on: date
    clock_from: date
    days: int
    ends_on: date
    released_on: date | None = None
    released_by: str | None = None
    outcome: str = ""
    checks: list[PlannedCheck] = field(default_factory=list)
    restarts: list[Restart] = field(default_factory=list)


@dataclass(slots=True)
class PlanTold:
    """A feeding plan of one enclosure's group or of one animal."""

    enclosure: str | None
    animal: str | None
    food: str
    ration_kg: float
    every_days: int | None
    weekdays: int | None
    starts_on: date
    ends_on: date | None = None
    fasting_until: date | None = None
    note: str = ""


@dataclass(slots=True)
class AnimalTold:
    """How an animal stands at the end of the story."""

    code: str
    status: str = "here"
    left_on: date | None = None
    brumating_since: date | None = None


@dataclass(slots=True)
class Story:
    """Everything that happened, each list in the order it was told."""

    today: date
    meals: list[Meal] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    renewals: list[Renewal] = field(default_factory=list)
    upkeep: list[Upkeep] = field(default_factory=list)
    mishaps: list[Mishap] = field(default_factory=list)
    weighings: list[Weighing] = field(default_factory=list)
    health: list[HealthLook] = field(default_factory=list)
    counts: list[Count] = field(default_factory=list)
    residences: list[Residence] = field(default_factory=list)
    quarantines: list[QuarantineTold] = field(default_factory=list)
    plans: list[PlanTold] = field(default_factory=list)
    animals: dict[str, AnimalTold] = field(default_factory=dict)
