"""The one flow at which the pump lifts what the filter asks for, and what that flow does on its way."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from fluids.numerics import brenth

from filtration.hydraulics.bed import LayerFlow, grate_loss_m, layer_flow, lift_margin
from filtration.hydraulics.deposit import porosities
from filtration.hydraulics.design import Design
from filtration.hydraulics.overflow import Return, water_over_lip_m
from filtration.hydraulics.piping import PipeLoss, pipe_loss
from filtration.hydraulics.pump import PumpCurve
from filtration.hydraulics.water import GRAVITY, density_kg_m3, velocity_m_s
from refuge.errors import checked

MONTH_DAYS = 365.25 / 12


@dataclass(frozen=True)
class Fault:
    """What is wrong with a filter at this moment; nothing by default.

    held_kg: dry solids between the stones. media_factor: the stones' loss of head times this. blocked_share:
    of each return. tank_drop_m: the tank's water below its line. pump_share: head left of the pump's.
    """

    held_kg: float = 0.0
    media_factor: float = 1.0
    blocked_share: float | None = None
    tank_drop_m: float = 0.0
    pump_share: float = 1.0

    def __post_init__(self) -> None:
        checked("held_kg", self.held_kg, 0)
        checked("media_factor", self.media_factor, 0)
        checked("tank_drop_m", self.tank_drop_m, 0)
        if self.blocked_share is not None:
            checked("blocked_share", self.blocked_share, 0, 1)


SOUND = Fault()


@dataclass(frozen=True)
class Heads:
    """Each part of the head that the pump must give [m]. layers: the stones, bottom first."""

    static: float
    over_lip: float
    pipe: PipeLoss
    grate: float
    layers: tuple[LayerFlow, ...]
    layer_losses: tuple[float, ...]

    @property
    def media(self) -> float:
        return sum(self.layer_losses)

    @property
    def total(self) -> float:
        return self.static + self.over_lip + self.pipe.total_m + self.grate + self.media


@dataclass(frozen=True)
class OperatingPoint:
    """The flow [m3/h] and what follows from it. A pump that lifts nothing: flow 0 and `short_by_m` of head.

    turnovers_per_hour: of the tank's volume. void_velocity, pore velocities in `heads.layers`: m/s.
    contact_s: time in the pores of each layer. lift_margin: see bed.lift_margin.
    known: the flow lies within the curve that the maker gives.
    """

    flow_m3_h: float
    heads: Heads
    short_by_m: float
    turnovers_per_hour: float
    void_velocity_m_s: float
    inlet_velocity_m_s: float
    contact_s: tuple[float, ...]
    lift_margin: float
    known: bool

    @property
    def lifts(self) -> bool:
        return self.flow_m3_h > 0

    @property
    def media_contact_s(self) -> float:
        return sum(self.contact_s)


def heads_at(design: Design, flow_m3_h: float, fault: Fault = SOUND) -> Heads:
    """What the filter asks of the pump at a flow [m3/h] of 0 or more; infinite if the return is shut."""
    lip = design.lip_above_water_m + fault.tank_drop_m
    over = water_over_lip_m(flow_m3_h, back_now(design, fault), lip, design.temperature_c)
    return _heads(design, flow_m3_h, lip, over, fault)


def back_now(design: Design, fault: Fault) -> Return:
    """The return with the blockage that the fault says."""
    share = design.back.blocked_share if fault.blocked_share is None else fault.blocked_share
    return replace(design.back, blocked_share=share)


def _heads(design: Design, flow: float, static: float, over_lip: float, fault: Fault) -> Heads:
    area, celsius = design.section_m2, design.temperature_c
    left = porosities(design.layers, area, fault.held_kg)
    layers = tuple(
        layer_flow(layer, flow, area, celsius, e) for layer, e in zip(design.layers, left, strict=True)
    )
    grate = grate_loss_m(design.grate_open_share, flow, area) if design.grate_open_share else 0.0
    losses = tuple(layer.loss_m * fault.media_factor for layer in layers)
    return Heads(static, over_lip, pipe_loss(design.inlet_run, flow, celsius), grate, layers, losses)


def operating_point(design: Design, fault: Fault = SOUND) -> OperatingPoint:
    """Where pump and filter agree, with walls as high as it takes (see faults.overtopping).

    The pump's head only falls and the filter's only rises with the flow, so there is one such flow, and a
    bracketed root finds it. With the return shut there is none.
    """
    if back_now(design, fault).is_shut:
        return _point(design, 0.0, 0.0, fault)
    at_rest = _curve(design, fault).head_m(0.0) - heads_at(design, 0.0, fault).total
    if at_rest <= 0:
        return _point(design, 0.0, -at_rest, fault)
    return _point(
        design, _matched(design, fault, lambda flow: heads_at(design, flow, fault).total), 0.0, fault
    )


def flow_to_level_m3_h(design: Design, level_above_water_m: float, fault: Fault = SOUND) -> float:
    """Flow [m3/h] with the container's water held at a level over the tank's water line, as at its rim."""
    static = level_above_water_m + fault.tank_drop_m
    if _curve(design, fault).head_m(0.0) <= static:
        return 0.0
    return _matched(design, fault, lambda flow: _heads(design, flow, static, 0.0, fault).total)


def _curve(design: Design, fault: Fault) -> PumpCurve:
    curve = design.pump.curve
    return curve if fault.pump_share == 1 else curve.weakened(fault.pump_share)


def _matched(design: Design, fault: Fault, asked: Callable[[float], float]) -> float:
    curve = _curve(design, fault)

    def surplus(flow: float) -> float:
        return curve.head_m(flow) - asked(flow)

    most = curve.max_flow_m3_h
    return most if surplus(most) >= 0 else float(brenth(surplus, 0.0, most, xtol=1e-10))


def _point(design: Design, flow: float, short_by: float, fault: Fault) -> OperatingPoint:
    heads = heads_at(design, flow, fault)
    left = porosities(design.layers, design.section_m2, fault.held_kg)
    return OperatingPoint(
        flow_m3_h=flow,
        heads=heads,
        short_by_m=short_by,
        turnovers_per_hour=flow / design.tank.volume_m3,
        void_velocity_m_s=velocity_m_s(flow, design.section_m2),
        inlet_velocity_m_s=velocity_m_s(flow, design.inlet.area_m2),
        contact_s=_contact(design, flow, left),
        lift_margin=lift_margin(design.layers, heads.layer_losses),
        known=flow <= design.pump.curve.known_to_m3_h,
    )


def _contact(design: Design, flow: float, left: Sequence[float]) -> tuple[float, ...]:
    volumes = (design.section_m2 * x.depth_m * e for x, e in zip(design.layers, left, strict=True))
    return tuple(volume / flow * 3600 if flow else math.inf for volume in volumes)


def monthly_cost(design: Design, price_per_kwh: float) -> float | None:
    """Electricity of a month, in the money of the price; None if the pump's power is not known."""
    energy = design.pump.energy_kwh(MONTH_DAYS)
    return None if energy is None else energy * checked("price_per_kwh", price_per_kwh, 0)


def water_power_w(point: OperatingPoint, temperature_c: float) -> float:
    """Power [W] that the water takes up; over the plate's power it is the efficiency of the whole pump."""
    return density_kg_m3(temperature_c) * GRAVITY * point.flow_m3_h / 3600 * point.heads.total
