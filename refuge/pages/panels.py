"""Parts of a subject's page that an app further out draws: the page of a water shows its animals and filters
without the app of the waters knowing either."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from refuge.people.models import User
from refuge.rounds.loaders import Moment
from refuge.rules.facts import Facts


@dataclass(frozen=True)
class Page:
    """What a panel may go by: the subject, the facts of its circuit, the moment, and who reads."""

    kind: str
    subject: Any
    facts: Facts
    moment: Moment
    user: User

    @property
    def today(self) -> date:
        return self.moment.today

    @property
    def system(self) -> str:
        return self.user.unit_system


@dataclass(frozen=True)
class Panel:
    """A part of a page: a template, and what it needs (it finds it as `panel`)."""

    template: str
    context: dict[str, Any] = field(default_factory=dict)


Draw = Callable[[Page], Panel | None]
_panels: dict[str, list[tuple[int, Draw]]] = {}


def panel(kind: str, *, order: int) -> Callable[[Draw], Draw]:
    """Register a panel for the pages of one kind of subject; a lower order stands further up."""

    def add(draw: Draw) -> Draw:
        _panels.setdefault(kind, []).append((order, draw))
        return draw

    return add


def panels(page: Page) -> list[Panel]:
    """The panels of a page, in order; one that has nothing to show is left out."""
    drawn = (draw(page) for _, draw in sorted(_panels.get(page.kind, []), key=lambda each: each[0]))
    return [each for each in drawn if each is not None]
