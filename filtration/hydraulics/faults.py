"""What a filter does when something fails: a blocked return, clogged stones, a pump that stops."""

import math
from dataclasses import dataclass, replace

from fluids.numerics import brenth

from filtration.hydraulics.design import CHECK_VALVE, Design
from filtration.hydraulics.evaporation import DRY_WIND, ROOM, Air, daily_evaporation_m3, days_until_dry
from filtration.hydraulics.operating_point import (
    SOUND,
    Fault,
    back_now,
    flow_to_level_m3_h,
    heads_at,
    operating_point,
)
from filtration.hydraulics.overflow import carried_m3_h

STEPS = 16
NO_SPILL_M3_H = 1e-4
ON_THE_PIPE_M = 0.005  # heights are typed in whole centimetres or tenths of an inch


@dataclass(frozen=True)
class Overtopping:
    """Whether water leaves over the container's rim.

    level_m: over the lip, at most to the rim. spill_m3_h: at first. litres: that leave the circuit before the
    pump runs dry, or before the falling tank lets the return keep up; what fills the container up to its rim
    stays in it. hours_to_dry: until the pump draws air, with or without a spill; None if it never does.
    """

    overtops: bool
    level_m: float
    freeboard_m: float
    spill_m3_h: float
    litres: float
    hours_to_dry: float | None


def overtopping(design: Design, fault: Fault = SOUND) -> Overtopping:
    """What the level in the container does under a fault that comes while it runs.

    Clogged stones alone never overtop: they hold the water back below, in the pump's column, and the flow over
    the lip falls. A blocked return does, if it cannot carry the flow with the water at the rim.
    """
    room = design.freeboard_over_lip_m
    point = operating_point(design, fault)
    if point.lifts and point.heads.over_lip < room:
        over = point.heads.over_lip
        return Overtopping(False, over, room - over, 0.0, 0.0, None)
    before = _level_before_m(design)
    filled_at = _drop_m(design, before, room)
    if filled_at > design.tank.over_intake_m:
        return _dry_before_the_rim(design, fault, before)
    spill = _spill_m3_h(design, fault, filled_at)
    if spill <= NO_SPILL_M3_H:
        return Overtopping(False, min(point.heads.over_lip, room), 0.0, 0.0, 0.0, None)
    drop = _final_drop_m(design, fault, filled_at)
    litres = (drop - filled_at) * design.tank.surface_m2 * 1000
    hours = _hours_to_fall(design, fault, before, (filled_at, drop))
    return Overtopping(True, room, 0.0, spill, litres, hours if drop >= design.tank.over_intake_m else None)


def _level_before_m(design: Design) -> float:
    """Water over the lip before the fault came: as it runs, or at the lip where it never could run."""
    over = operating_point(design).heads.over_lip
    return over if 0 <= over < design.freeboard_over_lip_m else 0.0


def _drop_m(design: Design, low: float, high: float) -> float:
    """How far the tank falls while the container fills from `low` to `high` over the lip."""
    if high <= low:
        return 0.0
    lip = design.overflow_height_m
    top = min(lip + high, design.container.height_m)  # the sum of both may be a rounding above the rim
    return _litres_between(design, min(lip + low, top), top) / 1000 / design.tank.surface_m2


def _dry_before_the_rim(design: Design, fault: Fault, before: float) -> Overtopping:
    """A tank so small that the pump draws air before the container is full."""
    drop, room = design.tank.over_intake_m, design.freeboard_over_lip_m
    level = before + (room - before) * drop / _drop_m(design, before, room)
    net = _net_m3_h(design, fault, (before + level) / 2, drop / 2)
    hours = drop * design.tank.surface_m2 / net if net > NO_SPILL_M3_H else None
    return Overtopping(False, level, room - level, 0.0, 0.0, hours)


def _net_m3_h(design: Design, fault: Fault, level: float, drop: float) -> float:
    """What the pump lifts to a level over the lip [m], less what the return carries from there [m3/h], with the
    tank `drop` below its line."""
    fallen = replace(fault, tank_drop_m=fault.tank_drop_m + drop)
    lifted = flow_to_level_m3_h(design, design.lip_above_water_m + level, fallen)
    lip = design.lip_above_water_m + fallen.tank_drop_m
    return lifted - carried_m3_h(level, back_now(design, fault), lip, design.temperature_c)


def _spill_m3_h(design: Design, fault: Fault, drop: float) -> float:
    """Flow over the rim [m3/h] with the tank `drop` below its line."""
    return _net_m3_h(design, fault, design.freeboard_over_lip_m, drop)


def _final_drop_m(design: Design, fault: Fault, filled_at: float) -> float:
    """How far the tank falls: to the intake, or to where nothing worth naming spills any more."""
    deepest = design.tank.over_intake_m

    def spills(drop: float) -> float:
        return _spill_m3_h(design, fault, drop) - NO_SPILL_M3_H

    return deepest if spills(deepest) >= 0 else float(brenth(spills, filled_at, deepest, xtol=1e-6))


def _hours_to_fall(design: Design, fault: Fault, before: float, falls: tuple[float, float]) -> float:
    """Hours for the tank to fall: first while the container fills, then at the spill of each depth (midpoint rule)."""
    filled_at, drop = falls
    step = (drop - filled_at) / STEPS
    spilling = sum(
        step * design.tank.surface_m2 / _spill_m3_h(design, fault, filled_at + (i + 0.5) * step)
        for i in range(STEPS)
    )
    if filled_at == 0:  # no wall above the water: it spills at once
        return spilling
    middle = (before + design.freeboard_over_lip_m) / 2
    return spilling + filled_at * design.tank.surface_m2 / _net_m3_h(design, fault, middle, filled_at / 2)


@dataclass(frozen=True)
class BackSiphon:
    """What runs back through the inlet when the pump stops.

    litres: that run back. level_m: where the water in the container comes to rest, over its floor.
    tank_rise_m: of the tank's water. tank_overflows: it rises over its rim. bares_media: stones fall dry,
    whose bacteria then have hours. unguarded_litres, unguarded_rise_m, unguarded_overflows, unguarded_bares: the same
    without the guard, or with one that sticks.
    """

    litres: float
    level_m: float
    tank_rise_m: float
    tank_overflows: bool
    bares_media: bool
    unguarded_litres: float
    unguarded_rise_m: float
    unguarded_overflows: bool
    unguarded_bares: bool


def back_siphon(design: Design) -> BackSiphon:
    """Water that runs back when the pump stops, from the level at the operating flow.

    It ends where both waters stand level, at the inlet's mouth, at the siphon break's hole if the pipe climbs so
    high, or (check valve) at the lip, whichever is highest; above the lip it runs back by the return in any case.
    """
    over = operating_point(design).heads.over_lip
    start = min(design.overflow_height_m + over, design.container.height_m)
    stop = design.inlet_mouth_height_m
    if design.guard == CHECK_VALVE:
        stop = max(stop, min(design.overflow_height_m, start))
    elif (beyond := design.siphon_break_over_pipe_m) is not None and beyond <= ON_THE_PIPE_M:
        stop = max(stop, design.guard_height_m or 0.0)  # a siphon break always has one
    level = _resting_level_m(design, start, stop)
    free = _resting_level_m(design, start, design.inlet_mouth_height_m)
    litres, rise, overflows, bares = _after(design, start, level)
    return BackSiphon(litres, level, rise, overflows, bares, *_after(design, start, free))


def _after(design: Design, start: float, level: float) -> tuple[float, float, bool, bool]:
    """What a fall from one level in the container to another does: litres that run back, the tank's rise [m], whether
    it rises over its rim, whether stones fall dry."""
    litres = _litres_between(design, level, start)
    rise = litres / 1000 / design.tank.surface_m2
    return litres, rise, rise > design.tank.freeboard_m, level < design.media_top_m - 1e-9


def _litres_between(design: Design, low: float, high: float) -> float:
    return (design.water_below_m3(high) - design.water_below_m3(low)) * 1000


def _resting_level_m(design: Design, start: float, stop: float) -> float:
    """Level over the container's floor where it meets the tank's rising water, not below `stop`."""

    def above_tank(level: float) -> float:
        rise = _litres_between(design, level, start) / 1000 / design.tank.surface_m2
        return design.floor_above_water_m + level - rise

    lowest = min(max(stop, 0.0), start)
    if above_tank(lowest) >= 0:
        return lowest
    if above_tank(start) <= 0:
        return start
    return float(brenth(above_tank, lowest, start, xtol=1e-9))


def air_over(design: Design) -> Air:
    """The air that its water is taken to evaporate into."""
    return DRY_WIND if design.tank.is_outdoor else ROOM


def days_to_dry_pump(design: Design) -> float:
    """Days without a top-up until evaporation lets the pump draw air: all open surfaces lose water, the level falls in
    the part that the pump stands in. Splashes and leaks come on top."""
    tank = design.tank
    loss = daily_evaporation_m3(tank.evaporating_m2, design.temperature_c, air_over(design))
    return days_until_dry(tank.over_intake_m, tank.surface_m2, loss)


def clogging_factor_that_stops(design: Design, least_flow_m3_h: float) -> float:
    """How many times the stones' clean loss of head brings the flow down to `least_flow_m3_h`; infinity if none
    can (no loss to multiply), below 1 if the sound filter is already slower."""
    heads = heads_at(design, least_flow_m3_h)
    if heads.media <= 0:
        return math.inf
    spare = design.pump.curve.head_m(least_flow_m3_h) - heads.total
    return max(0.0, 1 + spare / heads.media)
