"""Growth, weighings, head counts, daily looks, treatments and the answers to quarantine checks."""

from datetime import date, timedelta

from refuge.demo import habits
from refuge.demo.growth import carapace_m, grown_kg
from refuge.demo.happenings import Count, HealthLook, PlannedCheck, QuarantineTold, Weighing
from refuge.demo.moves import Moves
from refuge.demo.world import AnimalState, World

UNANSWERED = {"Boulder"}  # whose latest check nobody has found the time for
LATEST_DAYS = 12
SCALE_ERROR = 0.004
WINTER_WEIGHING_DAYS = 115


class AnimalCare:
    def __init__(self, world: World, moves: Moves) -> None:
        self._world = world
        self._moves = moves
        self._rng = world.rng("animals")

    def do(self, day: date) -> None:
        for animal in self._world.present():
            self._grow(animal)
            if self._weighing_is_due(animal, day):
                self._weigh(animal, day)
        for code, told in list(self._moves.quarantine.items()):
            self._look_daily(self._world.animals[code], day)
            self._answer_checks(self._world.animals[code], told, day)
        for code, here in self._world.occupants.items():
            if here:
                self._count(code, here, day)
        for animal in self._world.occupants["H1"]:
            self._treat(animal, day)
        if self._rng.random() < 0.07:
            self._notice_something(day)

    # Weights

    def _grow(self, animal: AnimalState) -> None:
        circuit = self._world.circuit_of(animal.enclosure or "")
        if animal.is_awake:
            animal.mass_kg = grown_kg(
                animal.mass_kg, animal.character.final_kg, animal.kind.growth_per_year, circuit.temperature_c
            )

    def _weighing_is_due(self, animal: AnimalState, day: date) -> bool:
        """Once it has come, as it goes to rest, and at the intervals of its stage; checks weigh the quarantined."""
        yesterday = day - timedelta(days=1)
        if yesterday == animal.brumating_since or (yesterday == animal.since == animal.character.arrived):
            return True
        if animal.code in self._moves.quarantine:
            return False
        if animal.weighed_on is None:
            return animal.is_awake and self._rng.random() < 0.08
        return (day - animal.weighed_on).days >= self._weighed_every(animal) and self._rng.random() < 0.7

    def _weighed_every(self, animal: AnimalState) -> int:
        if self._world.enclosures[animal.enclosure or ""].purpose == "hospital":
            return 7
        if not animal.is_awake:
            return WINTER_WEIGHING_DAYS
        is_young = animal.mass_kg < animal.kind.adult_kg * habits.YOUNG_SHARE
        return habits.WEIGH_YOUNG_DAYS - 2 if is_young else habits.WEIGH_ADULT_DAYS - 15

    def _weigh(self, animal: AnimalState, day: date, note: str = "") -> None:
        area = self._world.enclosures[animal.enclosure or ""].area
        mass = animal.mass_kg * self._rng.gauss(1, SCALE_ERROR)
        length = None
        if self._rng.random() < 0.5:
            length = round(carapace_m(animal.mass_kg, animal.kind.shell_kg_m3) * self._rng.gauss(1, 0.004), 3)
        stamp = self._world.rota.afternoon(day, area, 35, note=note or self._weigh_note(animal))
        step = 3 if mass < 2 else 2 if mass < 10 else 1
        self._world.story.weighings.append(Weighing(stamp, animal.code, round(mass, step), length))
        animal.weighed_on = day

    def _weigh_note(self, animal: AnimalState) -> str:
        return "Two of us, lifted with the board." if animal.mass_kg > 25 and self._rng.random() < 0.3 else ""

    # Looks and counts

    def _look_daily(self, animal: AnimalState, day: date) -> None:
        area = self._world.enclosures[animal.enclosure or ""].area
        stamp = self._world.rota.visit(day, area, 8, "volunteer")
        unusual = self._rng.random() < (0.12 if animal.character.name == "Teal" else 0.008)
        finding = self._rng.choice(_UNUSUAL) if unusual else ""
        self._world.story.health.append(HealthLook(stamp, animal.code, "look", not unusual, finding))

    def _count(self, code: str, here: list[AnimalState], day: date) -> None:
        awake = sum(animal.is_awake for animal in here)
        if awake == 0 and (day.toordinal() + len(code)) % habits.REST_COUNT_DAYS:
            return
        enclosure = self._world.enclosures[code]
        missed = 0
        if enclosure.is_outdoor and awake and self._rng.random() < 0.02:
            missed, note = 1, "One not seen; look again tomorrow."
        else:
            note = "All at rest on the bottom." if awake == 0 else ""
        minute = 2 + 5 * int(code[1:])
        stamp = self._world.rota.visit(day, enclosure.area, minute, "volunteer", note)
        self._world.story.counts.append(Count(stamp, code, len(here) - missed, len(here)))

    def _treat(self, animal: AnimalState, day: date) -> None:
        age = (day - (animal.since or day)).days
        if age % 2 and age > 0:
            return
        stamp = self._world.rota.visit(day, "SICK", 22, "staff")
        words = _TREATMENTS[min(age // 4, len(_TREATMENTS) - 1)]
        self._world.story.health.append(HealthLook(stamp, animal.code, "treatment", age > 8, words))

    def _notice_something(self, day: date) -> None:
        animal = self._rng.choice(self._world.present())
        if not animal.is_awake:
            return
        area = self._world.enclosures[animal.enclosure or ""].area
        stamp = self._world.rota.visit(day, area, 26)
        is_normal, words = self._rng.choice(_SEEN)
        self._world.story.health.append(HealthLook(stamp, animal.code, "observation", is_normal, words))

    # Quarantine checks

    def _answer_checks(self, animal: AnimalState, told: QuarantineTold, day: date) -> None:
        for check in told.checks:
            if check.answer is not None or check.due_on > day:
                continue
            is_put_off = check.due_on == day and self._rng.random() < 0.35
            if not is_put_off and not self._is_left_open(animal, check):
                self._answer(animal, check, day)

    def _is_left_open(self, animal: AnimalState, check: PlannedCheck) -> bool:
        age = (self._world.book.today - check.due_on).days
        return animal.character.name in UNANSWERED and age <= LATEST_DAYS

    def _answer(self, animal: AnimalState, check: PlannedCheck, day: date) -> None:
        area = self._world.enclosures[animal.enclosure or ""].area
        is_sample = check.kind.startswith("faecal")
        is_normal, words = True, _CLEAR["faecal" if is_sample else check.kind]
        if is_sample and self._rng.random() < 0.25:
            is_normal, words = False, "Some roundworm eggs. Dose as the vet wrote; sample again."
        stamp = self._world.rota.afternoon(day, area, 20)
        if not is_sample and animal.weighed_on != day:
            self._weigh(animal, day)
        look = HealthLook(stamp, animal.code, "faecal" if is_sample else "exam", is_normal, words)
        check.answer = len(self._world.story.health)
        self._world.story.health.append(look)


_CLEAR = {
    "faecal": "No eggs, no flagellates.",
    "intake_exam": "Eyes and mouth clean, shell firm, weight taken. Photos filed.",
    "monthly_weighing": "Bright, skin and shell as last month.",
    "release_exam": "Sound. All samples clear.",
}
_UNUSUAL = (
    "Bubbles at the left nostril.",
    "Basks all day, does not dive.",
    "Scrape on the chin, clean.",
    "Faeces loose, some mucus.",
    "Swims with the right side high.",
)
_TREATMENTS = (
    "Wound cleaned, dry for four hours, ointment as the vet wrote.",
    "Wound smaller. Ointment.",
    "Clean and dry. Vitamin as the vet wrote.",
    "Healing well; back in full depth.",
)
_SEEN = (
    (True, "Shedding scutes, normal."),
    (True, "First time seen on the new ramp."),
    (True, "Dug in the sand, no eggs."),
    (True, "Takes food from others; fed apart."),
    (False, "Small white patch on the hind foot."),
    (False, "Claw torn, no bleeding."),
    (False, "One eye half shut in the morning, open by noon."),
)
