"""The animals of the demo refuge and the paths they take through it. All are invented.

Days are relative to today, except for what belongs to a season, which is looked up in the calendar.
"""

import random
from dataclasses import dataclass
from datetime import date

from refuge.demo.daybook import Daybook
from refuge.demo.kinds import KINDS

SEIZED = "Seized with others from a roadside pen"
GIVEN_UP = "Given up by a private keeper"
INJURED = "Found injured beside a road"
COLLECTION = "Taken over from a collection that closed"
HATCHED = "Hatched here from a seized clutch"
POND_DREDGED = "Rescued from a pond that was dredged"
ORIGINS = (SEIZED, GIVEN_UP, COLLECTION, POND_DREDGED)

BEGINNING = "Where it was when these records began"
MARKS = (
    "Old chip in the third marginal shield, left",
    "Pale scar over the right eye",
    "Tip of tail missing",
    "Two notches in the rear edge of the shell",
    "Dark blot on the second vertebral shield",
    "Left hind foot with four claws",
    "Healed crack across the last shield, right",
    "Worn ridge in the middle of the back",
    "Yellow fleck behind the left ear patch",
    "Scute pattern in the photo; no other marks",
)


@dataclass(frozen=True, slots=True)
class Stay:
    on: date
    enclosure: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Character:
    """One animal. `mass_kg` is its weight at its first stay; `leaves` is (day, status, finding)."""

    name: str
    kind: str
    sex: str
    mass_kg: float
    final_kg: float
    arrived: date
    stays: tuple[Stay, ...]
    origin: str = COLLECTION
    marks: str = ""
    condition: str = ""
    hatched: date | None = None
    quarantine_days: int | None = None
    leaves: tuple[date, str, str] | None = None
    note: str = ""


def cast(daybook: Daybook, seed: int) -> dict[str, Character]:
    """All animals by code, numbered in the order in which they came."""
    rng = random.Random(f"{seed}:cast")
    everyone = [
        *_deep_tank_animals(daybook),
        *_quarantined(daybook),
        *_hall_animals(daybook),
        *_pond_animals(daybook, rng),
        *_young(daybook, rng),
        *_gone(daybook),
    ]
    everyone.sort(key=lambda each: (each.arrived, each.name))
    return {f"OM{number:03d}": each for number, each in enumerate(everyone, start=1)}


def _stays(daybook: Daybook, *path: tuple[int, str, str]) -> tuple[Stay, ...]:
    return tuple(Stay(daybook.day(offset), where, why) for offset, where, why in path)


def _resident(
    daybook: Daybook, name: str, kind: str, sex: str, mass: float, where: str, arrived: int, **more: object
) -> Character:
    """Somebody who was here before the records began and has not moved since."""
    final = max(KINDS[kind].adult_kg * 0.9, mass * 1.04)
    stays = (Stay(daybook.first, where, BEGINNING),)
    return Character(name, kind, sex, mass, final, daybook.day(arrived), stays, **more)  # type: ignore[arg-type]


def _deep_tank_animals(book: Daybook) -> list[Character]:
    """The heavy ones of the deep tanks, most of whom came through quarantine."""
    return [
        _resident(book, "Old Moss", "alligator", "male", 52.0, "R7", -3900, marks="Moss grows on his back"),
        Character(
            "Cobble", "alligator", "male", 49.0, 53.0, book.day(-480),
            _stays(book, (-480, "Q7", "Arrival"), (-112, "R8", "Out of quarantine")),
            SEIZED, MARKS[3], "Thin, shell sound", quarantine_days=365,
        ),
        Character(
            "Hob", "alligator", "male", 46.5, 51.0, book.day(-392),
            _stays(book, (-392, "Q1", "Arrival"), (-24, "R9", "Out of quarantine")),
            GIVEN_UP, MARKS[0], "Well fed, overgrown beak", quarantine_days=365,
        ),
    ]  # fmt: skip


def _quarantined(book: Daybook) -> list[Character]:
    """Those in quarantine now, and those released from it in these eighteen months."""
    return [
        Character(
            "Anvil", "alligator", "male", 31.0, 44.0, book.day(-9),
            _stays(book, (-9, "Q4", "Arrival")),
            SEIZED, MARKS[2], "Leeches in both armpits, old hook wound in the jaw, strong", quarantine_days=365,
            note="Came four weeks earlier than agreed: the filter of setup C is still young.",
        ),
        Character(
            "Boulder", "alligator", "male", 53.9, 60.0, book.day(-96),
            _stays(book, (-96, "Q7", "Arrival")), GIVEN_UP, MARKS[9], "Sound, heavy", quarantine_days=365,
        ),
        Character(
            "Marl", "alligator", "female", 19.5, 23.0, book.day(-358),
            _stays(book, (-358, "Q5", "Arrival")), SEIZED, MARKS[4], "Thin, mites of algae only",
            quarantine_days=365, note="Wanted for the main pond, once it is warm.",
        ),
        Character(
            "Pike", "alligator", "male", 26.0, 36.0, book.day(-260),
            _stays(book, (-260, "Q2", "Arrival")), POND_DREDGED, MARKS[1], "Cut on the left fore leg",
            quarantine_days=365,
        ),
        Character(
            "Gudgeon", "alligator", "male", 26.5, 36.0, book.day(-700),
            _stays(book, (-548, "Q2", BEGINNING), (-330, "R6", "Out of quarantine")),
            SEIZED, MARKS[5], "Boat strike, healing", quarantine_days=365,
        ),
        Character(
            "Skerry", "florida", "male", 7.5, 9.0, book.day(-740),
            _stays(book, (-548, "Q5", BEGINNING), (-372, "R1", "Out of quarantine")),
            GIVEN_UP, MARKS[9], quarantine_days=365,
        ),
        Character(
            "Dab", "slider", "female", 1.7, 2.3, book.day(-790),
            _stays(book, (-548, "Q6", BEGINNING), (-421, "R10", "Out of quarantine")),
            GIVEN_UP, MARKS[0], quarantine_days=365,
        ),
        Character(
            "Fleck", "slider", "male", 0.9, 1.2, book.day(-790),
            _stays(book, (-548, "Q6", BEGINNING), (-421, "R10", "Out of quarantine")),
            GIVEN_UP, MARKS[4], quarantine_days=365,
        ),
    ]  # fmt: skip


def _hall_animals(book: Daybook) -> list[Character]:
    """Residents of the hall; some have been to the sick bay and back."""
    return [
        Character(
            "Tuck", "snapper", "male", 10.4, 12.0, book.day(-1900),
            _stays(
                book, (-548, "R4", BEGINNING), (-150, "H1", "Abscess behind the ear"), (-131, "R4", "Healed")
            ),
            INJURED, MARKS[1],
        ),
        _resident(book, "Nan", "snapper", "female", 8.2, "R5", -2600, marks=MARKS[2], origin=GIVEN_UP),
        _resident(book, "Lagoon", "florida", "female", 13.2, "R1", -1300, marks=MARKS[9], origin=GIVEN_UP),
        _resident(book, "Willow", "spiny", "female", 5.1, "R2", -1650, marks=MARKS[6]),
        Character(
            "Ripple", "spiny", "male", 2.1, 2.4, book.day(-1200),
            _stays(
                book, (-548, "R2", BEGINNING), (-300, "H1", "Does not eat, floats askew"), (-272, "R2", "Eats")
            ),
            INJURED, MARKS[3],
        ),
        *(
            _resident(book, name, "pignosed", sex, mass, "R3", -1000, marks=mark, origin=SEIZED)
            for name, sex, mass, mark in (
                ("Kite", "female", 8.8, MARKS[1]), ("Dove", "female", 7.9, MARKS[5]),
                ("Finch", "male", 6.7, MARKS[3]),
            )
        ),
    ]  # fmt: skip


def _pond_animals(book: Daybook, rng: random.Random) -> list[Character]:
    """The herd outdoors. Nettle is in the sick bay for now."""
    herd = [
        ("Bracken", "alligator", "female", 22.0, "P1"), ("Burdock", "alligator", "male", 37.0, "P1"),
        ("Sedge", "alligator", "female", 19.0, "P1"), ("Dock", "snapper", "male", 9.6, "P1"),
        ("Rook", "alligator", "male", 28.0, "P1"), ("Alder", "alligator", "male", 33.0, "P1"),
        ("Clover", "cooter", "female", 4.1, "P2"), ("Comfrey", "cooter", "female", 3.6, "P2"),
        ("Teasel", "cooter", "male", 2.4, "P2"), ("Tansy", "slider", "female", 2.1, "P2"),
        ("Sorbus", "slider", "male", 0.9, "P2"), ("Betony", "slider", "female", 1.9, "P2"),
        ("Yarrow", "slider", "female", 1.6, "P2"), ("Rush", "spiny", "female", 4.8, "P3"),
        ("Reedmace", "spiny", "female", 4.2, "P3"), ("Flag", "spiny", "male", 1.9, "P3"),
        ("Mallow", "slider", "female", 1.8, "P4"), ("Vetch", "slider", "female", 1.5, "P4"),
        ("Medick", "slider", "male", 0.8, "P4"), ("Lucerne", "slider", "female", 1.2, "P4"),
    ]  # fmt: skip
    pond = [
        _resident(
            book, name, kind, sex, mass, where, rng.randrange(-3000, -620),
            marks=rng.choice(MARKS), origin=rng.choice(ORIGINS),
        )
        for name, kind, sex, mass, where in herd
    ]  # fmt: skip
    nettle = Character(
        "Nettle", "slider", "female", 2.0, 2.3, book.day(-1100),
        _stays(book, (-548, "P2", BEGINNING), (-12, "H1", "Soft, pitted shell")), GIVEN_UP, MARKS[8],
    )  # fmt: skip
    return [*pond, nettle]


def _young(book: Daybook, rng: random.Random) -> list[Character]:
    """The nursery: two clutches hatched here, and older youngsters."""
    cooters, snappers = book.latest(9, 5, at_least_ago=300), book.latest(8, 28, at_least_ago=60)
    young = _clutch(book, rng, _COOTERS, "cooter", 0.010, cooters, "N1")
    young += _clutch(book, rng, _SNAPPERS, "snapper", 0.009, snappers, "N2")
    for name, mass in (("Pip", 1.3), ("Sprat", 1.1), ("Minnow", 0.9), ("Elver", 1.5)):
        young.append(_youngster(book, rng, name, "alligator", mass, 30.0, -1250, "N3"))
    for name, mass in (("Button", 0.16), ("Cricket", 0.13), ("Midge", 0.19)):
        young.append(_youngster(book, rng, name, "slider", mass, 1.9, -900, "N4"))
    return young


_COOTERS = ("Aster", "Basil", "Cumin", "Dill", "Endive", "Fennel")
_SNAPPERS = ("Garnet", "Hazel", "Jasper", "Onyx", "Opal", "Topaz")


def _clutch(
    book: Daybook, rng: random.Random, names: tuple[str, ...], kind: str, mass: float, on: date, where: str
) -> list[Character]:
    began = max(on, book.first)
    reason = "Hatched" if on >= book.first else BEGINNING
    mass *= 1 + 4 * (began - on).days / 100  # a clutch from before the records has grown a little by then
    return [
        Character(
            name, kind, "unknown", round(mass * rng.uniform(0.85, 1.15), 4),
            KINDS[kind].adult_kg * rng.uniform(0.8, 1.2), on, (Stay(began, where, reason),),
            HATCHED, f"Paint dot {number} on the shell; photo monthly", hatched=on,
        )
        for number, name in enumerate(names, start=1)
    ]  # fmt: skip


def _youngster(
    book: Daybook,
    rng: random.Random,
    name: str,
    kind: str,
    mass: float,
    final: float,
    hatched: int,
    where: str,
) -> Character:
    on = book.day(hatched)
    stays = (Stay(book.first, where, BEGINNING),)
    return Character(name, kind, "unknown", mass, final, on, stays, HATCHED, rng.choice(MARKS), hatched=on)


def _gone(book: Daybook) -> list[Character]:
    """Those who left: died, given to another keeper, or released."""
    summer, spring = book.latest(6, 2, at_least_ago=30), book.latest(5, 12, at_least_ago=60)
    return [
        Character(
            "Teal", "alligator", "female", 15.5, 20.0, book.day(-199), _stays(book, (-199, "Q3", "Arrival")),
            POND_DREDGED, MARKS[7], "Weak, sunken eyes, does not eat", quarantine_days=365,
            leaves=(book.day(-93), "died", "Found dead. Necropsy: old liver damage, nothing infectious."),
        ),
        Character(
            "Flint", "alligator", "male", 41.0, 43.0, book.day(-4200), _stays(book, (-548, "R9", BEGINNING)),
            COLLECTION, MARKS[2], leaves=(book.day(-60), "died", "Died in the night. Very old; heart failure."),
        ),
        Character(
            "Tarn", "alligator", "male", 35.0, 42.0, book.day(-2100), _stays(book, (-548, "R8", BEGINNING)),
            COLLECTION, MARKS[6],
            leaves=(book.day(-113), "transferred", "Given to another refuge, in the tank van."),
        ),
        Character(
            "Sorrel", "alligator", "male", 31.5, 38.0, book.day(-775), _stays(book, (-548, "Q1", BEGINNING)),
            COLLECTION, MARKS[8], quarantine_days=365,
            leaves=(book.day(-407), "transferred", "Given to another refuge after a clean quarantine."),
        ),
        Character(
            "Wick", "slider", "male", 1.0, 1.2, book.day(-395), _stays(book, (-395, "Q6", "Arrival")),
            GIVEN_UP, MARKS[5], "Pale gums, otherwise well", quarantine_days=365,
            leaves=(book.day(-16), "transferred", "Given to another keeper after a clean quarantine."),
        ),
        Character(
            "Bindweed", "slider", "female", 1.7, 2.1, book.day(-1300),
            (Stay(book.first, "P4", BEGINNING),), GIVEN_UP, MARKS[0],
            leaves=(max(spring, book.day(-500)), "transferred", "Given to another keeper."),
        ),
        Character(
            "Mote", "slider", "unknown", 0.11, 1.8, book.day(-880), (Stay(book.first, "N4", BEGINNING),),
            HATCHED, "Paint dot 4", hatched=book.day(-880),
            leaves=(book.day(-400), "died", "Found dead on the ramp; had stopped growing in autumn."),
        ),
        *(
            Character(
                name, "cooter", "unknown", mass, 4.0, book.day(-1290), (Stay(book.first, "N4", BEGINNING),),
                HATCHED, mark, hatched=book.day(-1290),
                leaves=(summer, "released", "Released at the site agreed with the wildlife office."),
            )
            for name, mass, mark in (("Thrift", 0.42, "Paint dot 1"), ("Sorghum", 0.47, "Paint dot 2"))
        ),
    ]  # fmt: skip
