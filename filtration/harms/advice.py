"""What to do after something happened to a filter, in order: pairs of an icon and words. Common practice, no source.

It advises; whoever looks after the animals decides, and the veterinarian about every medicine.
"""

from filtration.survival import Left
from refuge.rules.words import amount

Step = tuple[str, str]
FOUL_HOURS = 2.0  # a bed that stood longer has used up its oxygen
LONG_HOURS = 12.0
MUCH_LEFT = 0.8
LITTLE_LEFT = 0.4


def steps(
    kind: str, left: Left, *, quiet_tests: int, hours: float | None = None, volume_m3: float | None = None
) -> list[Step]:
    """What to do now. quiet_tests: near-zero tests in a row that end it; hours: how long it lasted; volume_m3: of the
    untreated water."""
    return [*_first(kind, hours or 0.0, volume_m3), *_after(left, quiet_tests)]


def first_share(left: float) -> float:
    """Share of the planned meals to begin with once a test is good, where so much (0 to 1) of the bacteria was left."""
    return 0.5 if left > LITTLE_LEFT else 0.25


def first_meals(left: float) -> str:
    """The same in words."""
    return f"about {'half' if first_share(left) == 0.5 else 'a quarter'} of the plan"


def _first(kind: str, hours: float, volume_m3: float | None) -> list[Step]:
    own = {
        "no_flow": _standing,
        "dry": lambda _: _DRY,
        "medicine": lambda _: _MEDICINE,
        "frost": lambda _: _FROST,
        "heat": lambda _: _HEAT,
    }
    return _chlorine(volume_m3) if kind == "chlorine" else list(own[kind](hours))


def _standing(hours: float) -> list[Step]:
    found: list[Step] = []
    if hours >= FOUL_HOURS:
        long = " After so long expect it to smell." if hours >= LONG_HOURS else ""
        found.append(
            (
                "drain",
                "Flush the bed before its water goes back to the animals. Standing media use up their oxygen, and the water "
                "in them may be foul and hold hydrogen sulphide: drain the void, then let the first water run to "
                f"waste until it is clear.{long} If it is running again already, change part of the water today.",
            )
        )
    found.append(
        (
            "pump",
            "Find out why it stopped. Unplug it; look at plug, strainer and hoses. If a protective device tripped and "
            "trips again, leave it off and call a licensed electrician.",
        )
    )
    return found


def _chlorine(volume_m3: float | None) -> list[Step]:
    much = f"at least for the {amount(volume_m3, 'volume')} that got in" if volume_m3 else "for all of it"
    return [
        (
            "bottle",
            f"Treat the water now. Conditioner {much}, in the amount its maker gives. Do not wait for the test, and let "
            "no more untreated water in.",
        ),
        (
            "vial",
            "Read total chlorine after a quarter of an hour. While any is left, add more; look at the animals' eyes and "
            "breathing, and call the veterinarian if they seem unwell.",
        ),
    ]


_MEDICINE: list[Step] = [
    (
        "vet",
        "Ask the veterinarian what comes next. Do not stop a treatment, repeat it or add anything on your own because of the "
        "filter.",
    ),
    (
        "quarantine",
        "Ask whether the animal can be treated in a tank of its own. Then the filter of this water is spared.",
    ),
]
_DRY: list[Step] = [
    (
        "exchange",
        "Wet the media again with the water of their own tank. Never under the tap; slowly, and look for the leak "
        "or the level that let it fall dry.",
    ),
    (
        "drain",
        "Let the first water run to waste. What died in the bed comes loose and feeds the water with ammonia: drain the "
        "void once it is covered again, until it runs clear.",
    ),
]
_FROST: list[Step] = [
    ("pump", "Leave the pump off until all ice is gone. A pump against ice runs dry or bursts a hose."),
    (
        "leak",
        "Let it thaw slowly and look for cracks. No hot water, no flame; check container, fittings and hoses for leaks "
        "before it runs again.",
    ),
]
_HEAT: list[Step] = [
    (
        "heat",
        "Shade it and cool the water slowly. A few degrees an hour at most; keep the flow up, since warm water holds little "
        "oxygen.",
    ),
]


def _after(left: Left, quiet_tests: int) -> list[Step]:
    air = (
        "pump",
        "Air the water. What is left of the filter needs oxygen, and so do the animals: more fall or an air pump.",
    )
    return [air, ("fish", _food(left)), ("vial", _test(left, quiet_tests))]


def _food(left: Left) -> str:
    if left.middle > MUCH_LEFT:
        return "Feed sparingly until tomorrow's test. Little was lost, most likely, but the range is wide."
    if left.middle > LITTLE_LEFT:
        return (
            "Give no food until tomorrow's test. If ammonia and nitrite are near zero then, begin with "
            f"{first_meals(left.middle)}, and go on by the tests. Healthy grown turtles bear a few days without food; ask about young or sick ones."
        )
    return (
        "Give no food until a test is good. Most of the filter is lost, so it starts almost anew: begin with "
        f"{first_meals(left.middle)}, and go on by the tests. Ask the veterinarian about young or sick animals."
    )


def _test(left: Left, quiet_tests: int) -> str:
    often = "tomorrow" if left.middle > MUCH_LEFT else "tomorrow and every day"
    return (
        f"Test ammonia, nitrite and pH {often}. Nitrite may rise days after ammonia: only {quiet_tests} near-zero "
        f"test{'s in a row say' if quiet_tests > 1 else ' says'} that it is over."
    )
