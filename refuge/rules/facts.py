"""Everything the rules may know about a subject, as frozen values. SI units; days are floats, dates are local.

A value that is not known is None: a rule that needs it says so instead of assuming that all is well.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from refuge.rules.triggers import day_text


@dataclass(frozen=True, slots=True)
class Stop:
    """Where on the round something is done."""

    area_code: str
    area_name: str
    area_rank: int
    area_position: int
    code: str
    name: str
    position: int
    path: str


# For a circuit or filter that nobody has put on the walk yet: it is shown last, and said so.
NO_STOP = Stop("", "Not on the walk yet", 999, 0, "", "", 0, "")


@dataclass(frozen=True, slots=True)
class Reading:
    """One measured value and the local day it was read."""

    value: float
    on: date


@dataclass(frozen=True, slots=True)
class TestFacts:
    """One water test as rules see it; mg/L, nitrogen as N; `unionized` is un-ionized ammonia as N.

    unionized_ph, unionized_temperature_c: what it was computed with, its own or lent by another test.
    renewed_since: share of the water renewed by changes since (0 to 1).
    """

    __test__ = False  # a name that pytest would otherwise collect

    on: date
    temperature_c: float | None
    ph: float | None
    tan: float | None
    nitrite: float | None
    nitrate: float | None
    alkalinity: float | None
    oxygen: float | None
    chlorine: float | None
    unionized: float | None
    unionized_ph: float | None = None
    unionized_temperature_c: float | None = None
    renewed_since: float = 0.0


@dataclass(frozen=True, slots=True)
class CourseFacts:
    """Where a forecast sees one quantity go: most likely now and in two weeks; days until it passes its limit.

    passes_in: None where that is not likely within the two weeks.
    """

    now: float
    in_two_weeks: float
    passes_in: float | None = None

    @property
    def per_day(self) -> float:
        return (self.in_two_weeks - self.now) / 14

    def pace_to(self, limit: float) -> float:
        """Change a day that gets it to the limit on the day it is forecast to pass it; else as in the two weeks."""
        return (limit - self.now) / self.passes_in if self.passes_in else self.per_day


@dataclass(frozen=True, slots=True)
class ForecastFacts:
    """The newest forecast of a water: until when it is sure enough, and what is in doubt then.

    doubt: 'may_pass', 'will_pass', 'too_vague' or 'longest'. quantity: as in TestFacts, with its limit; chance of
    passing it on that day (0 to 1); width of the 90 % band. failure: why there is no forecast, if it broke.
    is_young: a filter grows towards its plan; mature_in: days from `made_on` until it most likely carries it, None
    for not within the weeks looked at. nitrate, alkalinity: where they go; None where it does not say. contradicted:
    what the latest test read that the forecast had thought all but impossible. meal_shares: while a filter is young, how
    much of the planned meals the water bears from `made_on` on, day by day. planned_for: the meals that this is a share
    of, in g TAN: a day, and in one meal of every plan together; None in a forecast of an earlier version.
    grown: the share (0 to 1) of all its bacteria that a young filter has on `made_on`, the slower of the two steps.
    """

    made_on: date
    tested_on: date | None = None  # latest test it knew
    sure_until: date | None = None
    doubt: str = ""
    quantity: str = ""
    limit: float | None = None
    chance: float = 0.0
    width: float = 0.0
    failure: str = ""
    is_young: bool = False
    mature_in: float | None = None
    nitrate: CourseFacts | None = None
    alkalinity: CourseFacts | None = None
    contradicted: tuple[str, ...] = ()
    meal_shares: tuple[float, ...] = ()
    grown: float | None = None
    planned_for: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class HarmFacts:
    """Something that happened to a filter: the day it was over, in words, the share of its bacteria then left, its page.

    began_on: where it goes on still; then `on` is today.
    """

    on: date
    words: str
    left: float
    path: str = ""
    began_on: date | None = None

    @property
    def is_open(self) -> bool:
        return self.began_on is not None

    @property
    def over(self) -> str:
        """When it was over, in words."""
        return "not over yet" if self.is_open else f"over on {day_text(self.on)}"


@dataclass(frozen=True, slots=True)
class CircuitFacts:
    """One body of water today."""

    id: int
    label: str
    path: str
    stop: Stop
    volume_m3: float
    is_quarantine: bool
    temperature_c: float  # by the last reading, and by heater or season since
    # its warmth when nobody reads it; see enclosures.warmth
    usual_temperature_c: float = 24.0
    coldest_temperature_c: float | None = None
    warmest_month: int = 7
    animals: int = 0
    mass_kg: float = 0.0
    # water tests, newest first, the last few
    tests: tuple[TestFacts, ...] = ()
    last_panel_on: date | None = None  # last test with nitrate and alkalinity
    nitrate: Reading | None = None
    alkalinity: Reading | None = None
    last_change_on: date | None = None
    changed_since_nitrate_share: float = 0.0  # share of the volume renewed since nitrate was read
    changed_since_alkalinity_share: float = 0.0
    fed_since_nitrate_tan_g: float = 0.0  # ammonia nitrogen of the meals recorded since nitrate was read
    fed_since_alkalinity_tan_g: float = 0.0
    # the source it is filled from
    source_id: int | None = None
    source_name: str = ""
    source_disinfectant: str = "none"
    source_chlorine_mg_l: float = 0.0
    source_nitrate: float = 0.0
    source_alkalinity: float | None = None
    # bioload, g TAN a day
    recent_tan_g_day: float = 0.0  # from feedings recorded, mean of the load window
    planned_tan_g_day: float = 0.0  # from the feeding plans ahead
    solids_g_day: float = 0.0  # the greater of recorded and planned
    last_fed_on: date | None = None
    last_fed_kg: float = 0.0  # all food of that day
    last_fed_tan_g: float = 0.0  # the ammonia nitrogen that day's food will become
    last_joined_on: date | None = None  # last day an animal came in from another circuit
    # filters
    filters: int = 0
    capacity_tan_g_day: float | None = None  # today, all running filters
    mature_capacity_tan_g_day: float | None = None  # once all are mature
    is_cycling: bool = False
    cycling_since: date | None = (
        None  # the last of its growing filters that no other carries; None without one
    )
    harm: HarmFacts | None = None  # what cost one of them much, and the tests have not yet shown to be over
    forecast: ForecastFacts | None = None

    @property
    def tan_g_day(self) -> float:
        """The load to plan for: the greater of what was fed and what is planned [g TAN/day]."""
        return max(self.recent_tan_g_day, self.planned_tan_g_day)

    @property
    def load_share(self) -> float | None:
        """Share of today's filter capacity in use; None when there is no running filter."""
        if not self.capacity_tan_g_day:
            return None
        return self.tan_g_day / self.capacity_tan_g_day

    @property
    def grown_share(self) -> float | None:
        """What its filters carry today as a share of what they carry once mature; None unless one still grows."""
        if not (self.is_cycling and self.capacity_tan_g_day and self.mature_capacity_tan_g_day):
            return None
        return self.capacity_tan_g_day / self.mature_capacity_tan_g_day


RUNNING = frozenset({"cycling", "mature", "disturbed"})  # states of a filter in which it cleans


@dataclass(frozen=True, slots=True)
class FilterFacts:
    """One filter unit today."""

    id: int
    label: str
    path: str
    stop: Stop
    circuit_id: int
    state: str
    state_since: date
    void_l: float
    cross_section_m2: float
    temperature_c: float
    has_layers: bool
    area_m2: float = 0.0  # surface of its stone for bacteria
    seeded: bool = False  # begun with old media
    # sediment in the void, as modelled and corrected
    easy_g: float = 0.0
    inert_g: float = 0.0
    loose_easy_g: float = 0.0  # of these, not packed yet
    loose_inert_g: float = 0.0
    sediment_l: float = 0.0
    solids_g_day: float = 0.0  # solids reaching this filter
    correction: float = 1.0  # observed / modelled at earlier drains
    carried_g: float = 0.0  # dry solids caught in the media since the last rinse
    media_void_l: float = 0.0  # room between the stones
    layers: int = 0  # of stones
    # each layer's key and its part of what they catch, bottom first
    caught_by: tuple[tuple[int, float], ...] = ()
    clogged_g_l: float | None = None  # what they hold when its flow has fallen too far, as modelled
    last_drain_at: datetime | None = None  # by the refuge's clock, as the two below
    last_drain_seen_l: float | None = None
    last_drain_modelled_l: float | None = None
    last_rinse_at: datetime | None = None
    last_pump_clean_on: date | None = None
    last_bucket_at: datetime | None = None
    last_protection_on: date | None = None
    protection_passed: bool | None = None
    has_protection: bool = False  # entered for its socket, or shown by a test that passed
    lip_l: float | None = None  # what its empty container holds up to the overflow, by its plan
    last_inspection_on: date | None = None
    leak_passed_on: date | None = None
    commissioning_flow_m3_h: float | None = None
    flow: Reading | None = None  # m3/h, last bucket test
    has_pump: bool = False
    rated_flow_m3_h: float | None = None  # the most its pump can do
    # tests in a row with ammonia and nitrite near zero, newest first: made under load since it is in its state
    quiet_tests: int = 0
    carried_by: str = ""  # the other filters of its water, where they carry the load without it
    days_to_mature: float | None = None  # while cycling, as modelled
    grown: float | None = (
        None  # while cycling: share of all its bacteria (0 to 1), as its water's forecast sees it today
    )
    harm: HarmFacts | None = None  # the worst that happened to it since it was last said to be well
    stands: HarmFacts | None = None  # what stopped it, while nobody has said that it runs again
    harm_left_today: float = 1.0  # share of its bacteria after all that happened, with what has grown back
    quiet_since_harm: int = 0  # as quiet_tests, of the tests since

    @property
    def last_drain_on(self) -> date | None:
        return self.last_drain_at.date() if self.last_drain_at else None

    @property
    def last_rinse_on(self) -> date | None:
        return self.last_rinse_at.date() if self.last_rinse_at else None

    @property
    def last_bucket_on(self) -> date | None:
        return self.last_bucket_at.date() if self.last_bucket_at else None

    def flow_measured_since(self, at: datetime) -> bool:
        """Whether the flow was measured at that moment or later: on the same day the order counts."""
        return self.last_bucket_at is not None and self.last_bucket_at >= at


@dataclass(frozen=True, slots=True)
class EnclosureFacts:
    """One enclosure today."""

    id: int
    label: str
    path: str
    stop: Stop
    circuit_id: int
    is_outdoor: bool
    purpose: str
    volume_m3: float = 0.0
    surface_m2: float = 0.0
    awake: int = 0
    brumating: int = 0
    last_seen_on: date | None = None  # last head count
    # then seen, of how many that lived there; without those that are known to have left the refuge, if it missed some
    last_counted: tuple[int, int] | None = None
    occupied_since: date | None = None


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """One feeding plan in force today."""

    id: int
    label: str
    path: str
    stop: Stop
    circuit_id: int
    enclosure_id: int
    animal_id: int | None
    food: str
    ration_kg: float
    every_days: int | None
    weekdays: int | None
    starts_on: date
    ends_on: date | None
    fasting_until: date | None
    all_brumating: bool
    last_fed_on: date | None
    protein_fraction: float = 0.0  # of its food, as fed
    water_fraction: float = 0.0
    unfed: str = (
        ""  # what was read in its water, or happened to its filter, that forbids food for now, in words
    )
    warning: str = ""  # why, after harm, only a share of the ration is to be given for now, in words
    share: float = 1.0  # of the ration
    # the same while a filter grows, by the forecast; 0 for no food. More: what else there is to say of it
    young: str = ""
    young_share: float = 1.0
    young_more: str = ""

    @property
    def restraint(self) -> tuple[str, float]:
        """(why, share) that a meal is held to for now: a share of 0 for no food, no words and 1 for a meal as planned.

        What was read, or happened to a filter, goes before what a young one bears; of two shares the smaller counts.
        """
        if self.unfed:
            return self.unfed, 0.0
        return (self.young, self.young_share) if self.young_share < self.share else (self.warning, self.share)

    @property
    def given_kg(self) -> float:
        """What may be given now."""
        _, share = self.restraint
        return float(f"{self.ration_kg * share:.3g}") if share < 1 else self.ration_kg


@dataclass(frozen=True, slots=True)
class CheckFacts:
    """One planned quarantine check that is not answered yet."""

    id: int
    kind: str
    title: str
    due_on: date


@dataclass(frozen=True, slots=True)
class QuarantineFacts:
    """One open quarantine."""

    id: int
    started_on: date
    clock_from: date
    days: int
    ends_on: date
    checks: tuple[CheckFacts, ...] = ()


@dataclass(frozen=True, slots=True)
class AnimalFacts:
    """One animal that is here today."""

    id: int
    label: str
    path: str
    stop: Stop
    circuit_id: int
    enclosure_id: int
    arrived_on: date
    mass_kg: float | None = None
    last_weighed_on: date | None = None
    age_days: int | None = None
    adult_mass_kg: float | None = None
    brumating_since: date | None = None
    last_look_on: date | None = None
    quarantine: QuarantineFacts | None = None
    without_plan: bool = False  # neither a plan of its own nor one of its enclosure's group feeds it


SubjectFacts = CircuitFacts | FilterFacts | EnclosureFacts | PlanFacts | AnimalFacts

KINDS = ("circuit", "filter", "enclosure", "plan", "animal")


@dataclass(frozen=True, slots=True)
class Fed:
    """What a circuit was fed in one span of local days [from_on, to_on): kg of food, g of TAN and solids."""

    from_on: date
    to_on: date
    kg: float
    tan_g: float
    solids_g: float


def fed_since(fed: Iterable[Fed], day: date | None) -> Iterator[tuple[Fed, float]]:
    """The spans of meals from a day on, each with the share of it that counts; all of them without a day."""
    for span in fed:
        if day is None or span.from_on >= day:
            yield span, 1.0
        elif span.to_on > day:
            yield span, (span.to_on - day) / (span.to_on - span.from_on)


@dataclass
class Facts:
    """All facts of one planning, by kind and id. Loaders fill it in the order of the apps.

    `fed` holds each circuit's meals, newest first: day by day for the recent past, by month before.
    """

    circuit: dict[int, CircuitFacts] = field(default_factory=dict)
    filter: dict[int, FilterFacts] = field(default_factory=dict)
    enclosure: dict[int, EnclosureFacts] = field(default_factory=dict)
    plan: dict[int, PlanFacts] = field(default_factory=dict)
    animal: dict[int, AnimalFacts] = field(default_factory=dict)
    fed: dict[int, list[Fed]] = field(default_factory=dict)

    def of(self, kind: str) -> dict[int, SubjectFacts]:
        """Facts of one kind, by id."""
        table: dict[int, SubjectFacts] = getattr(self, kind)
        return table

    def copy(self) -> "Facts":
        """A copy whose tables can be changed without touching this one (the facts themselves are frozen)."""
        return replace(self, **{kind: dict(self.of(kind)) for kind in KINDS})  # type: ignore[arg-type]
