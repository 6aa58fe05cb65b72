"""What to do now about bad readings, in the order it is done, in words. Amounts are marks."""

from collections.abc import Iterable

from enclosures.help import ACUTE, UNFED, Changes, Help, Trouble
from enclosures.limits import WORDS, beyond_words
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
HIGH_PH = (
    "Add no acid. Test ammonia now: the higher pH is, the more of it harms. Look for lime in new stone or gravel, and "
    "in sun for algae, which lift pH by day."
)


def steps(help_: Help) -> list[tuple[str, str]]:
    """What to do, in order: (icon, words with marks of amounts)."""
    found = []
    if help_.is_grave:
        found.append(("vet", "Call the veterinarian now: these values may already have harmed the animals."))
    if help_.needs_air:
        found.append(
            (
                "pump",
                "Check that the pump runs and water comes back over the overflow. Give all the air there is.",
            )
        )
    if help_.dose_g:
        found.append(
            (
                "bottle",
                f"Take the chlorine out of the water: {help_.dose_g:.1f} g of sodium thiosulfate (pentahydrate), dissolved, by the return.",
            )
        )
    if help_.stop_feeding:
        found.append(("fish", "Do not feed until a test is good again; take out what was left."))
    found += _change_steps(help_.changes)
    found += [("exchange", _unmended_words(each, help_)) for each in help_.unmended]
    if help_.bicarbonate:
        found.append(("bottle", help_.bicarbonate))
    found += [
        ("vial", HIGH_PH if each.is_high_ph else LOW_PH) for each in help_.troubles if each.name == "ph"
    ]
    found.append(("vial", _retest_words(help_)))
    return found


def _change_steps(changes: Changes | None) -> list[tuple[str, str]]:
    if changes is None:
        return []
    often = (
        ("", ", and as much again tomorrow")[changes.times - 1]
        if changes.times < 3
        else (f", and as much again on each of the next {changes.times - 1} days")
    )
    once = f"Change {amount(changes.each_m3, 'volume')} now ({changes.share:.0%} of the water){often}."
    warm = "As warm as the water in the tank, slowly."
    left = f" With this source {changes.left} may stay beyond its limit." if changes.left else ""
    return [("exchange", f"{once} {changes.conditioner} {warm}{left}")]


def _unmended_words(trouble: Trouble, help_: Help) -> str:
    """Why no change thins a reading, and what else there is. Common practice, no source."""
    what = "ammonia" if trouble.name == "unionized" else WORDS[trouble.name]
    other = (
        " or a conditioner made to bind ammonia, by its label"
        if trouble.name == "unionized"
        else "; plants and smaller meals lower it slowly"
    )
    return (
        f"Changing water does not thin the {what}. {help_.source_name} carries as much of it as this water does. "
        f"Take another source if there is one{other}."
    )


def at_once(changes: Changes) -> tuple[str, dict[str, float]]:
    """The change for whoever is sent to do it: what to do, in words, and what a form is filled in with."""
    words = " ".join(step for _, step in _change_steps(changes))
    return words, {"volume_m3": round(changes.each_m3, 4), "conditioner_g": round(changes.conditioner_g, 2)}


def unfed_words(help_: Help | None) -> str:
    """Why animals in a water are not to be fed just now; empty when they may be."""
    if help_ is None or not help_.stop_feeding:
        return ""
    read = [each for each in help_.troubles if each.name in UNFED]
    return f"No food until a test is good: {read_words(read)}"


def read_words(troubles: Iterable[Trouble]) -> str:
    """Every one as `beyond_words` says it."""
    return "; ".join(
        beyond_words(each.words, each.value, each.unit, each.on, each.limit, each.is_least)
        for each in troubles
    )


def _retest_words(help_: Help) -> str:
    if help_.changes is not None and help_.names & ACUTE:
        return "Test again an hour after the change, and tomorrow before the next one."
    return "Test again tomorrow; two good tests in a row end this."
