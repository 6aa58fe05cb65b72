"""Starts of forecasts, kept: a water's members after its latest test, so that nobody runs through the weeks before again.

A start counts while everything up to its hour is as it was: a digest of all that its members follow from says so. A
record that was amended, struck out or entered late changes the digest, and so does a change of the model itself:
then the run begins where the window began. Written with each forecast by the worker; pages only read.
"""

import json
import zlib
from collections.abc import Iterable
from functools import cache
from hashlib import blake2b
from pathlib import Path
from typing import Any

import numpy as np

from filtration import forecast
from filtration.forecast import Disagreement, Ensemble
from filtration.forecast import layout as at
from filtration.forecast.compiled import step_version
from filtration.forecasting.gather import Gathered
from filtration.forecasting.models import ForecastStart
from filtration.forecasting.run import Assimilated, Start, assimilated, hour_of
from refuge.prepared import prepared

# Two runs over the same readings may differ in the last digits of a temperature; a thermometer shows two or three.
DEGREE_DIGITS = 6
COLUMNS = ("circuit_id", "taken", "digest", "draws", "members", "disagreements")


def from_start(gathered: Gathered) -> Assimilated:
    """The members now, from the start that was kept if it still counts: 1 query."""
    return assimilated(gathered, usable(gathered, starts_of([gathered.circuit_id]).get(gathered.circuit_id)))


def starts_of(circuits: Iterable[int]) -> dict[int, ForecastStart]:
    """The starts kept of these waters: 1 query."""
    rows = (dict(zip(COLUMNS, row, strict=True)) for row in _start_rows(circuits=list(circuits)))
    return {row["circuit_id"]: ForecastStart(**row) for row in rows}


@prepared
def _start_rows(circuits: list[int]) -> Any:
    return ForecastStart.objects.filter(circuit__pk__in=circuits).values_list(*COLUMNS)


def usable(gathered: Gathered, row: ForecastStart | None) -> Start | None:
    """The start that was kept of a water; None if there is none, or if anything before it has changed."""
    if row is None or not 0 < row.taken <= len(gathered.seen):
        return None
    return _unpacked(row, gathered) if row.digest == digest(gathered, row.taken) else None


def row_of(gathered: Gathered, start: Start) -> ForecastStart:
    """A start as it is kept; not saved."""
    return ForecastStart(
        circuit_id=gathered.circuit_id,
        taken=start.taken,
        digest=digest(gathered, start.taken),
        draws=start.ensemble.draws,
        members=_packed(start.ensemble),
        disagreements=json.dumps([vars(each) for _, each in start.disagreements]),
    )


def digest(gathered: Gathered, taken: int | None = None) -> str:
    """Everything that the members after the first `taken` tests follow from; None: after all of them, and now."""
    hour = gathered.now_hour if taken is None else hour_of(gathered, taken - 1)
    past = gathered.inputs.between(0, hour)
    text = repr(
        (
            model_version(),
            gathered.circuit,
            gathered.beginning,
            gathered.began,
            gathered.seed,
            hour,
            past.events,
            past.evaporation_m3_day,
            gathered.seen[:taken],
        )
    )
    celsius = np.round(gathered.inputs.temperature_c[: hour + 1], DEGREE_DIGITS) + 0.0  # -0.0 is 0.0
    return blake2b(text.encode() + celsius.tobytes(), digest_size=16).hexdigest()


@cache
def model_version() -> str:
    """A digest of the forecast's own code, and with it of its layout, its priors and its way of learning."""
    sources = sorted(Path(forecast.__file__).parent.glob("*.py"))
    code = step_version().encode() + b"".join(source.read_bytes() for source in sources)
    return blake2b(code, digest_size=8).hexdigest()


def _packed(ensemble: Ensemble) -> bytes:
    """States and scores side by side, as single precision (see run.single)."""
    return zlib.compress(np.hstack([ensemble.states, ensemble.scores]).astype("<f4").tobytes(), 1)


def _unpacked(row: ForecastStart, gathered: Gathered) -> Start:
    states = len(at.STATE_NAMES)
    flat = np.frombuffer(zlib.decompress(bytes(row.members)), "<f4").astype(float)
    numbers = flat.reshape(-1, states + len(at.PARAMETER_NAMES))
    ensemble = Ensemble(
        np.ascontiguousarray(numbers[:, :states]),
        np.ascontiguousarray(numbers[:, states:]),
        gathered.seed,
        row.draws,
    )
    hour = hour_of(gathered, row.taken - 1)
    found = tuple((hour, Disagreement(**each)) for each in json.loads(row.disagreements))
    return Start(row.taken, hour, ensemble, found)
