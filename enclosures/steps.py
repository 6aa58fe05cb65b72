"""What to do now about bad readings, in the order it is done, in words. Amounts are marks."""

from collections.abc import Iterable

from enclosures.help import ACUTE, CHANGED_SHARE, UNFED, Changes, Help, Trouble
from enclosures.limits import WORDS, beyond_words
from refuge.rules.triggers import days_text
from refuge.rules.words import amount

SIGNS = (
    "It gasps, cannot dive, floats to one side or lies limp.",
    "Eyes or skin are swollen, red or have sores.",
    "It has not eaten for days although the water is good again.",
)
# Common practice, no source: a quick change of pH harms more than a pH that is a little off.
LOW_PH = (
    "Do not lift pH quickly: the higher it is, the more of the ammonia harms. Test alkalinity and ammonia: where "
    "alkalinity is used up pH falls, and the bacteria of the filter slow down."
)
SOUR = (
    "This water is sour: acid keeps its ammonia harmless. Whatever lifts pH sets it free: much new water, bicarbonate, "
    "much air. Have the animals out, or bind the ammonia with a conditioner made for it, before you change water."
)
HIGH_PH = (
    "Add no acid. Test ammonia now: the higher pH is, the more of it harms. Look for lime in new stone or gravel, and "
    "in sun for algae, which lift pH by day."
)
# Common practice, no source.
MOVE_OUT = (
    "Move the animals out while this water is mended, if there is a place. A clean tub as warm as this water, shared "
    "with nobody: they breathe air, and shallow clean water will do for them meanwhile. The veterinarian decides."
)
AIR = "Check that the pump runs and water comes back over the overflow. Give all the air there is."
ROT = "Look for what uses up the oxygen. Something dead, left food, a stopped filter; warm water holds less of it."
NO_INFLOW = "Stop new water from running in. Close the tap, and find out where the chlorine came from."


def steps(help_: Help) -> list[tuple[str, str]]:
    """What to do, in order: (icon, words with marks of amounts)."""
    found = []
    if help_.is_grave:
        found.append(("vet", "Call the veterinarian now: these values may already have harmed the animals."))
    if help_.stale_days:
        found.append(("vial", f"Test first. The last reading is {days_text(help_.stale_days)} old."))
    if help_.is_grave or help_.is_sour:
        found.append(("move", MOVE_OUT))
    if help_.needs_air:
        found.append(("pump", AIR))
    if "oxygen" in help_.names:
        found.append(("eye", ROT))
    found += _chlorine_steps(help_)
    if help_.stop_feeding:
        found.append(("fish", "Do not feed until a test is good again; take out what was left."))
    found += _water_steps(help_)
    found += [
        ("vial", HIGH_PH if each.is_high_ph else LOW_PH) for each in help_.troubles if each.name == "ph"
    ]
    if help_.lacks_ph:
        found.append(("vial", _ph_words(help_.by_ph)))
    found.append(("vial", _retest_words(help_)))
    return found


def _ph_words(by_ph: float | None) -> str:
    """What pH would say of ammonia that was read without it."""
    if by_ph is None:
        return (
            "Read pH and temperature too. Without them nobody knows how much of the ammonia harms: the higher pH is, "
            "the more."
        )
    return (
        f"Read pH too. How much of the ammonia harms was reckoned with the pH of another test, {by_ph:.3g}."
    )


def _chlorine_steps(help_: Help) -> list[tuple[str, str]]:
    if "chlorine" not in help_.names:
        return []
    dose = (
        f"Take the chlorine out of the water: {help_.dose_g:.1f} g of sodium thiosulfate (pentahydrate), dissolved, by "
        "the return."
        if help_.dose_g
        else "Take the chlorine out of the water with conditioner, by its label: the volume of this water is not known."
    )
    freed = f" About {help_.freed:.2f} mg/L of ammonia nitrogen stays behind." if help_.freed else ""
    harmed = (
        "Write down what happened to the filter. Chlorine kills its bacteria: under “Something happened to it” on the "
        "filter's page, and watch ammonia and nitrite daily."
    )
    return [("drop", NO_INFLOW), ("bottle", dose + freed), ("filter", harmed)]


def _water_steps(help_: Help) -> list[tuple[str, str]]:
    """What new water and bicarbonate do about it; what was changed already."""
    found = []
    if help_.is_sour:
        found.append(("hazard", SOUR))
    if help_.renewed >= CHANGED_SHARE:
        found.append(("exchange", _renewed_words(help_)))
    found += _change_steps(help_)
    found += [
        ("exchange", words) for words in dict.fromkeys(_unmended_words(x, help_) for x in help_.unmended)
    ]
    if help_.bicarbonate:
        found.append(("bottle", help_.bicarbonate))
    return found


def _renewed_words(help_: Help) -> str:
    left = [
        f"{WORDS[each.name]} now about {each.now:.2g} {each.unit}".rstrip()
        for each in help_.troubles
        if each.now != each.value
    ]
    by_sums = f" By the sums: {', '.join(left)}." if left else ""
    return f"{help_.renewed:.0%} of the water was changed since that reading.{by_sums}"


def _change_steps(help_: Help) -> list[tuple[str, str]]:
    changes = help_.changes
    if changes is None:
        return []
    if_still = "If it still reads so, change" if help_.stale_days else "Change"
    when = "tomorrow" if help_.is_changed_today else "now"
    volume = f"{amount(changes.each_m3, 'volume')} {when} ({changes.share:.0%} of the water)"
    if not changes.each_m3:
        volume = f"{changes.share:.0%} of the water {when}"
    tested = ", each after a test" if help_.is_sour and changes.times > 1 else ""
    conditioner = changes.conditioner if changes.each_m3 else "Treat it by the label of what you use."
    warm = "As warm as the water in the tank, slowly."
    left = f" With this source {changes.left} may stay beyond its limit." if changes.left else ""
    return [
        (
            "exchange",
            f"{if_still} {volume}{_often(changes.times, help_.is_changed_today)}{tested}. {conditioner} {warm}{left}",
        )
    ]


def _often(times: int, from_tomorrow: bool) -> str:
    if times < 3:
        day = "the day after" if from_tomorrow else "tomorrow"
        return ("", f", and as much again {day}")[times - 1]
    return f", and as much again on each of the next {times - 1} days"


def _unmended_words(trouble: Trouble, help_: Help) -> str:
    """Why no change thins a reading, and what else there is. Common practice, no source."""
    is_ammonia = trouble.name in {"unionized", "tan"}
    what = "ammonia" if is_ammonia else WORDS[trouble.name]
    other = (
        " or a conditioner made to bind ammonia, by its label"
        if is_ammonia
        else "; plants and smaller meals lower it slowly"
    )
    return (
        f"Changing water does not thin the {what}. {help_.source_name} carries as much of it as this water does. "
        f"Take another source if there is one{other}."
    )


def at_once(help_: Help, changes: Changes) -> tuple[str, dict[str, float]]:
    """The change for whoever is sent to do it: what to do, in words, and what a form is filled in with."""
    sour = [SOUR] if help_.is_sour else []
    words = " ".join([*sour, *(step for _, step in _change_steps(help_))])
    if not changes.each_m3:
        return words, {}
    return words, {"volume_m3": round(changes.each_m3, 4), "conditioner_g": round(changes.conditioner_g, 2)}


def unfed_words(help_: Help | None) -> str:
    """Why animals in a water are not to be fed just now; empty when they may be."""
    if help_ is None or not help_.stop_feeding:
        return ""
    read = [each for each in help_.troubles if each.name in UNFED] or list(help_.troubles)
    return f"No food until a test is good: {read_words(read)}"


def read_words(troubles: Iterable[Trouble]) -> str:
    """Every one as `beyond_words` says it."""
    return "; ".join(
        beyond_words(each.words, each.value, each.unit, each.on, each.limit, each.is_least)
        for each in troubles
    )


def _retest_words(help_: Help) -> str:
    if "chlorine" in help_.names:
        return "Read chlorine again in a quarter of an hour, and daily ammonia and nitrite for a week."
    if "oxygen" in help_.names:
        return "Read oxygen again within the hour, once water flows and air is on, and again towards morning, when it is lowest."
    if help_.changes is not None and help_.names & ACUTE:
        return "Test again an hour after the change, and tomorrow before the next one."
    if help_.renewed >= CHANGED_SHARE and help_.names & ACUTE:
        return "Test again now: only a test ends this."
    return "Test again tomorrow; two good tests in a row end this."
