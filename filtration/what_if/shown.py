"""An outlook as its page shows it: words first, then drawings, then the same as a table."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from filtration.forecast.ensemble import MEMBERS
from filtration.forecast.inputs import BED_OXYGEN_HOURS, RINSE_LOSS
from filtration.forecasting.young import WITHIN_DAYS
from filtration.what_if.ahead import Outlook, Water
from filtration.what_if.compare import CARE, Course
from filtration.what_if.drawing import Sketch, sketch
from filtration.what_if.signs import Sign
from filtration.what_if.telling import (
    Verdict,
    chance_text,
    days_text,
    endangered,
    given_words,
    leading,
    mature_words,
    sentence,
    sentence_start,
    swing_text,
    verdict,
    verdict_on_part,
)
from husbandry.bioload import MEAN_RELEASE_DAYS_25C, TAN_PER_PROTEIN

# Title, help, and the fields of each group of the form.
GROUPS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("Feed differently", "", ("plan", "plan_food", "plan_every_days", "plan_ration_kg")),
    ("Another animal", "", ("mass_kg", "food", "every_days", "ration_kg", "enclosure")),
    ("Temperature and pumps", "From now on, all at once.", ("degrees", "stop_hours")),
    (
        "Work on a filter",
        "A rinse with the water's own water; a filter that is lost stays lost.",
        ("rinse", "lose"),
    ),
    ("Join or split", "What shares water shares what it carries.", ("join", "split", "split_filter")),
)
MARKS = {
    "worse": ("against", "state-watch", "Worse:"),
    "risk": ("against", "state-watch", "At risk:"),
    "better": ("for", "tick", "Better:"),
    "calm": ("for", "tick", "Within its limit:"),
    "low": ("unknown", "dash", "Hardly at risk:"),
    "same": ("unknown", "dash", "As before:"),
}
GRAVER = {"good": 0, "unknown": 1, "watch": 2, "act": 3}


@dataclass(frozen=True, eq=False)
class Row:
    """One quantity: its name, its sentence, its drawing, and the numbers of its row in the table."""

    course: Course
    name: str
    words: str
    sketch: Sketch
    chance: tuple[str, str]
    days: tuple[str, str]
    second_week: tuple[str, str]
    is_changed: bool = True

    @property
    def limit(self) -> str:
        side = "at least" if self.course.bound.is_least else "at most"
        return f"{side} {self.course.limit:.3g} {self.course.bound.unit}".strip()

    @property
    def kind(self) -> str:
        """'worse', 'better' or 'same' with a change; without one 'risk', 'calm' or 'low'."""
        if self.is_changed:
            return self.course.verdict
        side = self.course.before
        return "risk" if side.worst_chance >= CARE else ("calm" if side.is_calm else "low")

    @property
    def mark(self) -> tuple[str, str, str]:
        """Its tone, its icon, and what that says to whoever does not see it."""
        return MARKS[self.kind]


def shown(outlook: Outlook, water: Water) -> dict[str, Any]:
    """What the templates need of an outlook."""
    today = water.moment.today
    rows = [_row(each, water, is_changed=outlook.is_changed) for each in outlook.courses]
    first = _first(rows, outlook, water)
    others = sorted((row for row in rows if row is not first), key=_calmness)
    return {
        "outlook": outlook,
        "verdict": _verdict(outlook, water),
        "steps": list(dict.fromkeys(step for sign in outlook.signs for step in sign.steps)),
        "rows": rows,
        "first": first,
        "others": others,
        "part": [
            (sentence_start(each.bound.words), sentence(each, today, is_changed=True), each.verdict)
            for each in outlook.part
            if not each.is_calm
        ],
        "maturing": [
            mature_words(weeks.days if weeks else None, WITHIN_DAYS) for weeks in outlook.maturing or ()
        ],
        "given": "" if outlook.awaits_weeks else given_words(outlook.given),
        "basis": _basis(water),
    }


def _first(rows: Sequence[Row], outlook: Outlook, water: Water) -> Row | None:
    """What is drawn first: a danger in what is split off, else what the verdict is about."""
    risky = endangered(outlook.part)
    if risky:
        row = _row(risky[0], water, is_changed=True)
        return replace(row, name=f"What is split off: {risky[0].bound.words}")
    course = leading(outlook.courses, is_changed=outlook.is_changed)
    return next((row for row in rows if row.course is course), None)


def _verdict(outlook: Outlook, water: Water) -> Verdict:
    if water.gathered is None:
        return Verdict("unknown", f"This water cannot be forecast without {water.lacks}")
    today = water.moment.today
    whole = verdict(outlook.courses, today, is_changed=outlook.is_changed)
    found = verdict_on_part(outlook.part, whole, today)
    return with_signs(found, outlook.signs)


def with_signs(found: Verdict, told: Sequence[Sign]) -> Verdict:
    """What the facts tell beside the forecast: what always goes first, then the graver. Its good news is left out."""
    if not told:
        return found
    leads = [each for each in told if each.is_first or GRAVER[each.kind] > GRAVER[found.kind]]
    rest = [each for each in told if each not in leads]
    said = [*leads, *([found] if found.kind != "good" else []), *rest]
    more = [said[0].more, *(f"{each.words}. {each.more}" for each in said[1:])]
    kind = max((each.kind for each in said), key=GRAVER.__getitem__)
    return Verdict(kind, said[0].words, " ".join(each.strip() for each in more if each))


def _calmness(row: Row) -> int:
    """What is to be drawn first: what harms or changes, before what stays calm."""
    if row.course.is_calm:
        return 2
    return 1 if row.kind in ("same", "low") else 0


def _row(course: Course, water: Water, *, is_changed: bool) -> Row:
    sides = (course.before, course.after)
    return Row(
        course=course,
        name=sentence_start(course.bound.words),
        words=sentence(course, water.moment.today, is_changed=is_changed),
        sketch=sketch(course, is_changed=is_changed),
        chance=tuple(chance_text(side.worst_chance) for side in sides),  # type: ignore[arg-type]
        days=tuple(days_text(side.days_beyond) for side in sides),  # type: ignore[arg-type]
        second_week=tuple(swing_text(side) for side in sides),  # type: ignore[arg-type]
        is_changed=is_changed,
    )


def _basis(water: Water) -> dict[str, Any]:
    """What both forecasts rest on."""
    gathered = water.gathered
    if gathered is None:
        return {}
    now = gathered.circuit_at(gathered.now_hour)
    return {
        "tests": len(gathered.seen),
        "since": gathered.began,
        "now": gathered.now,
        "meals": len(gathered.meals),
        "volume_m3": now.volume_m3,
        "media_m2": now.media_area_m2,
        "flow_m3_h": now.flow_m3_h,
        "celsius": float(gathered.inputs.temperature_c[gathered.now_hour]),
        "members": MEMBERS,
        "tan_per_protein": TAN_PER_PROTEIN,
        "release_days": MEAN_RELEASE_DAYS_25C,
        "rinse_percent": RINSE_LOSS * 100,
        "bed_hours": BED_OXYGEN_HOURS,
    }
