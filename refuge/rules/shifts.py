"""Two plans compared: which tasks a change would add, move, turn round or take away. Plain Python."""

from dataclasses import dataclass
from datetime import date

from refuge.rules.engine import Plan, Wanted
from refuge.rules.triggers import AGAINST


@dataclass(frozen=True, slots=True)
class Shift:
    """One task that would appear (before None), move, keep its day but not be done as planned, or go (after None).

    is_allowed: what spoke against it would do so no more. reason: what speaks against doing it, else the first reason
    for it. No day lies before `today`: what is late is due now, however late it is.
    """

    title: str
    subject: str
    before: date | None
    after: date | None
    reason: str
    today: date
    is_allowed: bool = False

    @property
    def kind(self) -> str:
        """'new', 'moved', 'gone', or for the same day 'allowed' or 'otherwise'."""
        if self.before is None:
            return "new"
        if self.after is None:
            return "gone"
        if self.before != self.after:
            return "moved"
        return "allowed" if self.is_allowed else "otherwise"

    @property
    def was_due_now(self) -> bool:
        return self.before == self.today

    @property
    def is_due_now(self) -> bool:
        return self.after == self.today


def shifts(before: Plan, after: Plan, today: date) -> list[Shift]:
    """What differs between two plans from today on: tasks that appear, fall due on another day, must not be done as
    planned, or are no longer wanted. A task that is late either way does not move."""
    old = {each.key: each for each in before.wanted}
    new = {each.key: each for each in after.wanted}
    found = [_shift(old.get(key), wanted, today) for key, wanted in new.items()]
    gone = [wanted for key, wanted in old.items() if key not in new]
    found += [Shift(w.rule.title, w.label, max(w.due_on, today), None, "", today) for w in gone]
    changed = [each for each in found if each is not None]
    return sorted(changed, key=lambda each: (each.after or each.before or date.max, each.title, each.subject))


def _shift(old: Wanted | None, new: Wanted, today: date) -> Shift | None:
    """None where nothing differs."""
    before, after = max(old.due_on, today) if old else None, max(new.due_on, today)
    against = _against(new)
    is_allowed = old is not None and bool(_against(old)) and not against
    is_forbidden = bool(against) and (old is None or not _against(old))
    if before == after and not (is_forbidden or is_allowed):
        return None
    reason = against or (new.reasons[0].text if new.reasons else "")
    return Shift(new.rule.title, new.label, before, after, reason, today, is_allowed)


def _against(wanted: Wanted) -> str:
    """What speaks against doing it as planned, in words."""
    return next((reason.text for reason in wanted.reasons if reason.kind == AGAINST), "")
