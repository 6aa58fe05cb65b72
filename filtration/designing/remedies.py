"""What would do, tried out: the next pipe that removes a fault."""

from collections.abc import Iterator
from dataclasses import replace

from filtration.designing.words import flow, length, percent
from filtration.hydraulics.design import Design
from filtration.hydraulics.faults import overtopping
from filtration.hydraulics.operating_point import Fault, heads_at, operating_point
from filtration.hydraulics.overflow import STANDPIPE
from filtration.hydraulics.piping import STANDARD_BORES_M, open_share_for
from filtration.hydraulics.water import velocity_head_m, velocity_m_s


def return_that_holds(design: Design) -> tuple[float, int] | None:
    """Bore [m] and number of the least returns that do not overtop when half blocked, with the same lip.

    None if no standard pipe that fits under the rim does.
    """
    for count in range(design.back.count, design.back.count + 3):
        for bore in _wider(design.back.pipe.bore_m):
            if design.back.mouth != STANDPIPE and bore > design.freeboard_over_lip_m:
                break
            back = replace(design.back, pipe=replace(design.back.pipe, bore_m=bore), count=count)
            if not overtopping(replace(design, back=back), Fault(blocked_share=0.5)).overtops:
                return bore, count
    return None


def inlet_that_is_slow_enough(design: Design, speed_m_s: float) -> float | None:
    """Least standard bore [m] of the inlet in which water runs no faster; None if none is wide enough."""
    for bore in _wider(design.inlet.bore_m):
        wider = replace(design, inlet=design.inlet.widened(bore))
        if operating_point(wider).inlet_velocity_m_s <= speed_m_s:
            return bore
    return None


def valve_for_flow(design: Design, flow_m3_h: float) -> float | None:
    """How far open (0 to 1) the inlet's valve brings the flow down to `flow_m3_h`; None if it cannot, or there is none."""
    valve = design.inlet.valve
    if valve is None or not 0 < flow_m3_h < design.pump.curve.max_flow_m3_h:
        return None
    surplus = design.pump.curve.head_m(flow_m3_h) - heads_at(design, flow_m3_h).total
    moving = velocity_head_m(velocity_m_s(flow_m3_h, design.inlet.area_m2))
    return open_share_for(valve.kind, valve.k + surplus / moving)


def _wider(bore_m: float) -> Iterator[float]:
    """This bore, and the standard ones above it."""
    yield bore_m
    yield from (bore for bore in STANDARD_BORES_M if bore > bore_m * 1.02)


def return_words(design: Design) -> str:
    found = return_that_holds(design)
    if found is None:
        return "No standard pipe fits between this lip and the rim that would hold it: set the lip lower."
    bore, count = found
    pipes = "A return" if count == 1 else f"{count} returns"
    return f"{pipes} of {length(bore)} bore would hold it even when half blocked."


def inlet_words(design: Design, speed_m_s: float) -> str:
    bore = inlet_that_is_slow_enough(design, speed_m_s)
    return "Several inlets side by side." if bore is None else f"An inlet of {length(bore)} bore."


def throttle_words(design: Design, flow_m3_h: float) -> str:
    share = valve_for_flow(design, flow_m3_h)
    if share is None:
        return "A smaller pump."
    return f"A smaller pump, or the inlet valve about {percent(share)} open: that leaves {flow(flow_m3_h)}."
