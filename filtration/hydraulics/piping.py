"""Head lost in pipes, fittings and valves. Friction and fittings by the fluids library."""

import math
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from fluids.fittings import Hooper2K, exit_normal
from fluids.friction import friction_factor

from filtration.hydraulics.water import reynolds, velocity_head_m, velocity_m_s
from refuge.errors import OutOfRange, checked, positive


@dataclass(frozen=True)
class Material:
    """What a pipe is made of; roughness in m."""

    key: str
    name: str
    roughness_m: float
    source: str


_DRAWN = "Moody 1944, drawn tubing, 0.0015 mm (as in fluids, White's table)"
MATERIALS = (
    Material("pvc", "Smooth plastic pipe (PVC)", 1.5e-6, _DRAWN),
    Material("polyethylene", "Polyethylene pipe", 1.5e-6, _DRAWN),
    Material(
        "smooth_hose", "Smooth hose", 1e-5, "recalled, not re-read: rubber and smooth hose 0.006-0.07 mm"
    ),
    Material("ribbed_hose", "Ribbed pond hose", 1e-3, "assumption: about a third of the depth of its ribs"),
    Material("slimed_plastic", "Plastic pipe with a coat of slime", 1.5e-4, "assumption: as galvanised iron"),
    Material("galvanised", "Galvanised iron", 1.52e-4, "Moody 1944, 0.15 mm (as in fluids, White's table)"),
)


# Inside diameters [m] of Schedule 40 plastic pipe, 3/4 to 6 in: ASTM D1785 (recalled, not re-read; 1 in to 2 in
# agree with the Illinois friction table).
STANDARD_BORES_M = tuple(inch * 0.0254 for inch in (0.824, 1.049, 1.380, 1.610, 2.067, 3.068, 4.026, 6.065))


@dataclass(frozen=True)
class Fitting:
    """A pipe fitting and its name in the two-K table of Hooper 1981, Chem. Eng. 88(17), 96, in fluids."""

    key: str
    name: str
    hooper: str


FITTINGS = (
    Fitting("elbow_90", "90° elbow", "Elbow, 90°, Standard (R/D = 1), Screwed"),
    Fitting("sweep_90", "90° long bend", "Elbow, 90°, Long-radius (R/D = 1.5), All types"),
    Fitting("elbow_45", "45° elbow", "Elbow, 45°, Standard (R/D = 1), All types"),
    Fitting("tee_run", "Tee, straight through", "Tee, Run, Screwed"),
    Fitting("tee_branch", "Tee, round the corner", "Elbow, Used as, Standard, Screwed"),
    Fitting("check_valve", "Swing check valve", "Valve, Check, Swing"),
)

Entry = TypeVar("Entry", Material, Fitting)

# (share closed, K), interpolated in log K. Gate: LMNO Engineering, table of minor-loss K (read). Ball: plug cock
# by angle, Idelchik, Handbook of Hydraulic Resistance (recalled, not re-read); a ball valve is taken alike.
VALVES: dict[str, tuple[tuple[float, float], ...]] = {
    "gate": ((0, 0.15), (0.25, 0.26), (0.5, 2.1), (0.75, 17.0)),
    "ball": (
        (0, 0.05),
        (1 / 9, 0.29),
        (2 / 9, 1.56),
        (1 / 3, 5.47),
        (4 / 9, 17.3),
        (5 / 9, 52.6),
        (2 / 3, 206.0),
    ),
}


def material(key: str) -> Material:
    """The material with this key; OutOfRange if there is none."""
    return _entry(MATERIALS, key)


def fitting(key: str) -> Fitting:
    """The fitting with this key; OutOfRange if there is none."""
    return _entry(FITTINGS, key)


def _entry(table: tuple[Entry, ...], key: str) -> Entry:
    for entry in table:
        if entry.key == key:
            return entry
    raise OutOfRange("key", key, "one of " + ", ".join(entry.key for entry in table))


@dataclass(frozen=True)
class Valve:
    """A valve that may be part closed. open_share: 1 is open; a gate's travel, a ball's angle over 90°."""

    kind: str = "ball"
    open_share: float = 1.0

    def __post_init__(self) -> None:
        if self.kind not in VALVES:
            raise OutOfRange("kind", self.kind, "one of " + ", ".join(VALVES))
        checked("open_share", self.open_share, 1 - VALVES[self.kind][-1][0], 1)

    @property
    def k(self) -> float:
        """Loss coefficient [-] on the pipe's velocity head."""
        closed, coefficients = zip(*VALVES[self.kind], strict=True)
        return math.exp(float(np.interp(1 - self.open_share, closed, np.log(coefficients))))


def open_share_for(kind: str, k: float) -> float | None:
    """How far open a valve of this kind has the loss coefficient k; None if it cannot be set so."""
    closed, coefficients = zip(*VALVES[kind], strict=True)
    if not coefficients[0] <= k <= coefficients[-1]:
        return None
    return 1 - float(np.interp(math.log(k), np.log(coefficients), closed))


@dataclass(frozen=True)
class Pipe:
    """One run of pipe of one bore. fittings: (key, how many). extra_k: any other loss on its velocity head,
    such as a fouled strainer."""

    bore_m: float
    length_m: float
    material: str = "pvc"
    fittings: tuple[tuple[str, int], ...] = ()
    valve: Valve | None = None
    extra_k: float = 0.0

    def __post_init__(self) -> None:
        positive("bore_m", self.bore_m, 1)
        checked("length_m", self.length_m, 0, 1000)
        checked("extra_k", self.extra_k, 0)
        material(self.material)
        for key, count in self.fittings:
            fitting(key)
            checked("count", count, 0, 100)

    @property
    def area_m2(self) -> float:
        return math.pi / 4 * self.bore_m**2

    def widened(self, bore_m: float) -> "Pipe":
        """The same run with another bore. What else loses head, such as the strainer, takes as much as before."""
        return replace(self, bore_m=bore_m, extra_k=self.extra_k * (bore_m / self.bore_m) ** 4)


@dataclass(frozen=True)
class PipeLoss:
    """Head [m] lost along a pipe. fittings_m includes the loss where the pipe ends in still water."""

    friction_m: float = 0.0
    fittings_m: float = 0.0
    valve_m: float = 0.0

    @property
    def total_m(self) -> float:
        return self.friction_m + self.fittings_m + self.valve_m


def friction_slope(flow_m3_h: float, bore_m: float, roughness_m: float, temperature_c: float) -> float:
    """Head lost per length of full pipe [m/m]: Darcy-Weisbach, factor by fluids (Clamond's solution of Colebrook,
    or 64/Re when laminar)."""
    if checked("flow_m3_h", flow_m3_h, 0) == 0:
        return 0.0
    velocity = velocity_m_s(flow_m3_h, math.pi / 4 * positive("bore_m", bore_m) ** 2)
    factor = friction_factor(Re=reynolds(velocity, bore_m, temperature_c), eD=roughness_m / bore_m)
    return float(factor) / bore_m * velocity_head_m(velocity)


def fittings_k(pipe: Pipe, flow_m3_h: float, temperature_c: float) -> float:
    """Sum of the fittings' loss coefficients [-] at a flow above 0; they rise as the flow turns laminar."""
    number = reynolds(velocity_m_s(flow_m3_h, pipe.area_m2), pipe.bore_m, temperature_c)
    return sum(
        count * float(Hooper2K(Di=pipe.bore_m / 0.0254, Re=number, name=fitting(key).hooper))
        for key, count in pipe.fittings
    )


def pipe_loss(pipe: Pipe, flow_m3_h: float, temperature_c: float) -> PipeLoss:
    """Head lost in a full pipe that ends in still water, at a flow of 0 or more."""
    if checked("flow_m3_h", flow_m3_h, 0) == 0:
        return PipeLoss()
    head = velocity_head_m(velocity_m_s(flow_m3_h, pipe.area_m2))
    slope = friction_slope(flow_m3_h, pipe.bore_m, material(pipe.material).roughness_m, temperature_c)
    minor = fittings_k(pipe, flow_m3_h, temperature_c) + float(exit_normal()) + pipe.extra_k
    return PipeLoss(slope * pipe.length_m, minor * head, (pipe.valve.k if pipe.valve else 0.0) * head)
