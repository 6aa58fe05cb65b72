"""What a water would do with the newcomer in it: asked of whoever can forecast, and weighed.

An app further out registers the one that can tell; without it nothing is foreseen and nothing weighed.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Protocol

from husbandry.arrivals.newcomer import Candidate, Finding, Newcomer, Place, points, rank
from refuge.pages.panels import Panel
from refuge.rounds.loaders import Moment
from refuge.rules.facts import Facts
from refuge.rules.limits import LimitsFor
from refuge.rules.triggers import day_text

BEST = 3  # so many of the best places are looked at; a place that moves up by that is looked at as well,
MOST = 5  # but never more than so many
SHORTLIST = 8  # places whose waters are made ready to be looked at


@dataclass(frozen=True, slots=True)
class Prospect:
    """The two weeks after a newcomer came: the limit most likely to be passed, and on which day.

    chance: highest of any day (0 to 1). limit: with its unit, as it is said. verb: 'passes' or 'falls below'.
    because: what explains a high chance, if anything does.
    """

    what: str
    verb: str
    limit: str
    chance: float
    on: date
    because: str = ""


class Foresight(Protocol):
    """Looks ahead for one newcomer; both give None for a water that cannot be forecast.

    What the panel holds as `meal_kg` is the meal that is planned, as `safe_kg` how much of it is safe, or None.
    """

    def prospect(self, place: Place) -> Prospect | None: ...

    def panel(self, place: Place, system: str) -> Panel | None: ...


Foresee = Callable[[Newcomer, Sequence[Place], Facts, Moment], Foresight]
_foresee: list[Foresee] = []


def foreseer(function: Foresee) -> Foresee:
    """Register who can look ahead. Raises ValueError for a second one."""
    if _foresee and _foresee[0] is not function:
        raise ValueError("somebody looks ahead for arrivals already")
    _foresee[:] = [function]
    return function


def foresight(
    newcomer: Newcomer, ranked: Sequence[Candidate], chosen_id: int | None, facts: Facts, moment: Moment
) -> Foresight | None:
    """Whoever looks ahead, made ready for the best places and the chosen one; None for a newcomer that eats nothing known."""
    if not _foresee or newcomer.diet is None:
        return None
    able = [each.place for each in ranked if not each.is_blocked]
    places = [place for rank, place in enumerate(able) if rank < SHORTLIST or place.enclosure_id == chosen_id]
    return _foresee[0](newcomer, places, facts, moment)


def weighed(
    ranked: Sequence[Candidate], ahead: Foresight, limits: Callable[[int], LimitsFor], chosen_id: int | None
) -> list[Candidate]:
    """The candidates ranked anew, with what was foreseen for the best of them and for the chosen one."""
    seen: set[int] = set()
    order = list(ranked)
    while (following := _next(order, seen, chosen_id)) is not None:
        place = following.place
        seen.add(place.enclosure_id)
        prospect = ahead.prospect(place)
        if prospect is not None:
            finding = _finding(prospect, limits(place.circuit.id))
            order = rank(_with(each, finding) if each is following else each for each in order)
    return order


def _next(order: Sequence[Candidate], seen: set[int], chosen_id: int | None) -> Candidate | None:
    able = [each for each in order if not each.is_blocked]
    wanted = [each for each in able if each.place.enclosure_id == chosen_id]
    if len(seen) < MOST:
        wanted += able[:BEST]
    return next((each for each in wanted if each.place.enclosure_id not in seen), None)


def _with(candidate: Candidate, finding: Finding) -> Candidate:
    findings = sorted((*candidate.findings, finding), key=lambda each: -each.weight)
    return replace(candidate, findings=tuple(findings))


def _finding(prospect: Prospect, limits: LimitsFor) -> Finding:
    chance = prospect.chance
    words = (
        f"Forecast with the newcomer: {prospect.what} {prospect.verb} {prospect.limit} within two weeks "
        f"with {_percent(chance)}"
    )
    if chance < limits["husbandry.arrival_chance"]:
        return Finding("for", words)
    words += f", most likely on {day_text(prospect.on)}" + (
        f"; {prospect.because}" if prospect.because else ""
    )
    return Finding("against", words, points("foreseen", chance))


def _percent(chance: float) -> str:
    if 0.01 <= chance <= 0.99:
        return f"{chance * 100:.0f}\u00a0%"
    return "under 1\u00a0%" if chance < 0.5 else "over 99\u00a0%"
