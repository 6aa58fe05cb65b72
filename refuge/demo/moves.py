"""Arrivals, moves, leavings, winter rest, and the quarantine clocks that follow from them."""

from datetime import date, timedelta

from husbandry.quarantine_dates import check_dates, planned_end, restarted
from refuge.demo.cast import BEGINNING, Stay
from refuge.demo.happenings import HealthLook, PlannedCheck, QuarantineTold, Residence, Restart, Stamp
from refuge.demo.world import AnimalState, World

WAKES_ABOVE_C = 1.5  # this much warmer than the day they went to rest


class Moves:
    """Puts animals where their path leads, and keeps each quarantine's clock."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._residence: dict[str, Residence] = {}
        self.quarantine: dict[str, QuarantineTold] = {}

    def in_the_morning(self, day: date) -> None:
        """Before the round: who leaves, and on the first day who is where."""
        for code in self._world.leaving.get(day, ()):
            self._leave(self._world.animals[code], day)
        if day == self._world.book.first:
            self._move_all(day)

    def in_the_afternoon(self, day: date) -> None:
        """After the round: who comes or moves, who goes to rest or wakes."""
        if day > self._world.book.first:
            self._move_all(day)
        self._winter_rest(day)

    def _move_all(self, day: date) -> None:
        for code, stay in self._world.paths.get(day, ()):
            self._move(self._world.animals[code], stay)

    def _move(self, animal: AnimalState, stay: Stay) -> None:
        world, enclosure = self._world, self._world.enclosures[stay.enclosure]
        if stay.reason == BEGINNING:
            stamp = world.rota.before_the_round(stay.on)
        else:
            stamp = world.rota.afternoon(stay.on, enclosure.area, 10)
        if animal.enclosure is not None:
            self._end_stay(animal, stamp)
        was_in_quarantine = animal.code in self.quarantine
        residence = Residence(animal.code, stay.enclosure, enclosure.circuit, stamp.at, stamp.by, stay.reason)
        self._residence[animal.code] = residence
        world.story.residences.append(residence)
        animal.enclosure, animal.since = stay.enclosure, stay.on
        world.occupants[stay.enclosure].append(animal)
        if world.circuits[enclosure.circuit].plan.is_quarantine:
            self._enter_quarantine(animal, stay, enclosure.circuit)
        elif was_in_quarantine:
            self._release(animal, stay.on, "Samples and examination clear; the vet agreed.")

    def _end_stay(self, animal: AnimalState, stamp: Stamp) -> None:
        self._residence[animal.code].ends_at = stamp.at
        self._world.occupants[animal.enclosure or ""].remove(animal)
        animal.enclosure = animal.brumating_since = None

    def _leave(self, animal: AnimalState, day: date) -> None:
        _, status, words = animal.character.leaves or (day, "", "")
        stamp = self._world.rota.before_the_round(day)
        self._end_stay(animal, stamp)
        told = self._world.story.animals[animal.code]
        told.status, told.left_on = status, day
        self._world.story.health.append(
            HealthLook(stamp, animal.code, "observation", status != "died", words)
        )
        if animal.code in self.quarantine:
            self._release(animal, day, words)

    # Quarantine

    def _enter_quarantine(self, animal: AnimalState, stay: Stay, circuit: str) -> None:
        days = animal.character.quarantine_days
        if days is None:
            return
        started = animal.character.arrived if stay.reason == BEGINNING else stay.on
        told = QuarantineTold(animal.code, started, started, days, planned_end(started, days))
        told.checks = self._checks(started, days)
        self.quarantine[animal.code] = told
        self._world.story.quarantines.append(told)
        if stay.on > self._world.book.first:
            self._restart_others(animal, stay.on, circuit)

    def _restart_others(self, newcomer: AnimalState, on: date, circuit: str) -> None:
        for other in self._world.in_circuit(circuit):
            told = self.quarantine.get(other.code)
            if other is newcomer or told is None:
                continue
            told.restarts.append(Restart(on, newcomer.code, told.clock_from, told.ends_on))
            told.clock_from, told.ends_on = restarted(told.clock_from, told.days, on)
            answered = [check for check in told.checks if check.answer is not None]
            fresh = self._checks(told.clock_from, told.days)
            told.checks = answered + [check for check in fresh if check.kind != "intake_exam"]

    def _checks(self, clock_from: date, days: int) -> list[PlannedCheck]:
        """The planned checks; those of the time before these records are not in them."""
        return [
            PlannedCheck(check.kind, check.on)
            for check in check_dates(clock_from, days)
            if check.on >= self._world.book.first
        ]

    def _release(self, animal: AnimalState, on: date, outcome: str) -> None:
        told = self.quarantine.pop(animal.code)
        told.released_on, told.released_by, told.outcome = on, "manager", outcome
        told.checks = [check for check in told.checks if check.answer is not None or check.due_on <= on]

    # Winter

    def _winter_rest(self, day: date) -> None:
        for code, here in self._world.occupants.items():
            limit = self._world.enclosures[code].brumates_below_c
            if limit is None or not here:
                continue
            recent = self._recent_c(code, day)
            for animal in here:
                self._rest_or_wake(animal, day, recent, limit)

    def _recent_c(self, enclosure: str, day: date) -> float:
        """Mean of the last seven days' water."""
        temperatures = self._world.circuit_of(enclosure).temperatures
        days = [day - timedelta(days=n) for n in range(7)]
        known = [temperatures[each] for each in days if each in temperatures]
        return sum(known) / len(known)

    def _rest_or_wake(self, animal: AnimalState, day: date, recent_c: float, limit_c: float) -> None:
        if animal.is_awake and animal.kind.brumates and recent_c < limit_c:
            animal.brumating_since = day
            self._tell_rest(animal, day, f"Went to winter rest; water {recent_c:.0f} °C.")
        elif not animal.is_awake and recent_c > limit_c + WAKES_ABOVE_C:
            animal.brumating_since = None
            self._tell_rest(animal, day, f"Awake again; water {recent_c:.0f} °C.")

    def _tell_rest(self, animal: AnimalState, day: date, words: str) -> None:
        stamp = self._world.rota.visit(day, "POND", 20)
        self._world.story.health.append(HealthLook(stamp, animal.code, "observation", True, words))

    def close(self) -> None:
        for animal in self._world.present():
            self._world.story.animals[animal.code].brumating_since = animal.brumating_since
