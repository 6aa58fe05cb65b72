"""Bands as a few kilobytes: half-precision numbers (three digits, 6e-8 to 65504), compressed."""

import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filtration.forecast import LEVELS, Forecast, Span
from refuge.errors import OutOfRange

EVERY_HOURS = 6
QUANTITIES = ("tan", "nitrite", "nitrate", "unionized", "alkalinity", "ph", "oxygen", "suspended")
LARGEST = 65504.0


def packed(forecast: Forecast) -> bytes:
    """The bands of the stored quantities, (quantities, records, levels)."""
    bands = np.stack([forecast.band(name) for name in QUANTITIES])
    return zlib.compress(np.minimum(bands, LARGEST).astype("<f2").tobytes(), 9)


@dataclass(frozen=True, eq=False)
class Bands:
    """Unpacked bands; every array has one row for each EVERY_HOURS and one column for each of LEVELS."""

    values: NDArray[np.float64]

    def of(self, quantity: str) -> NDArray[np.float64]:
        return np.asarray(self.values[QUANTITIES.index(quantity)])

    @property
    def hours(self) -> NDArray[np.int64]:
        return np.arange(self.values.shape[1]) * EVERY_HOURS

    def at_hour(self, quantity: str, hour: float) -> NDArray[np.float64]:
        """The levels at an hour, between records evenly. Raises OutOfRange beyond the last record."""
        last = float(self.hours[-1])
        if not 0 <= hour <= last:
            raise OutOfRange("hour", hour, f"from 0 to {last:g}")
        return np.array([np.interp(hour, self.hours, column) for column in self.of(quantity).T])


def unpacked(data: bytes) -> Bands:
    """The bands that `packed` made."""
    flat = np.frombuffer(zlib.decompress(data), "<f2").astype(float)
    return Bands(flat.reshape(len(QUANTITIES), -1, len(LEVELS)))


def digits(value: float | None) -> float | None:
    """Three significant digits."""
    return None if value is None else float(f"{value:.3g}")


def packed_span(span: Span) -> list[float | None]:
    """A span for JSON: early, middle, late, share."""
    return [digits(span.early), digits(span.middle), digits(span.late), digits(span.share)]
