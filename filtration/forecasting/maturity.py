"""When a young filter carries its plan: kept up for a week, so that a good day after a meal does not count.

The package's own `days_to_mature` asks that it never falls back until the end of what is looked at, which makes
the answer depend on how far one looks: over ten weeks of chance some member always has a bad day.
"""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from filtration.forecast import Scenario, Span, advance
from filtration.forecast import layout as at
from filtration.forecast.bands import Singles
from filtration.forecast.outlook import span
from filtration.forecast.start_up import CAPACITY_OVER_LOAD
from refuge.errors import positive

KEPT_DAYS = 7
EVERY = 6


def days_until_it_carries(scenario: Scenario, load_g_day: float) -> Span:
    """Days until the slower step has room for 1.5 times the load [g TAN/day], and keeps it for a week."""
    load = positive("load_g_day", load_g_day)
    _, records = advance(scenario.start, scenario.circuit, scenario.inputs, every=EVERY)
    return span(first_kept(records, CAPACITY_OVER_LOAD * load))


def first_kept(records: Singles, wanted_g_day: float) -> NDArray[np.float64]:
    """Day from which each member keeps the capacity for KEPT_DAYS; infinite if it never does. Shape (members,)."""
    slower = np.minimum(records[:, :, at.Q_AMMONIA_CAPACITY], records[:, :, at.Q_NITRITE_CAPACITY])
    worst = sliding_window_view(slower, KEPT_DAYS * 24 // EVERY, axis=1).min(axis=2)
    is_kept = worst >= wanted_g_day
    return np.where(is_kept.max(axis=1), is_kept.argmax(axis=1) * EVERY / 24.0, np.inf)
