"""Which part of its water each filter cleaned, and since when: from its records. Plain Python; days are local days."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from refuge.rules.facts import RUNNING, Fed

# What runs on after a change to one of these ran before it too, where no earlier record says otherwise.
RAN_BEFORE = frozenset({"mature", "disturbed", "resting"})


@dataclass(frozen=True, slots=True)
class Runner:
    """A filter as its share needs it. weight: surface of its stones [m2]. state, since: as they stand on the filter.

    changes: (day, new state) of every recorded change, oldest first. worked_on: first known day on which it was
    drained or rinsed, which only a filter that ran can be.
    """

    id: int
    weight: float
    state: str
    since: date
    changes: tuple[tuple[date, str], ...] = ()
    worked_on: date | None = None


@dataclass(frozen=True, slots=True)
class Spell:
    """A share (0 to 1) of the water that held in [from_on, to_on); None: without beginning or end."""

    from_on: date | None
    to_on: date | None
    share: float


def running_spells(unit: Runner) -> list[tuple[date | None, date | None]]:
    """The spans of days in which it ran, oldest first. What stands on the filter itself counts where no record tells."""
    changes, ran = _changes(unit)
    spells: list[tuple[date | None, date | None]] = []
    began: date | None = None
    for day, state in changes:
        runs = state in RUNNING
        if ran and not runs and day != began:
            spells.append((began, day))
        if runs and not ran:
            began = day
        ran = runs
    return [*spells, (began, None)] if ran else spells


def _changes(unit: Runner) -> tuple[list[tuple[date, str]], bool]:
    """Changes of state, and whether it ran before the first of them."""
    changes = list(unit.changes)
    if changes and changes[-1][1] == unit.state:
        return changes, changes[0][1] in RAN_BEFORE
    known = [each for each in changes if each[0] < unit.since]
    if known:
        return [*known, (unit.since, unit.state)], known[0][1] in RAN_BEFORE
    since = min(unit.since, unit.worked_on or unit.since) if unit.state in RUNNING else unit.since
    return [(since, unit.state)], unit.state == "resting"


def spells_of(units: Sequence[Runner]) -> dict[int, list[Spell]]:
    """The shares of the filters of one water over time, oldest first: by surface, evenly if none is known.

    A start or a stop of one changes the shares of the others from that day on, never before it.
    """
    runs = {unit.id: running_spells(unit) for unit in units}
    if len(units) == 1:
        return {pk: [Spell(*span, 1.0) for span in spans] for pk, spans in runs.items()}
    ends = sorted({day for spans in runs.values() for span in spans for day in span if day is not None})
    found: dict[int, list[Spell]] = {unit.id: [] for unit in units}
    for from_on, to_on in zip([None, *ends], [*ends, None], strict=True):
        on = [unit for unit in units if any(_covers(span, from_on, to_on) for span in runs[unit.id])]
        total = sum(unit.weight for unit in on)
        for unit in on:
            share = unit.weight / total if total else 1 / len(on)
            found[unit.id].append(Spell(from_on, to_on, share))
    return found


def _covers(span: tuple[date | None, date | None], from_on: date | None, to_on: date | None) -> bool:
    """Whether a span holds all of another, none of whose days lies across an end of it."""
    begins = span[0] is None or (from_on is not None and span[0] <= from_on)
    return begins and (span[1] is None or (to_on is not None and to_on <= span[1]))


def reached(fed: Iterable[Fed], spells: Sequence[Spell], since: date | None) -> list[tuple[Fed, float]]:
    """The meals whose waste came to a filter from a day on (None: as long as it ran).

    Each span of meals is cut to the days that count, and comes with the share of it that reached this filter.
    """
    starts = [_later(spell.from_on, since) for spell in spells]
    windows = [(start, spell) for start, spell in zip(starts, spells, strict=True) if _is_open(start, spell)]
    found: list[tuple[Fed, float]] = []
    for span in fed:
        for start, spell in windows:
            from_on = span.from_on if start is None or start <= span.from_on else start
            to_on = span.to_on if spell.to_on is None or spell.to_on >= span.to_on else spell.to_on
            if from_on is span.from_on and to_on is span.to_on:
                found.append((span, spell.share))
            elif from_on < to_on:
                found.append((_cut(span, from_on, to_on), spell.share))
    return found


def _later(one: date | None, two: date | None) -> date | None:
    return max(one, two) if one and two else one or two


def _is_open(start: date | None, spell: Spell) -> bool:
    return start is None or spell.to_on is None or start < spell.to_on


def _cut(span: Fed, from_on: date, to_on: date) -> Fed:
    """A part of a span of meals, as if they had been spread evenly over it."""
    part = (to_on - from_on) / (span.to_on - span.from_on)
    return Fed(from_on, to_on, span.kg * part, span.tan_g * part, span.solids_g * part)


def share_now(spells: Sequence[Spell]) -> float:
    """A filter's share of its water today; 0 for one that does not run."""
    return spells[-1].share if spells and spells[-1].to_on is None else 0.0


def ended(spells: Sequence[Spell], day: date) -> list[Spell]:
    """The spells as far as they lie before a day."""
    return [
        Spell(spell.from_on, day if spell.to_on is None else min(day, spell.to_on), spell.share)
        for spell in spells
        if spell.from_on is None or spell.from_on < day
    ]
