"""The chart of one animal: weight and length over time. Data in, data out; see refuge.figures."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from refuge import units
from refuge.figures import Series, Strip, strips_figure


def growth_figure(
    rows: Sequence[tuple[datetime, float | None, float | None]], system: str = units.METRIC
) -> dict[str, Any]:
    """Weight [kg in] and straight carapace length [m in] in the reader's units, one strip each."""
    mass = [(at, units.to_shown(kg, "mass", system)) for at, kg, _ in rows if kg is not None]
    length = [(at, units.to_shown(metres, "length", system)) for at, _, metres in rows if metres is not None]
    return strips_figure(
        [
            Strip("Weight", units.label("mass", system), [Series("Weight", mass)]),
            Strip("Carapace length", units.label("length", system), [Series("Carapace length", length)]),
        ]
    )
