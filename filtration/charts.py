"""The chart of one filter: sediment seen and expected at its drains, and its flow. See refuge.figures."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from refuge import units
from refuge.figures import Series, Strip, strips_figure

Points = Sequence[tuple[datetime, float | None]]


def filter_figure(
    *,
    expected_l: Points,
    seen_l: Points,
    limit_l: float,
    flow_m3_h: Points,
    least_flow_m3_h: float | None,
    system: str = units.METRIC,
) -> dict[str, Any]:
    """Sediment [L in] against what asks for a drain, flow [m3/h in] against what asks for a rinse."""
    litres = lambda value: None if value is None else units.to_shown(value / 1000, "volume", system)  # noqa: E731
    flow = lambda value: None if value is None else units.to_shown(value, "flow", system)  # noqa: E731
    return strips_figure(
        [
            Strip(
                "Sediment in the void",
                units.label("volume", system),
                [
                    Series("Expected", [(at, litres(v)) for at, v in expected_l], "dashes"),
                    Series("Seen", [(at, litres(v)) for at, v in seen_l], "dots"),
                ],
                high=litres(limit_l),
                from_zero=True,
            ),
            Strip(
                "Flow",
                units.label("flow", system),
                [Series("Flow", [(at, flow(v)) for at, v in flow_m3_h])],
                low=flow(least_flow_m3_h),
                from_zero=True,
            ),
        ]
    )
