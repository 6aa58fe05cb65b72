"""Two forecasts of one water in words: as it is, and as it would be. Plain Python.

Days count from 0, today. First comes what a keeper must know, with the first day of it; then its chance.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from filtration.forecast import Span
from filtration.forecasting.limits import ACUTE
from filtration.what_if.compare import AT_RISK, CARE, GRAVE, Course, Side

NOT_READ = 0.0005
SURE = 0.98
NO_DIFFERENCE = "No difference that matters for the water"
ALL_WELL = "Everything stays within its limits for two weeks, as far as can be told"
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, slots=True)
class Verdict:
    """The whole in a few words. kind: a state of the look; more: what else there is to say, or empty."""

    kind: str
    words: str
    more: str = ""


def chance_text(chance: float) -> str:
    """A chance as the page of the forecast says it: '80 %', 'under 1 %', 'more than 98 %'; nobody is ever quite sure."""
    kept = round(chance, 3)  # so many digits are stored of a forecast
    if kept < 0.01:
        return "under 1\u00a0%"
    return "more than 98\u00a0%" if kept > SURE else f"{kept * 100:.0f}\u00a0%"


def days_text(days: float) -> str:
    """Expected days: '4.1 days', '1.0 day', 'none'."""
    if days < 0.05:
        return "none"
    return "1.0 day" if f"{days:.1f}" == "1.0" else f"{days:.1f} days"


def day_words(day: int, today: date) -> str:
    """'today', 'tomorrow', 'on Friday', 'on 4 Mar', as the page of the forecast says it."""
    on = today + timedelta(days=day)
    if day <= 1:
        return ("today", "tomorrow")[day]
    return f"on {WEEKDAYS[on.weekday()]}" if day < 7 else f"on {on.day} {on:%b}"


def value_text(value: float) -> str:
    """A concentration or a pH as it is said, two digits; what no kit could read is 0."""
    if abs(value) < NOT_READ:
        return "0"
    return f"{value:.2g}" if abs(value) < 10 else f"{value:.0f}"


def swing_text(side: Side) -> str:
    """'0.02 to 0.09': lowest and highest of the middle forecast in the second week."""
    low, high = (value_text(value) for value in side.swing)
    return low if low == high else f"{low} to {high}"


def sentence(course: Course, today: date, *, is_changed: bool) -> str:
    """One quantity in a sentence, the changed water first: the first day worth care, then its chance."""
    limit = f"{course.limit:.3g} {course.bound.unit}".strip()
    side = course.after if is_changed else course.before
    stays = f"stays {'above' if course.bound.is_least else 'below'} {limit}"
    if side.is_calm:
        return f"{stays}{_else(course, today) if is_changed else ''}."
    beyond = f"{course.passes} {limit} {_when(side, today)}"
    if not is_changed:
        return f"{beyond}."
    was = "within it" if course.before.is_calm else _chances(course.before, today)
    return f"{beyond}; before: {was}.{_swings(course)}"


def _when(side: Side, today: date) -> str:
    """'tomorrow: chance 12 %, 80 % on Friday'."""
    chance = chance_text(float(side.chances[side.first_day]))
    return f"{day_words(side.first_day, today)}: chance {chance}{_worst(side, today)}"


def _chances(side: Side, today: date) -> str:
    """'chance 12 % tomorrow, 80 % on Friday'."""
    chance = chance_text(float(side.chances[side.first_day]))
    return f"chance {chance} {day_words(side.first_day, today)}{_worst(side, today)}"


def _worst(side: Side, today: date) -> str:
    if side.worst_chance - side.chances[side.first_day] < CARE:
        return ""
    return f", {chance_text(side.worst_chance)} {day_words(side.worst_day, today)}"


def _else(course: Course, today: date) -> str:
    """What was, where it stays within its limit with the change."""
    if not course.before.is_calm:
        return f"; before: {_chances(course.before, today)}"
    if course.verdict == "same":
        return ", before and after"
    after, before = (value_text(side.extreme) for side in (course.after, course.before))
    return f"; at its {'lowest' if course.bound.is_least else 'highest'} about {after}, before {before}"


def _swings(course: Course) -> str:
    new, old = (swing_text(side) for side in (course.after, course.before))
    if new == old or (course.verdict == "same" and not course.evenness):
        return ""
    return f" In the second week about {new}, before {old}."


def leading(found: Sequence[Course], *, is_changed: bool) -> Course | None:
    """The quantity to show first: what the verdict is about, else what comes nearest to a danger."""
    if not found:
        return None
    sides = _by_verdict(found)
    first = "better" if _only_nearer(sides) or not sides["worse"] else "worse"
    told = sides[first] if is_changed else _at_risk(found)
    return (
        told[0]
        if told
        else max(found, key=lambda each: max(each.after.worst_chance, each.before.worst_chance))
    )


def verdict(found: Sequence[Course], today: date, *, is_changed: bool) -> Verdict:
    """The whole in a few words: what gets worse, what gets better, or what the water is heading for as it is."""
    if not is_changed:
        return _as_it_is(found, today)
    sides = _by_verdict(found)
    if sides["worse"] and not _only_nearer(sides):
        kind = "act" if any(each.after.is_likely for each in sides["worse"]) else "watch"
        words = f"Worse: {_worse(sides['worse'][0], today)}"
        return Verdict(kind, words, f"{_also(sides, 'worse')} {_evener(found)}".strip())
    if sides["better"]:
        words = f"Better: {_better(sides['better'][0])}"
        return Verdict("good", words, f"{_also(sides, 'better')} {_evener(found)}".strip())
    return Verdict("good", NO_DIFFERENCE, _evener(found))


def verdict_on_part(part: Sequence[Course], whole: Verdict, today: date) -> Verdict:
    """The verdict of a water of which a part is split off: a part in danger goes before what the rest gains."""
    risky = endangered(part)
    if not risky:
        return whole
    words = f"What is split off: {_likely(risky[0], risky[0].after, today)}, for {_of_days(risky[0].after)}"
    return Verdict("act", words, f"The water that stays. {whole.words}. {whole.more}".strip())


def endangered(part: Sequence[Course]) -> list[Course]:
    """What is likely beyond its limit in what is split off, and was less so in the whole water; the gravest first."""
    return sorted((each for each in part if each.after.is_likely and each.verdict == "worse"), key=_gravity)


def _by_verdict(found: Sequence[Course]) -> dict[str, list[Course]]:
    return {
        word: sorted((each for each in found if each.verdict == word), key=_gravity)
        for word in ("worse", "better")
    }


def _only_nearer(sides: dict[str, list[Course]]) -> bool:
    """Whether what gets worse only comes nearer to its limit, while something is in danger less than before."""
    is_nearer = all(each.telling[0] == "value" for each in sides["worse"])
    return is_nearer and any(each.telling[0] != "value" for each in sides["better"])


def _gravity(course: Course) -> tuple[bool, bool, int, float]:
    """What is told first: what is likely beyond its limit, of that what harms at once, then what is beyond it longest."""
    sides = (course.before, course.after)
    is_likely = any(side.is_likely for side in sides)
    kind = ("days", "chance", "value").index(course.telling[0] or "value")
    longest = max(side.days_beyond for side in sides)
    return not is_likely, course.bound.quantity not in ACUTE, kind, -longest


def _as_it_is(found: Sequence[Course], today: date) -> Verdict:
    risky = _at_risk(found)
    if not risky:
        return Verdict("good", ALL_WELL)
    side = risky[0].before
    words = _likely(risky[0], side, today) if side.is_likely else _maybe(risky[0], side, today)
    more = f"At risk too: {_named(risky[1:])}." if risky[1:] else ""
    return Verdict("act" if side.is_likely else "watch", sentence_start(words), more)


def sentence_start(words: str) -> str:
    """The name of a quantity at the start of a sentence: pH keeps its spelling."""
    return words if words.startswith("pH") else words[:1].upper() + words[1:]


def _at_risk(found: Sequence[Course]) -> list[Course]:
    """What is at risk as the water is, the gravest first."""
    return sorted((each for each in found if each.before.worst_chance >= AT_RISK), key=_gravity)


def _likely(course: Course, side: Side, today: date) -> str:
    """'nitrite is likely too high from Friday'; 'on Friday' where it is for one day only."""
    day = day_words(side.likely_from, today)
    when = day if int((side.chances >= GRAVE).sum()) == 1 else f"from {day.removeprefix('on ')}"
    return f"{course.bound.words} is likely too {_end(course)} {when}"


def _maybe(course: Course, side: Side, today: date) -> str:
    """'nitrite may be too high from Friday, chance up to 30 %'."""
    from_ = day_words(side.first_day, today).removeprefix("on ")
    return f"{course.bound.words} may be too {_end(course)} from {from_}, chance up to {chance_text(side.worst_chance)}"


def _end(course: Course) -> str:
    return "low" if course.bound.is_least else "high"


def _worse(course: Course, today: date) -> str:
    """The first of them with its day and its number."""
    if course.telling[0] == "value":
        return _peaks(course)
    before = chance_text(course.before.worst_chance)
    if not course.after.is_likely:
        maybe = _maybe(course, course.after, today)
        if before != chance_text(course.after.worst_chance):
            return f"{maybe}; before {before}"
        return f"{maybe}, in all for {_of_days(course.after)}; before {_days(course.before)}"
    words = _likely(course, course.after, today)
    if course.telling[0] == "chance":
        return f"{words}, chance up to {chance_text(course.after.worst_chance)}; before {before}"
    return f"{words}, for {_of_days(course.after)}; before {_days(course.before)}"


def _better(course: Course) -> str:
    if course.telling[0] == "value":
        return _peaks(course)
    name, end = course.bound.words, _end(course)
    if _days(course.after) == "none" and _days(course.before) != "none":
        return f"{name} stays within its limit; before too {end} for {_of_days(course.before)}"
    if course.telling[0] == "days":
        return f"{name} is too {end} for {_of_days(course.after)}; before {_days(course.before)}"
    after, before = (chance_text(side.worst_chance) for side in (course.after, course.before))
    return f"{name} is too {end} with a chance of {after}; before {before}"


def _peaks(course: Course) -> str:
    after, before = (value_text(side.extreme) for side in (course.after, course.before))
    return f"{course.bound.words} about {after} at its {'lowest' if course.bound.is_least else 'highest'}; before {before}"


def _evener(found: Sequence[Course]) -> str:
    """The first quantity that swings less between meals, and rises no higher, once the old meals are gone."""
    first = next(
        (
            each
            for each in found
            if each.evenness == "evener" and each.verdict != "worse" and each.is_no_higher_later
        ),
        None,
    )
    if first is None:
        return ""
    new, old = (swing_text(side) for side in (first.after, first.before))
    return f"Evener in the second week: {first.bound.words} {new}, before {old}."


def _days(side: Side) -> str:
    if side.days_beyond < 0.05:
        return "none"
    return f"{side.days_beyond:.0f}" if side.days_beyond >= 9.95 else f"{side.days_beyond:.1f}"


def _of_days(side: Side) -> str:
    """'9.3 of 14 days'."""
    return f"{_days(side)} of {len(side.chances)} days"


def _also(sides: dict[str, list[Course]], said: str) -> str:
    """Everything but what was said first."""
    left = {word: some[1:] if word == said else some for word, some in sides.items()}
    heads = {"worse": "Worse" if said == "better" else "Also worse", "better": "Better"}
    heads["better"] = "Also better" if said == "better" else "Better"
    return " ".join(f"{heads[word]}: {_named(some)}." for word, some in left.items() if some)


def _named(found: Iterable[Course]) -> str:
    return ", ".join(dict.fromkeys(each.bound.words for each in found))


def mature_words(days: Span | None, within: int) -> str:
    """'5 to 18 days, most likely about 10'; what a young filter is told to take on a plan."""
    if days is None:
        return "no meal planned, so nothing to grow on"
    if days.middle is None or days.early is None:
        return f"perhaps not within {within} days"
    late = f"{days.late:.0f}" if days.late is not None else f"more than {within}"
    return f"{days.early:.0f} to {late} days, most likely about {days.middle:.0f}"


def given_words(shares: tuple[float | None, float | None]) -> str:
    """'Today: 30 % of the meal; before: no food.'; empty where a meal may be given as planned before and after.

    shares: before and after; None without a plan.
    """
    before, after = ("no plan" if share is None else _share_text(share) for share in shares)
    if all(share in (None, 1.0) for share in shares):
        return ""
    return f"Today: {after}; before: {before}."


def _share_text(share: float) -> str:
    return {0.0: "no food", 1.0: "the whole meal"}.get(share, f"{share * 100:.0f}\u00a0% of the meal")
