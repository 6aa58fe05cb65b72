"""The state that the parts of the story share: who is where, how the waters stand, what has been told."""

import random
from dataclasses import dataclass, field
from datetime import date
from zoneinfo import ZoneInfo

from filtration.nitrification import areal_rate_g_m2_day, start_up
from refuge.demo.barrels import Barrel
from refuge.demo.cast import BEGINNING, Character, Stay, cast
from refuge.demo.daybook import Daybook
from refuge.demo.happenings import AnimalTold, Story
from refuge.demo.kinds import KINDS, Kind
from refuge.demo.place import OSSELMERE, TIME_ZONE
from refuge.demo.plans import CircuitPlan, EnclosurePlan, Place, SourcePlan
from refuge.demo.rota import Rota
from refuge.demo.waters import Nature, Water
from refuge.demo.weather import Weather

LOAD_MEMORY_DAYS = 10.0
# A film is as full as it is fed: whole from this share of its capacity on, and never quite gone. It grows within days
# and shrinks within weeks (assumptions).
FILLING_SHARE, LEAST_FILM = 0.1, 0.2
GROWING_DAYS, SHRINKING_DAYS = 5.0, 30.0


@dataclass(slots=True)
class AnimalState:
    """One animal on the story's current day."""

    code: str
    character: Character
    kind: Kind
    mass_kg: float
    enclosure: str | None = None
    since: date | None = None
    brumating_since: date | None = None
    weighed_on: date | None = None

    @property
    def is_awake(self) -> bool:
        return self.brumating_since is None


@dataclass(slots=True)
class CircuitState:
    """One circuit on the story's current day; loads in g TAN."""

    plan: CircuitPlan
    source: SourcePlan
    volume_m3: float
    water: Water
    barrel: Barrel | None
    temperatures: dict[date, float]
    temperature_c: float = 20.0
    fed_today_g: float = 0.0
    solids_today_g: float = 0.0
    load_g_day: float = 0.0
    capacity_tan_g_day: float = 0.0
    capacity_nitrite_g_day: float = 0.0
    capacity_when_mature_g_day: float = 0.0
    film: float = 1.0

    @property
    def load_share(self) -> float:
        return self.load_g_day / self.capacity_when_mature_g_day if self.capacity_when_mature_g_day else 2.0

    def remember_load(self) -> None:
        self.load_g_day += (self.fed_today_g - self.load_g_day) / LOAD_MEMORY_DAYS
        kept = min(1.0, max(LEAST_FILM, self.load_share / FILLING_SHARE))
        self.film += (kept - self.film) / (GROWING_DAYS if kept > self.film else SHRINKING_DAYS)


@dataclass(slots=True)
class World:
    book: Daybook
    seed: int
    place: Place
    rota: Rota
    story: Story
    circuits: dict[str, CircuitState]
    enclosures: dict[str, EnclosurePlan]
    animals: dict[str, AnimalState]
    paths: dict[date, list[tuple[str, Stay]]]
    leaving: dict[date, list[str]]
    occupants: dict[str, list[AnimalState]]
    day: date = field(default=date.min)

    def rng(self, name: str) -> random.Random:
        """Chance of its own for one part of the story, so that a change in one leaves the others alone."""
        return random.Random(f"{self.seed}:{name}")

    def begin(self, day: date) -> None:
        self.day = day
        for state in self.open_circuits():
            state.temperature_c = state.temperatures[day]
            state.fed_today_g = state.solids_today_g = 0.0
            self._set_capacity(state)

    def open_circuits(self) -> list[CircuitState]:
        return [each for each in self.circuits.values() if self.book.day(each.plan.opened) <= self.day]

    def ago(self, offset: int | None) -> bool:
        """Whether the day `offset` (relative to today) is past on the story's current day."""
        return offset is not None and self.day > self.book.day(offset)

    def circuit_of(self, enclosure: str) -> CircuitState:
        return self.circuits[self.enclosures[enclosure].circuit]

    def in_circuit(self, circuit: str) -> list[AnimalState]:
        return [
            animal
            for code, here in self.occupants.items()
            if self.enclosures[code].circuit == circuit
            for animal in here
        ]

    def present(self) -> list[AnimalState]:
        return [each for each in self.animals.values() if each.enclosure is not None]

    def _set_capacity(self, state: CircuitState) -> None:
        if state.barrel is None:
            return
        plan = state.barrel.plan
        full = plan.media_area_m2 * areal_rate_g_m2_day(state.temperature_c)
        state.capacity_when_mature_g_day = full
        first, second = 1.0, 1.0
        if plan.cycling_from is not None:
            running = (self.day - self.book.day(plan.cycling_from)).days
            grown = start_up(max(0, running), max(15.0, state.temperature_c), plan.seeded)
            first, second = grown.ammonia_oxidizers, grown.nitrite_oxidizers
        held = full * state.film
        state.capacity_tan_g_day, state.capacity_nitrite_g_day = held * first, held * second


def build_world(book: Daybook, seed: int) -> World:
    """Everything as it stands before the first day."""
    characters = {
        code: each
        for code, each in cast(book, seed).items()
        if not each.leaves or each.leaves[0] > book.first
    }
    animals = {
        code: AnimalState(code, each, KINDS[each.kind], each.mass_kg) for code, each in characters.items()
    }
    story = Story(book.today, animals={code: AnimalTold(code) for code in characters})
    return World(
        book,
        seed,
        OSSELMERE,
        Rota(book, ZoneInfo(TIME_ZONE), seed),
        story,
        _circuits(book, seed),
        {each.code: each for each in OSSELMERE.enclosures},
        animals,
        _paths(book, characters),
        _leavings(characters),
        {each.code: [] for each in OSSELMERE.enclosures},
    )


def _circuits(book: Daybook, seed: int) -> dict[str, CircuitState]:
    weather = Weather(book, seed)
    sources = {each.key: each for each in OSSELMERE.sources}
    running = {each.circuit: Barrel(each) for each in OSSELMERE.filters if each.state != "building"}
    states = {}
    for plan in OSSELMERE.circuits:
        temperatures = (
            weather.outdoors() if plan.is_outdoor else weather.indoors(plan.code, plan.temperature_c)
        )
        source, volume = sources[plan.source], OSSELMERE.volume_m3(plan)
        is_new = book.day(plan.opened) >= book.first
        water = Water(
            volume,
            nitrate=source.nitrate_n_mg_l + (0 if is_new else 10),
            alkalinity=source.alkalinity_mg_l * (1 if is_new else 0.8),
            flow_m3_day=24 * running[plan.code].plan.flow_m3_h if plan.code in running else 0.0,
            nature=Nature.drawn(random.Random(f"{seed}:nature:{plan.code}")),
        )
        states[plan.code] = CircuitState(plan, source, volume, water, running.get(plan.code), temperatures)
    return states


def _paths(book: Daybook, characters: dict[str, Character]) -> dict[date, list[tuple[str, Stay]]]:
    """Who goes where on which day; stays begun before the story start on its first day."""
    paths: dict[date, list[tuple[str, Stay]]] = {}
    for code, character in characters.items():
        before = [stay for stay in character.stays if stay.on <= book.first]
        if before:
            start = Stay(book.first, before[-1].enclosure, BEGINNING)
            paths.setdefault(book.first, []).append((code, start))
        for stay in character.stays:
            if stay.on > book.first:
                paths.setdefault(stay.on, []).append((code, stay))
    return paths


def _leavings(characters: dict[str, Character]) -> dict[date, list[str]]:
    leaving: dict[date, list[str]] = {}
    for code, character in characters.items():
        if character.leaves:
            leaving.setdefault(character.leaves[0], []).append(code)
    return leaving
