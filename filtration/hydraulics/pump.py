"""What a pump can lift at each flow: its curve, from points of the data sheet or from two numbers."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from refuge.errors import OutOfRange, checked, positive


@dataclass(frozen=True)
class ParabolicCurve:
    """Head [m] = shut-off head x (1 - (flow / greatest flow)2), flow in m3/h.

    The usual guess when a pump's plate gives only its head at no flow and its flow at no head. Real curves
    lie above it or below it by some tenths in the middle; points of the data sheet are better.
    """

    shutoff_head_m: float
    max_flow_m3_h: float

    def __post_init__(self) -> None:
        positive("shutoff_head_m", self.shutoff_head_m, 100)
        positive("max_flow_m3_h", self.max_flow_m3_h, 1000)

    @property
    def known_to_m3_h(self) -> float:
        """Greatest flow the maker vouches for."""
        return self.max_flow_m3_h

    def head_m(self, flow_m3_h: float) -> float:
        """Head [m] at a flow of 0 to the greatest flow."""
        share = checked("flow_m3_h", flow_m3_h, 0, self.max_flow_m3_h) / self.max_flow_m3_h
        return self.shutoff_head_m * (1 - share**2)

    def weakened(self, share: float) -> "ParabolicCurve":
        """The same pump with `share` of its head left at every flow (above 0; above 1 for a stronger one)."""
        return ParabolicCurve(self.shutoff_head_m * positive("share", share), self.max_flow_m3_h)


@dataclass(frozen=True)
class PointCurve:
    """Straight lines between (flow in m3/h, head in m) points of a data sheet; the first at no flow.

    A curve that rises anywhere is refused: it may cross the system's curve twice, and then no one flow is
    right. Past the last point the last line goes on down to no head; see `known_to_m3_h`.
    """

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if len(self.points) < 2 or self.points[0][0] != 0:
            raise OutOfRange("points", self.points, "two points or more, the first at no flow")
        for (flow, head), (more, lower) in pairwise(self.points):
            positive("flow step", checked("flow", more, 0, 1000) - flow)
            if not 0 <= checked("head", lower) <= checked("head", head, 0, 100):
                raise OutOfRange("points", self.points, "of a head that never rises with the flow")
        if self.points[-1][1] >= self.points[-2][1]:
            raise OutOfRange("points", self.points, "falling at the end, or the greatest flow is not known")

    @property
    def shutoff_head_m(self) -> float:
        return self.points[0][1]

    @property
    def known_to_m3_h(self) -> float:
        """Flow of the last point: beyond it the curve is only continued."""
        return self.points[-1][0]

    @property
    def max_flow_m3_h(self) -> float:
        (flow, head), (more, lower) = self.points[-2:]
        return more + lower * (more - flow) / (head - lower)

    def head_m(self, flow_m3_h: float) -> float:
        """Head [m] at a flow of 0 to the greatest flow."""
        most = self.max_flow_m3_h
        flows, heads = zip(*self.points, (most, 0.0), strict=True)
        return float(np.interp(checked("flow_m3_h", flow_m3_h, 0, most), flows, heads))

    def weakened(self, share: float) -> "PointCurve":
        """The same pump with `share` of its head left at every flow (above 0; above 1 for a stronger one)."""
        left = positive("share", share)
        return PointCurve(tuple((flow, head * left) for flow, head in self.points))


PumpCurve = ParabolicCurve | PointCurve


@dataclass(frozen=True)
class Pump:
    """A pump: its curve and the power [W] on its plate (None if not known)."""

    curve: PumpCurve
    power_w: float | None = None
    name: str = "Pump"

    def __post_init__(self) -> None:
        if self.power_w is not None:
            positive("power_w", self.power_w, 20_000)

    def energy_kwh(self, days: float) -> float | None:
        """Electricity [kWh] of running without a break. The plate's power is taken: what a small pump draws
        changes little with its flow (common practice, no source)."""
        return None if self.power_w is None else self.power_w / 1000 * 24 * checked("days", days, 0)
