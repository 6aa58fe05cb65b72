"""Two plans compared: which tasks a change would add, move or take away. Plain Python."""

from dataclasses import dataclass
from datetime import date

from refuge.rules.engine import Plan, Wanted


@dataclass(frozen=True, slots=True)
class Shift:
    """One task that would appear (before None), move, or go (after None), with the first reason for it."""

    title: str
    subject: str
    before: date | None
    after: date | None
    reason: str

    @property
    def kind(self) -> str:
        if self.before is None:
            return "new"
        return "gone" if self.after is None else "moved"


def shifts(before: Plan, after: Plan) -> list[Shift]:
    """What differs between two plans: tasks that appear, fall due on another day, or are no longer wanted."""
    old = {each.key: each for each in before.wanted}
    new = {each.key: each for each in after.wanted}
    found = [_shift(old.get(key), wanted) for key, wanted in new.items()]
    found += [Shift(w.rule.title, w.label, w.due_on, None, "") for key, w in old.items() if key not in new]
    changed = [each for each in found if each.before != each.after]
    return sorted(changed, key=lambda each: (each.after or each.before or date.max, each.title, each.subject))


def _shift(old: Wanted | None, new: Wanted) -> Shift:
    reason = new.reasons[0].text if new.reasons else ""
    return Shift(new.rule.title, new.label, old.due_on if old else None, new.due_on, reason)
