"""Short cautions shown where the work is. They advise; local codes and licensed people decide.

Key -> (hazard icon, text). Rules and recorders name the keys.
"""

from collections.abc import Iterable

CAUTIONS: dict[str, tuple[str, str]] = {
    "electricity": (
        "mains",
        "Mains beside water: dry hands, press the test button, reset. If it does not trip, unplug, keep people "
        "away and call a licensed electrician. Local electrical code applies.",
    ),
    "unplug": (
        "mains",
        "Unplug the pump before you reach in. The socket must have residual-current (ground-fault) protection.",
    ),
    "lifting": (
        "lift",
        "Water and wet stone are heavy: 20 L is 20 kg. Above 23 kg (51 lb) two people lift.",
    ),
    "bites": (
        "bite",
        "Keep hands away from the head. Large animals are handled by two people, never by a volunteer alone.",
    ),
    "hands": (
        "germ",
        "Gloves on; wash hands with soap for 20 seconds after. Turtles and their water carry Salmonella.",
    ),
    "slips": ("slip", "Wet floor: coil hoses, mop up, do not lean over deep water alone."),
    "dechlorinate": (
        "bottle",
        "Treat tap water before it meets animals or filter, however little. Never mix cleaning chemicals.",
    ),
    "one_layer": (
        "rinse",
        "Never all layers at once, and never in untreated tap water: rinse in a tub of the tank's own water, so "
        "that the bacteria live.",
    ),
    "foul_gas": (
        "hazard",
        "A smell of rotten eggs is hydrogen sulphide: it is poisonous and soon dulls the nose. Go away, let air in, "
        "never put your head into a container.",
    ),
    "quarantine_gear": (
        "quarantine",
        "Quarantine tools and gloves only; wash and change before you go back to other animals.",
    ),
    "vet": ("vet", "Release rests on cleared tests and the veterinarian's word, not on the date alone."),
}


def cautions_of(*groups: Iterable[str]) -> list[tuple[str, str]]:
    """The cautions of some work, each once, in the order they are named: [(icon, text)]."""
    return [CAUTIONS[key] for key in dict.fromkeys(key for group in groups for key in group)]
