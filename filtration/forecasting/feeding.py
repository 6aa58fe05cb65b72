"""Which limits decide how much may be fed, and which of them the plan uses up whatever else happens."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from enclosures.chemistry import unionized_fraction
from filtration.forecast import Forecast, Limit, Source
from filtration.forecasting.limits import ACUTE

# Acid water holds its ammonia as harmless ammonium until the next change or a dose of bicarbonate lifts pH. So all of
# it is held against the limit as at the pH of the source too, and at no less than what new water has when nobody has
# measured it. Assumption: a change brings the water nearer to that, seldom beyond it.
USUAL_PH = 7.6
SLOW = ("alkalinity", "ph")  # meals use them up over days; once they are gone, ammonia is taken up no more
CHANCE = 0.1  # as large a chance of passing a limit is taken


def feeding_limits(
    bounds: Iterable[Limit], celsius: NDArray[np.float64], source: Source, names: Iterable[str] = ACUTE
) -> list[Limit]:
    """The limits of `names` that meals must keep, with one for total ammonia [mg N/L] wherever un-ionized has one.

    celsius: of the water in the time ahead; the warmest counts.
    """
    wanted = {*ACUTE, *names}
    # meals lower pH and use up alkalinity: too high a pH is not theirs
    kept = [
        each for each in bounds if each.quantity in wanted and (each.is_least or each.quantity not in SLOW)
    ]
    share = unionized_fraction(float(celsius.max()), max(USUAL_PH, source.ph))
    return kept + [Limit("tan", each.value / share) for each in kept if each.quantity == "unionized"]


def used_up(forecast: Forecast) -> list[str]:
    """Of what meals use up, the quantities that are likely enough to pass their limit on the plan as it is."""
    rows: Sequence[tuple[Limit, NDArray[np.float64]]] = list(
        zip(forecast.limits, forecast.chances, strict=True)
    )
    return [
        limit.quantity
        for limit, row in rows
        if limit.quantity in SLOW and limit.is_least and float(row.max()) > CHANCE
    ]
