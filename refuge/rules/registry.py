"""The rules, by key. An app registers its own in its rules.py; a key used twice is refused."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from refuge.rules.facts import KINDS
from refuge.rules.limits import LimitsFor
from refuge.rules.triggers import Trigger

Check = Callable[[Any, LimitsFor, date], Iterable[Trigger | None]]


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: which subjects it judges, and how the work it wants is recorded.

    recorder  key of the form and service that turn the finished task into a record
    role      least role that may do it ("volunteer", "staff", "manager")
    cautions  keys of the short cautions shown at the task
    one_tap   label of a single button that finishes it with no typing, if that is possible
    instead   (key of a recorder of waters, words of its link): what is offered in place of that button while a
              reason speaks against it (triggers.against), and may end that
    help_page name of a page about the subject that says what to do about a reading beyond its limit
    rest_days days before it asks again after "not needed" (after "could not" it asks the next day)
    """

    key: str
    kind: str
    title: str
    check: Check
    recorder: str
    role: str = "volunteer"
    cautions: tuple[str, ...] = ()
    one_tap: str = ""
    instead: tuple[str, str] | None = None
    rest_days: int = 1
    help_page: str = ""

    @property
    def app(self) -> str:
        return self.key.split(".", 1)[0]


class RuleBook:
    """All rules, by key."""

    def __init__(self) -> None:
        self._rules: dict[str, Rule] = {}

    def register(
        self, key: str, *, kind: str, title: str, recorder: str, **options: Any
    ) -> Callable[[Check], Check]:
        """Decorate the function that judges. Raises ValueError for a key used twice or an unknown kind."""

        def add(check: Check) -> Check:
            if key in self._rules:
                raise ValueError(f"rule {key!r} is registered twice")
            if kind not in KINDS:
                raise ValueError(f"rule {key!r} judges {kind!r}; there are facts for {', '.join(KINDS)} only")
            self._rules[key] = Rule(key, kind, title, check, recorder, **options)
            return check

        return add

    def __getitem__(self, key: str) -> Rule:
        return self._rules[key]

    def get(self, key: str) -> Rule | None:
        return self._rules.get(key)

    def __iter__(self) -> Iterator[Rule]:
        return iter(sorted(self._rules.values(), key=lambda rule: rule.key))

    def __len__(self) -> int:
        return len(self._rules)

    def of_kind(self, kind: str) -> list[Rule]:
        """Rules for one kind of subject, in key order."""
        return [rule for rule in self if rule.kind == kind]


rules = RuleBook()
