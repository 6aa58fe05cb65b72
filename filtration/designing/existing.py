"""A design for a filter that stands already, of which only some sizes were ever written down."""

from dataclasses import dataclass

from filtration.designing.words import distance, length
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import Container, Design, Tank
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import Pipe, Valve
from filtration.hydraulics.pump import ParabolicCurve, Pump

# Assumptions for what nobody writes down (common practice, no source).
INLET_M, INLET_ELBOWS, RETURN_M, RETURN_ELBOWS = 3.0, 3, 1.0, 1
LIP_BELOW_RIM_M, LIP_ABOVE_STONES_M, LIP_ABOVE_WATER_M = 0.10, 0.03, 0.30


@dataclass(frozen=True)
class Reconstruction:
    """The design, or None and what is missing. assumed: what was taken for granted, as sentences with marks."""

    design: Design | None
    missing: tuple[str, ...]
    assumed: tuple[str, ...]


def reconstruct(
    *,
    container: Container,
    void_height_m: float,
    layers: tuple[BedLayer, ...],
    tank: Tank,
    temperature_c: float,
    max_flow_m3_h: float | None,
    shutoff_head_m: float | None,
    power_w: float | None = None,
    inlet_bore_m: float | None = None,
    return_bore_m: float | None = None,
) -> Reconstruction:
    """A design from the sizes that a filter's record holds. What the sums cannot do without is never guessed.

    Where the flow was measured when new, put the result through `blockage.calibrated`: that takes most of what
    is assumed here out again.
    """
    needed = {
        "the pump's greatest flow": max_flow_m3_h,
        "the pump's head at no flow": shutoff_head_m,
        "the inlet's bore": inlet_bore_m,
        "the return's bore": return_bore_m,
        "the layers of stone": layers or None,
    }
    missing = tuple(name for name, value in needed.items() if value is None)
    if (
        max_flow_m3_h is None
        or shutoff_head_m is None
        or inlet_bore_m is None
        or return_bore_m is None
        or missing
    ):
        return Reconstruction(None, missing, ())
    lip = _lip_m(container, void_height_m, layers)
    design = Design(
        container=container,
        void_height_m=void_height_m,
        layers=layers,
        pump=Pump(ParabolicCurve(shutoff_head_m, max_flow_m3_h), power_w),
        inlet=Pipe(inlet_bore_m, INLET_M, fittings=(("elbow_90", INLET_ELBOWS),), valve=Valve()),
        back=Return(Pipe(return_bore_m, RETURN_M, fittings=(("elbow_90", RETURN_ELBOWS),))),
        overflow_height_m=lip,
        floor_above_water_m=LIP_ABOVE_WATER_M - lip,
        tank=tank,
        temperature_c=temperature_c,
    )
    return Reconstruction(design, (), _assumed(lip))


def _lip_m(container: Container, void_height_m: float, layers: tuple[BedLayer, ...]) -> float:
    """A little under the rim, but over the stones where they reach higher."""
    stones = void_height_m + sum(layer.depth_m for layer in layers) + LIP_ABOVE_STONES_M
    usual = container.height_m - LIP_BELOW_RIM_M
    return min(max(usual, stones), container.height_m)


def _assumed(lip_m: float) -> tuple[str, ...]:
    return (
        f"The overflow's lip lies {length(lip_m)} above the floor and {length(LIP_ABOVE_WATER_M)} above the tank's water.",
        f"The inlet is {distance(INLET_M)} of smooth plastic pipe with {INLET_ELBOWS} elbows and an open ball valve.",
        f"The return is {distance(RETURN_M)} of it with {RETURN_ELBOWS} elbow.",
        "The pump's curve is a parabola between its two ends.",
    )
