"""The way back: how high the water stands over the overflow's lip, and what the return pipe carries.

An outlet in a wall is a small culvert, so the Federal Highway Administration's equations serve (Hydraulic
Design of Highway Culverts, HDS-5, 3rd ed. 2012, A.2.1 form 1, A.2.2, tables A.1 and C.2): the water stands as high as the worse of two asks, the
mouth (inlet control) or the whole pipe (outlet control). They were fitted to larger pipes and are used here by
their dimensionless form; drops and thin films below some millimetres are beyond them.
"""

import math
from dataclasses import dataclass, replace

from fluids.numerics import brenth
from fluids.open_flow import V_Manning

from filtration.hydraulics.piping import Pipe, fittings_k, friction_slope, material
from filtration.hydraulics.water import GRAVITY, velocity_head_m, velocity_m_s
from refuge.errors import OutOfRange, checked, positive

SI_FACTOR = 1.811  # HDS-5: its equations are in feet; this turns Q / (A sqrt D) of SI into theirs
UNSUBMERGED, SUBMERGED = 3.5, 4.0
# Sewer coated with slime, bends and connections, least value: Chow 1959, as in fluids.
MANNING_N = 0.012
# Weir along the rim of a standing pipe, 3.27 sqrt(ft)/s for a sharp crest (City of Everett, stormwater manual,
# vol. III, riser equations, 2014, read); the mouth as an orifice, 0.6 (common practice, no source).
RIM_WEIR = 3.27 * math.sqrt(0.3048)
ORIFICE = 0.6


@dataclass(frozen=True)
class Mouth:
    """A shape of inlet: HDS-5 constants K, M, c, Y and the entrance loss of the full pipe."""

    name: str
    k: float
    m: float
    c: float
    y: float
    entrance_k: float


# Square edge with headwall, and thin edge projecting (the corrugated-metal row): HDS-5 tables A.1 and C.2.
MOUTHS = {
    "flush": Mouth("Bulkhead flush with the wall", 0.0098, 2.0, 0.0398, 0.67, 0.5),
    "projecting": Mouth("Pipe that sticks into the water", 0.0340, 1.5, 0.0553, 0.54, 0.9),
}
STANDPIPE = "standpipe"  # a pipe that stands upright in the water: its rim is the lip


@dataclass(frozen=True)
class Return:
    """The overflow and its pipe back to the tank. count: equal ones side by side.

    fall_m: how far the far end lies below the lip; None: it ends at the tank's water line. blocked_share: of
    the section, by leaves or slime; the rest is taken as a smaller round pipe with the same lip.
    """

    pipe: Pipe
    mouth: str = "flush"
    count: int = 1
    fall_m: float | None = None
    blocked_share: float = 0.0

    def __post_init__(self) -> None:
        if self.mouth not in (*MOUTHS, STANDPIPE):
            raise OutOfRange("mouth", self.mouth, "one of " + ", ".join((*MOUTHS, STANDPIPE)))
        checked("count", self.count, 1, 20)
        checked("blocked_share", self.blocked_share, 0, 1)
        if self.fall_m is not None:
            checked("fall_m", self.fall_m, 0, 100)

    @property
    def is_shut(self) -> bool:
        return self.blocked_share >= 1

    @property
    def open_pipe(self) -> Pipe:
        """The pipe with the bore that the blockage leaves."""
        return replace(self.pipe, bore_m=self.pipe.bore_m * math.sqrt(1 - self.blocked_share))


def segment(bore_m: float, depth_m: float) -> tuple[float, float, float]:
    """Area [m2], wetted perimeter [m] and width of the surface [m] of water `depth_m` deep in a round pipe."""
    angle = 2 * math.acos(1 - 2 * checked("depth_m", depth_m, 0, positive("bore_m", bore_m)) / bore_m)
    return (
        bore_m**2 / 8 * (angle - math.sin(angle)),
        bore_m * angle / 2,
        bore_m * max(0.0, math.sin(angle / 2)),
    )


def critical_depth_m(flow_m3_h: float, bore_m: float) -> float:
    """Depth [m] at which Q2 T = g A3 in a round pipe; near the crown for a flow that would fill it."""
    flow = checked("flow_m3_h", flow_m3_h, 0) / 3600

    def surplus(depth: float) -> float:
        area, _, width = segment(bore_m, depth)
        return GRAVITY * area**3 - flow**2 * width

    low, high = bore_m * 1e-4, bore_m * 0.9999
    if surplus(low) >= 0:
        return 0.0 if flow == 0 else low
    return float(brenth(surplus, low, high)) if surplus(high) > 0 else high


def mouth_head_m(flow_m3_h: float, bore_m: float, mouth: str = "flush") -> float:
    """Water [m] over the lip when the mouth rules; see the module for the source.

    Between the two forms HDS-5 leaves a gap, bridged by a straight line. The small help of a steep pipe is
    left out.
    """
    if checked("flow_m3_h", flow_m3_h, 0) == 0:
        return 0.0
    if mouth == STANDPIPE:
        return _rim_head_m(flow_m3_h / 3600, bore_m)
    strength = _strength(flow_m3_h, bore_m)
    if strength <= UNSUBMERGED:
        return _weir_head_m(flow_m3_h, bore_m, MOUTHS[mouth])
    if strength >= SUBMERGED:
        return _orifice_head_m(strength, bore_m, MOUTHS[mouth])
    at_low = _weir_head_m(flow_m3_h * UNSUBMERGED / strength, bore_m, MOUTHS[mouth])
    at_high = _orifice_head_m(SUBMERGED, bore_m, MOUTHS[mouth])
    return at_low + (at_high - at_low) * (strength - UNSUBMERGED) / (SUBMERGED - UNSUBMERGED)


def _strength(flow_m3_h: float, bore_m: float) -> float:
    return SI_FACTOR * flow_m3_h / 3600 / (math.pi / 4 * math.pow(bore_m, 2.5))


def _weir_head_m(flow_m3_h: float, bore_m: float, mouth: Mouth) -> float:
    depth = critical_depth_m(flow_m3_h, bore_m)
    area = segment(bore_m, depth)[0]
    energy = depth + velocity_head_m(velocity_m_s(flow_m3_h, area))
    return energy + bore_m * mouth.k * math.pow(_strength(flow_m3_h, bore_m), mouth.m)


def _orifice_head_m(strength: float, bore_m: float, mouth: Mouth) -> float:
    return bore_m * (mouth.c * strength**2 + mouth.y)


def _rim_head_m(flow: float, bore_m: float) -> float:
    weir = math.pow(flow / (RIM_WEIR * math.pi * bore_m), 2 / 3)
    orifice = velocity_head_m(flow / (ORIFICE * math.pi / 4 * bore_m**2))
    return max(weir, orifice)


def pipe_head_m(flow_m3_h: float, back: Return, lip_above_water_m: float, temperature_c: float) -> float:
    """Water [m] over the lip when the whole pipe rules (it runs full); below 0 when it never would.

    The far end stands in the tank's water, or spills: then the surface there is taken midway between
    critical depth and the crown (HDS-5).
    """
    pipe = back.open_pipe
    if checked("flow_m3_h", flow_m3_h, 0) == 0:
        return -lip_above_water_m
    each = flow_m3_h / back.count
    entrance = MOUTHS[back.mouth].entrance_k if back.mouth in MOUTHS else MOUTHS["projecting"].entrance_k
    minor = (
        1
        + entrance
        + fittings_k(pipe, each, temperature_c)
        + (pipe.valve.k if pipe.valve else 0)
        + pipe.extra_k
    )
    friction = pipe.length_m * friction_slope(
        each, pipe.bore_m, material(pipe.material).roughness_m, temperature_c
    )
    lost = friction + minor * velocity_head_m(velocity_m_s(each, pipe.area_m2))
    return lost + _end_level_m(each, back, lip_above_water_m)


def _end_level_m(flow_m3_h: float, back: Return, lip_above_water_m: float) -> float:
    """Level [m over the lip] of the surface at the far end of the pipe."""
    if back.fall_m is None:
        return -lip_above_water_m
    bore = back.open_pipe.bore_m
    spilling = -back.fall_m + (critical_depth_m(flow_m3_h, bore) + bore) / 2
    return max(spilling, -lip_above_water_m)


def water_over_lip_m(flow_m3_h: float, back: Return, lip_above_water_m: float, temperature_c: float) -> float:
    """How high [m] the water stands over the lip for a flow [m3/h] to run back; infinity if it is shut.

    lip_above_water_m: of the tank that receives it; may be below 0, when the tank's water backs up.
    """
    if checked("flow_m3_h", flow_m3_h, 0) == 0:
        return max(0.0, -lip_above_water_m)
    if back.is_shut:
        return math.inf
    mouth = mouth_head_m(flow_m3_h / back.count, back.open_pipe.bore_m, back.mouth)
    return max(mouth, pipe_head_m(flow_m3_h, back, lip_above_water_m, temperature_c))


def carried_m3_h(level_m: float, back: Return, lip_above_water_m: float, temperature_c: float) -> float:
    """Flow [m3/h] that runs back with the water `level_m` over the lip."""
    if back.is_shut or level_m <= max(0.0, -lip_above_water_m):
        return 0.0

    def short(flow: float) -> float:
        return water_over_lip_m(flow, back, lip_above_water_m, temperature_c) - level_m

    high = 1.0
    while short(high) < 0:
        high *= 2
    return float(brenth(short, 0.0, high, xtol=1e-9))


def full_slope_flow_m3_h(bore_m: float, slope: float, n: float = MANNING_N) -> float:
    """Flow [m3/h] of a round pipe just full at a slope [m/m] without pressure (Manning, by fluids)."""
    return _manning_m3_h(bore_m, bore_m, slope, n)


def _manning_m3_h(bore_m: float, depth_m: float, slope: float, n: float) -> float:
    area, wetted, _ = segment(bore_m, depth_m)
    if wetted == 0:
        return 0.0
    return float(V_Manning(area / wetted, positive("slope", slope), positive("n", n))) * area * 3600


def fill_share(flow_m3_h: float, bore_m: float, slope: float, n: float = MANNING_N) -> float | None:
    """Depth over bore (0 to 1) of a flow [m3/h] that runs part-full down a slope [m/m]; None if it fills the pipe.

    Normal depth by Manning's equation, n the same at all depths. Above 0.82 a pipe is called full: a round pipe
    carries that much again when full, and would swing between the two.
    """
    flow = checked("flow_m3_h", flow_m3_h, 0)
    if flow == 0:
        return 0.0
    top, least = 0.82, 1e-6
    if flow <= _manning_m3_h(bore_m, bore_m * least, slope, n):
        return least
    if flow > _manning_m3_h(bore_m, bore_m * top, slope, n):
        return None
    return float(brenth(lambda share: _manning_m3_h(bore_m, bore_m * share, slope, n) - flow, least, top))


def least_lip_height_m(flow_m3_h: float, back: Return, temperature_c: float) -> float:
    """How far [m] the lip must at least lie above the tank's water, so that the pipe never backs up to it.

    The mouth then alone decides the level. Common practice on top of it: a fall of 1 in 50 along the pipe.
    """
    if back.is_shut:
        return math.inf
    submerged = replace(back, fall_m=None)
    mouth = mouth_head_m(flow_m3_h / back.count, back.open_pipe.bore_m, back.mouth)
    return max(0.0, pipe_head_m(flow_m3_h, submerged, 0.0, temperature_c) - mouth)
