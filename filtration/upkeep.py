"""When a filter asks for its next drain and its next rinse, as days with the range that its water's forecast gives.

The days follow from today's records, by the same sums as the rules; the range from the members of the stored
forecast, which differ in what nobody knows: what settles, what is digested.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from filtration.rules import days_to_sediment
from filtration.solids import LONGEST_PROJECTION_DAYS, carried_over_g
from refuge.rules.facts import RUNNING, FilterFacts
from refuge.rules.triggers import days_text

Span = Sequence[float | None]  # early, middle, late [days]; None: not within ten years


@dataclass(frozen=True)
class Ahead:
    """Days until some work is asked for; None if not within ten years. span: of the forecast, None without one.

    runs: whether the filter does; while it does not, nothing comes to it and nothing is asked for.
    """

    days: float | None
    span: Span | None
    runs: bool = True

    @property
    def said(self) -> str:
        return _said(self.days) if self.runs else "not while it does not run"

    @property
    def range_words(self) -> str:
        """'40 days to 5 months', '20 to 45 days'; empty where there is none, or where it is of before something was recorded."""
        if self.span is None or not self.runs:
            return ""
        early, late = (float("inf") if each is None else each for each in (self.span[0], self.span[2]))
        days = float("inf") if self.days is None else self.days
        first, last = _said(self.span[0]), _said(self.span[2])
        return _both(first, last) if early <= days <= late and first != last else ""


def _both(first: str, last: str) -> str:
    """'20 to 45 days': the unit once where it is the same."""
    number, _, unit = first.partition(" ")
    return f"{number if unit and last.endswith(f' {unit}') else first} to {last}"


def _said(days: float | None) -> str:
    if days is None:
        return "over 10 years"
    return "now" if days < 1 else days_text(days)


def drain_ahead(facts: FilterFacts, limit_l: float, outlook: Mapping[str, Any]) -> Ahead:
    """limit_l: sediment that asks for a drain. outlook: of the water's forecast, empty without one."""
    days = days_to_sediment(facts, limit_l)
    return Ahead(days, _span(facts.id, "drain", outlook), facts.state in RUNNING)


def rinse_ahead(facts: FilterFacts, limit_g_l: float, outlook: Mapping[str, Any]) -> Ahead | None:
    """limit_g_l: dry solids on a litre of room between the stones that ask for a rinse. None without stones."""
    if facts.media_void_l <= 0:
        return None
    room, daily = limit_g_l * facts.media_void_l - facts.carried_g, carried_over_g(facts.solids_g_day)
    if room <= 0:
        days: float | None = 0.0
    else:
        days = room / daily if daily * LONGEST_PROJECTION_DAYS > room else None
    return Ahead(days, _span(facts.id, "rinse", outlook), facts.state in RUNNING)


def _span(filter_id: int, work: str, outlook: Mapping[str, Any]) -> Span | None:
    return next((each.get(work) for each in outlook.get("work", ()) if each["filter"] == filter_id), None)
