"""What a bucket test says: the flow to expect for the solids held in the stones, and what may explain a lower one.

One flow cannot tell clogged stones from a fouled strainer or a worn pump: all three fit. They are told apart by
cleaning the quick one and measuring again.
"""

from dataclasses import dataclass, replace

from fluids.numerics import brenth

from filtration.hydraulics.deposit import capacity_kg
from filtration.hydraulics.design import Design
from filtration.hydraulics.operating_point import Fault, heads_at, operating_point
from filtration.hydraulics.water import velocity_head_m, velocity_m_s
from refuge.errors import OutOfRange, positive


@dataclass(frozen=True)
class FlowLoss:
    """What each cause alone must be to explain a measured flow.

    missing_head_m: head that something now takes which it did not take when new. held_kg: dry solids between
    the stones (None: even full pores would not slow it so far). strainer_k: loss on the inlet pipe's velocity head. pump_share: of its head left.
    """

    share_of_new: float
    missing_head_m: float
    held_kg: float | None
    strainer_k: float
    pump_share: float


def expected_flow_m3_h(design: Design, held_kg: float) -> float:
    """Flow [m3/h] that a bucket test should show with `held_kg` of dry solids between the stones."""
    return operating_point(design, Fault(held_kg=held_kg)).flow_m3_h


def calibrated(design: Design, commissioning_flow_m3_h: float) -> Design:
    """The design with the flow it had when new: a loss added to the inlet, or a stronger pump.

    Raises OutOfRange for a flow beyond the pump's greatest.
    """
    flow = _within_curve(design, commissioning_flow_m3_h)
    surplus = design.pump.curve.head_m(flow) - heads_at(design, flow).total
    if surplus >= 0:
        k = surplus / velocity_head_m(velocity_m_s(flow, design.inlet.area_m2))
        return replace(design, inlet=replace(design.inlet, extra_k=design.inlet.extra_k + k))
    share = heads_at(design, flow).total / design.pump.curve.head_m(flow)
    return replace(design, pump=replace(design.pump, curve=design.pump.curve.weakened(share)))


def explain_flow(design: Design, measured_m3_h: float, commissioning_m3_h: float) -> FlowLoss:
    """Which blockage would explain a flow measured now against the one measured when the filter was new."""
    new = calibrated(design, commissioning_m3_h)
    flow = _within_curve(new, measured_m3_h)
    heads, lifted = heads_at(new, flow), new.pump.curve.head_m(flow)
    missing = lifted - heads.total
    velocity_head = velocity_head_m(velocity_m_s(flow, design.inlet.area_m2))
    return FlowLoss(
        share_of_new=flow / commissioning_m3_h,
        missing_head_m=missing,
        held_kg=_held_for(new, flow, missing),
        strainer_k=max(0.0, missing / velocity_head),
        pump_share=heads.total / lifted,
    )


def _within_curve(design: Design, flow_m3_h: float) -> float:
    flow = positive("flow_m3_h", flow_m3_h)
    most = design.pump.curve.max_flow_m3_h
    if flow >= most:
        raise OutOfRange("flow_m3_h", flow_m3_h, f"below {most:g}, the pump's greatest flow")
    return flow


def _held_for(design: Design, flow: float, missing: float) -> float | None:
    """Solids [kg] whose extra loss in the stones at `flow` is `missing` [m]."""
    most = capacity_kg(design.layers, design.section_m2) * (1 - 1e-9)
    clean = heads_at(design, flow).media

    def short(held: float) -> float:
        return heads_at(design, flow, Fault(held_kg=held)).media - clean - missing

    if missing <= 0:
        return 0.0
    return float(brenth(short, 0.0, most, xtol=1e-9)) if short(most) > 0 else None
