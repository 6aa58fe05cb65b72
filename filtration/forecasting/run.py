"""A water's tests taken in, one after the other, up to now: from the beginning, or from a start that was kept.

The members are Markov: what comes after a test follows from the members after it. So they can be kept there, and a
run that goes on from there gives the very numbers of one from the beginning. For that the members are rounded after
each test to the single precision in which they are kept.
"""

from dataclasses import dataclass

import numpy as np
from django.conf import settings

from filtration.forecast import Disagreement, Ensemble, advance, assimilate, draw, keep_compiled_in
from filtration.forecasting.gather import Gathered

Found = tuple[tuple[int, Disagreement], ...]


@dataclass(frozen=True, eq=False)
class Start:
    """The members after the first `taken` tests, at `hour`; and the readings of the last that contradicted the model."""

    taken: int
    hour: int
    ensemble: Ensemble
    disagreements: Found = ()


@dataclass(frozen=True, eq=False)
class Assimilated:
    """The members now, and the readings that contradicted the model, newest first, with their hour.

    start: after the latest test, if there was one: the next run may begin there.
    """

    ensemble: Ensemble
    disagreements: Found
    start: Start | None


def assimilated(gathered: Gathered, start: Start | None = None, *, members: int = 128) -> Assimilated:
    """The water up to now, each test narrowing it down in its turn: from `start`, else from where the window began."""
    keep_compiled_in(settings.DATA_DIR / "compiled")  # once for this machine; every later process reads it
    at = start or Start(0, 0, draw(gathered.circuit, gathered.beginning, members=members, seed=gathered.seed))
    found = at.disagreements
    for number in range(at.taken, len(gathered.seen)):
        at = _after_test(gathered, at, number)
        found = at.disagreements + found
    now = _to(gathered, at.ensemble, at.hour, gathered.now_hour)
    return Assimilated(now, found, at if at.taken else None)


def hour_of(gathered: Gathered, number: int) -> int:
    """The hour at which a test (0 is the oldest) is taken in."""
    return min(gathered.known.hour_of_test(gathered.seen[number].at), gathered.now_hour)


def _after_test(gathered: Gathered, at: Start, number: int) -> Start:
    hour, test = hour_of(gathered, number), gathered.seen[number]
    ensemble = _to(gathered, at.ensemble, at.hour, hour)
    celsius = float(gathered.inputs.temperature_c[hour])
    update = assimilate(ensemble, gathered.circuit_at(hour), celsius, test.observations)
    found = tuple((hour, disagreement) for disagreement in reversed(update.disagreements))
    return Start(number + 1, hour, single(update.ensemble), found)


def single(ensemble: Ensemble) -> Ensemble:
    """The members in single precision, seven digits; their arrays stay double, as the step wants them."""
    states, scores = (each.astype(np.float32).astype(float) for each in (ensemble.states, ensemble.scores))
    return Ensemble(states, scores, ensemble.seed, ensemble.draws)


def _to(gathered: Gathered, ensemble: Ensemble, start: int, end: int) -> Ensemble:
    """The members moved from one hour to another."""
    if end <= start:
        return ensemble
    inputs = gathered.inputs.between(start, end)
    moved, _ = advance(ensemble, gathered.circuit_at(start), inputs)
    return moved
