"""A forecast as people read it: bands by hour, chances by day. And how good past ones were."""

import math
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filtration.forecast import layout as at
from filtration.forecast.circuit import Beginning, Circuit
from filtration.forecast.ensemble import HOURS_A_DAY, MEMBERS, Ensemble, advance, draw
from filtration.forecast.inputs import Inputs, check_hours
from refuge.errors import OutOfRange, checked

Singles = NDArray[np.float32]
LEVELS = (0.05, 0.25, 0.50, 0.75, 0.95)
TWO_WEEKS = 14 * HOURS_A_DAY


@dataclass(frozen=True)
class Limit:
    """A value that a quantity of layout.QUANTITY_NAMES must not pass; `is_least`: must not fall below.

    widest: the width of the 90 % band from which on a forecast counts as too vague; None: the limit itself.
    """

    quantity: str
    value: float
    is_least: bool = False
    widest: float | None = None

    def __post_init__(self) -> None:
        column(self.quantity)
        checked("value", self.value)

    @property
    def allowed_width(self) -> float:
        return abs(self.value) if self.widest is None else self.widest

    def passed(self, values: Singles) -> NDArray[np.bool_]:
        return values < self.value if self.is_least else values > self.value


def column(quantity: str) -> int:
    """Where a quantity stands in a record; OutOfRange if there is none of this name."""
    try:
        return at.QUANTITY[quantity]
    except KeyError:
        raise OutOfRange("quantity", quantity, "one of " + ", ".join(at.QUANTITY_NAMES)) from None


@dataclass(frozen=True, eq=False)
class Forecast:
    """Bands (quantities, records, levels of LEVELS), one record at the start and one every `every` hours.

    chances: for each limit the share of members that pass it on each day, shape (limits, days).
    end: the members after the last hour, to go on from.
    """

    bands: Singles
    every: int
    limits: tuple[Limit, ...]
    chances: NDArray[np.float64]
    end: Ensemble

    @property
    def hours(self) -> NDArray[np.int64]:
        """Hours from the start of each record."""
        return np.arange(self.bands.shape[1]) * self.every

    def band(self, quantity: str) -> Singles:
        """Shape (records, levels)."""
        return np.asarray(self.bands[column(quantity)])


def bands_of(records: Singles) -> Singles:
    """Quantiles over the members: records (members, records, quantities) to (quantities, records, levels).

    Linear between order statistics, as numpy.quantile.
    """
    ordered = np.sort(records.transpose(2, 1, 0), axis=-1)
    place = np.array(LEVELS) * (records.shape[0] - 1)
    below = place.astype(int)
    above = np.minimum(below + 1, records.shape[0] - 1)
    share = (place - below).astype(np.float32)
    return np.asarray(ordered[..., below] * (1 - share) + ordered[..., above] * share)


def daily_chances(records: Singles, limits: Sequence[Limit], every: int) -> NDArray[np.float64]:
    """Share of the members that pass each limit on each day, shape (limits, days); the start counts to day 1."""
    a_day = HOURS_A_DAY // every
    days = math.ceil((records.shape[1] - 1) / a_day)
    chances = np.zeros((len(limits), days))
    for row, limit in enumerate(limits):
        passed = np.zeros((days * a_day + 1, len(records)), bool)  # the last day may be short
        passed[: records.shape[1]] = limit.passed(records[:, :, column(limit.quantity)]).T
        on_day = passed[:-1].reshape(days, a_day, -1).any(axis=1) | passed[a_day::a_day]
        chances[row] = on_day.mean(axis=1)
    return chances


def summary(records: Singles, limits: Sequence[Limit], every: int, end: Ensemble) -> Forecast:
    """Bands and chances of records."""
    return Forecast(bands_of(records), every, tuple(limits), daily_chances(records, limits, every), end)


def forecast(
    circuit: Circuit,
    inputs: Inputs,
    start: Beginning | Ensemble,
    *,
    hours: int = TWO_WEEKS,
    every: int = 1,
    members: int = MEMBERS,
    seed: int = 0,
    limits: Sequence[Limit] = (),
) -> Forecast:
    """What the water will do in the next `hours`. `every` divides 24.

    A Beginning is drawn into `members` first with `seed`; an Ensemble goes on with its own.
    """
    check_hours(inputs, hours)
    ensemble = start if isinstance(start, Ensemble) else draw(circuit, start, members=members, seed=seed)
    end, records = advance(ensemble, circuit, inputs.between(0, hours), every=every)
    return summary(records, limits, every, end)


@dataclass(frozen=True, eq=False)
class Job:
    """One circuit to forecast among many."""

    circuit: Circuit
    inputs: Inputs
    start: Beginning | Ensemble
    limits: tuple[Limit, ...] = ()
    hours: int = TWO_WEEKS
    every: int = 1
    seed: int = 0


def forecast_many(jobs: Iterable[Job], *, workers: int = 2) -> Iterator[Forecast]:
    """Forecasts in the order of the jobs, on so many threads; at most twice that many are held at once."""
    with ThreadPoolExecutor(max_workers=workers) as pool:
        waiting: deque[Future[Forecast]] = deque()
        for job in jobs:
            waiting.append(pool.submit(_run_job, job))
            if len(waiting) >= 2 * workers:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def _run_job(job: Job) -> Forecast:
    return forecast(
        job.circuit,
        job.inputs,
        job.start,
        hours=job.hours,
        every=job.every,
        seed=job.seed,
        limits=job.limits,
    )
