"""A water's tests taken in, one after the other, up to now."""

from dataclasses import dataclass

from django.conf import settings

from filtration.forecast import Disagreement, Ensemble, advance, assimilate, draw, keep_compiled_in
from filtration.forecasting.gather import Gathered


@dataclass(frozen=True, eq=False)
class Assimilated:
    """The members now, and the readings that contradicted the model, newest first, with their hour."""

    ensemble: Ensemble
    disagreements: tuple[tuple[int, Disagreement], ...]


def assimilated(gathered: Gathered, *, members: int = 128) -> Assimilated:
    """The water from where the window began to now, each test narrowing it down in its turn."""
    keep_compiled_in(settings.DATA_DIR / "compiled")  # once for this machine; every later process reads it
    ensemble = draw(gathered.circuit, gathered.beginning, members=members, seed=gathered.seed)
    found: list[tuple[int, Disagreement]] = []
    done = 0
    for each in gathered.seen:
        hour = min(max(gathered.known.hour(each.at), done), gathered.now_hour)
        ensemble = _to(gathered, ensemble, done, hour)
        celsius = float(gathered.inputs.temperature_c[hour])
        update = assimilate(ensemble, gathered.circuit_at(hour), celsius, each.observations)
        found += [(hour, disagreement) for disagreement in update.disagreements]
        ensemble, done = update.ensemble, hour
    return Assimilated(_to(gathered, ensemble, done, gathered.now_hour), tuple(reversed(found)))


def _to(gathered: Gathered, ensemble: Ensemble, start: int, end: int) -> Ensemble:
    """The members moved from one hour to another."""
    if end <= start:
        return ensemble
    inputs = gathered.inputs.between(start, end)
    moved, _ = advance(ensemble, gathered.circuit_at(start), inputs)
    return moved
