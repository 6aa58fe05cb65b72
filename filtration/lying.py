"""What lies in a filter by its records: sediment in the void, dry solids between the stones, and what drains taught."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Case, Max, Q, When

from filtration.clogging import left_by_rinses
from filtration.models import Maintenance
from filtration.nitrification import within_range
from filtration.shares import Spell, ended, reached, share_now
from filtration.solids import (
    DEPTH_WEIGHT,
    LET_OUT_WEIGHT,
    Sediment,
    captured_g,
    carried_over_g,
    corrected,
    lain,
)
from refuge.prepared import prepared
from refuge.rounds.loaders import Moment, Scopes, of_waters
from refuge.rules.facts import Facts, Fed, FilterFacts

ONE_BY_ONE = ("drain", "rinse", "state")  # of other work only the last time counts
# A new filter's water is fed within so many days; one that ran longer without a recorded meal was fed all the same.
STARTS_WITHIN = timedelta(days=14)
COLUMNS = (
    "filter_id",
    "kind",
    "each_at",
    "new_state",
    "predicted_sediment_l",
    "observed_sediment_l",
    "predicted_factor",
    "is_let_out",
    "layer_id",
)


@dataclass(frozen=True, slots=True)
class Drain:
    """Litres of sediment at one drain, as expected and as seen. factor: the filter's own, which the expectation holds.

    is_let_out: seen only by the water that was let out with it.
    """

    predicted_l: float | None
    observed_l: float | None
    factor: float | None = None
    is_let_out: bool = False


@dataclass(slots=True)
class Work:
    """What was done to one filter. last: time (by the refuge's clock) of each kind; changes: of state, oldest first.

    drains, rinses (day, layer washed or None): newest first.
    """

    last: dict[str, datetime] = field(default_factory=dict)
    drains: list[Drain] = field(default_factory=list)
    rinses: list[tuple[date, int | None]] = field(default_factory=list)
    changes: tuple[tuple[date, str], ...] = ()
    first_on: date | None = None  # of a drain or rinse

    def take(
        self, kind: str, at: datetime, is_one: bool, new_state: str, layer: int | None, drain: Drain
    ) -> None:
        """A row of the query, newest first."""
        self.last.setdefault(kind, at)
        if not is_one:
            return
        if kind == "state":
            self.changes = ((at.date(), new_state), *self.changes)
            return
        self.first_on = at.date()
        if kind == "drain":
            self.drains.append(drain)
        else:
            self.rinses.append((at.date(), layer))


@prepared
def _rows(scopes: Scopes, until: datetime) -> Any:
    work = of_waters(Maintenance.objects.filter(at__lte=until), scopes, "filter__circuit")
    by_litres = Q(sediment_depth_m__isnull=True, litres_drained__isnull=False)
    each_at = Case(When(kind__in=ONE_BY_ONE, then="at"))
    rows = work.annotate(each_at=each_at, is_let_out=by_litres).values(*COLUMNS)
    return rows.annotate(last=Max("at")).order_by("-last").values_list(*COLUMNS, "last")


def works_of(scopes: Scopes, moment: Moment) -> dict[int, Work]:
    """The work done on each filter until a moment. One query: some kinds come one by one, the others by their last time."""
    works: dict[int, Work] = defaultdict(Work)
    for pk, kind, each_at, new_state, *drained, layer, last in _rows(scopes=scopes, until=moment.now):
        at = last.astimezone(moment.zone)
        works[pk].take(kind, at, each_at is not None, new_state, layer, Drain(*drained))
    return works


def with_what_lies(
    unit: FilterFacts, facts: Facts, work: Work, spells: Sequence[Spell], today: date
) -> FilterFacts:
    """A filter with what came to it since its last drain and its last rinses, as long as it ran."""
    fed = facts.fed.get(unit.circuit_id, [])
    # Nobody knows what lay in it before the first meal that was recorded: the first drain teaches nothing.
    factor = correction_from(work.drains[:-1] if ran_before_records(unit, fed, today) else work.drains)
    sediment = sediment_of(reached(fed, spells, unit.last_drain_on), within_range(unit.temperature_c), today)
    return replace(
        unit,
        easy_g=sediment.easy_g,
        inert_g=sediment.inert_g,
        loose_easy_g=sediment.loose_easy_g,
        loose_inert_g=sediment.loose_inert_g,
        sediment_l=sediment.litres() * factor,
        solids_g_day=facts.circuit[unit.circuit_id].solids_g_day * share_now(spells),
        correction=factor,
        carried_g=carried_g(fed, spells, work.rinses, unit.caught_by),
        last_drain_modelled_l=work.drains[0].predicted_l if work.drains else None,
        last_drain_seen_l=work.drains[0].observed_l if work.drains else None,
    )


def ran_before_records(unit: FilterFacts, fed: Sequence[Fed], today: date) -> bool:
    """Whether a filter had run for long when the first meal of its water was recorded."""
    first = min((span.from_on for span in fed), default=today)
    return first > unit.state_since + STARTS_WITHIN


def carried_g(
    fed: Sequence[Fed],
    spells: Sequence[Spell],
    rinses: Sequence[tuple[date, int | None]],
    caught_by: Sequence[tuple[int, float]],
) -> float:
    """Dry solids between the stones: a rinse (newest first) takes out what its own layer had caught until then.

    caught_by: each layer's key and its part (0 to 1) of what is caught, bottom first.
    """
    places = {key: place for place, (key, _) in enumerate(caught_by)}
    parts = left_by_rinses(
        [share for _, share in caught_by], [layer and places.get(layer) for _, layer in rinses]
    )
    solids = sum(span.solids_g * of for span, of in reached(fed, spells, rinses[0][0] if rinses else None))
    for number, part in enumerate(parts):
        if part <= 0:
            break
        until = rinses[number][0]
        since = rinses[number + 1][0] if number + 1 < len(rinses) else None
        earlier = reached(fed, ended(spells, until), since)
        solids += part * sum(span.solids_g * of for span, of in earlier)
    return carried_over_g(solids)


def correction_from(drains: Sequence[Drain]) -> float:
    """This filter's own factor on the modelled sediment, from all of its drains (newest first).

    Each surprise is that of the model itself: what was expected, without the factor that the expectation held. A drain
    that does not say it was expected with what the drains before it had taught.
    """
    factor = 1.0
    for drain in reversed(drains):
        if drain.predicted_l and drain.observed_l is not None:
            modelled = drain.predicted_l / (drain.factor or factor)
            weight = LET_OUT_WEIGHT if drain.is_let_out else DEPTH_WEIGHT
            factor = corrected(modelled * factor, drain.observed_l, factor, weight)
    return factor


def sediment_of(came: Sequence[tuple[Fed, float]], temperature_c: float, today: date) -> Sediment:
    """Dry matter in the void [g] from the meals that came to a filter, digested since each was settled."""
    return lain(
        ((captured_g(span.solids_g * share), max((today - _middle(span)).days, 0)) for span, share in came),
        temperature_c,
    )


def _middle(span: Fed) -> date:
    return span.from_on + (span.to_on - span.from_on) / 2
