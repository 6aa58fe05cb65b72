"""Checks of how it runs and fails: load, settling, flow, blocked return, pump off, evaporation."""

import math
from collections.abc import Iterator

from filtration.designing.air_words import air_words, surface_words
from filtration.designing.assessment import Assessment
from filtration.designing.findings import NOTE, STOP, WARN, Finding, check
from filtration.designing.remedies import return_words, throttle_words
from filtration.designing.words import duration, flow, length, percent, speed, times, volume
from filtration.hydraulics.design import CHECK_VALVE, NO_GUARD
from refuge.rules.words import amount, load_words

SPARE = 0.8  # a filter loaded above this has no room for a heavy meal (common practice, no source)
# Of the water in an hour: a tank's and a pond's least, and what is a strong current (common practice, no source).
LEAST_OF_A_TANK, LEAST_OF_A_POND, MOST_TURNOVERS = 1.0, 0.5, 6.0
POND_M3 = 20.0  # water from which it is kept like a pond (common practice, no source)
LEAST_CAPTURE = 0.5
TAN_LIMIT_MG_L = 1.0  # the TAN at which the areal rate holds (see nitrification.AREAL_RATE_22C)
TOP_UP_DAYS = 7.0
USUAL_INTAKE_M = (
    0.15  # water over an intake, for ripples, splashes and a forgotten top-up (common practice, no source)
)
SERIOUS_LOSS = 0.1  # of the tank's water


@check
def too_much_load(of: Assessment) -> Iterator[Finding]:
    if of.carries_tan_g_day == 0:
        yield Finding(
            "no_stones", STOP, "Without stones no bacteria live in it, and it carries nothing.", "Stones."
        )
        return
    if of.load is None or of.load <= SPARE:
        return
    severity, tail = (STOP, "It cannot clear it.") if of.load > 1 else (WARN, "A heavy meal will show.")
    yield Finding(
        "load",
        severity,
        f"{_left_for_it(of)} of ammonia nitrogen a day: {load_words(of.load)} when mature "
        f"({of.carries_tan_g_day:.1f}\u00a0g a day). {tail}",
        "More or finer porous rock, a larger container, a second filter, or fewer meals.",
    )


def _left_for_it(of: Assessment) -> str:
    if not of.others.tan_g_day:
        return f"The animals put in {of.tan_g_day:.1f}\u00a0g"
    whole = (of.tan_g_day or 0) * of.side_by_side + of.others.tan_g_day
    return (
        f"Of {whole:.1f}\u00a0g that the animals put in the water's other filters carry {of.others.tan_g_day:.1f}\u00a0g. "
        f"This one is left {of.tan_g_day:.1f}\u00a0g"
    )


@check
def flow_brings_too_little(of: Assessment) -> Iterator[Finding]:
    if of.supply is None:
        return
    if of.supply.least_tan_mg_l > TAN_LIMIT_MG_L:
        yield Finding(
            "flow_limits_load",
            WARN,
            f"{flow(of.water_flow_m3_h)} bring the ammonia too slowly: even if the stones took all that passes, the tank "
            f"would keep {of.supply.least_tan_mg_l:.1f}\u00a0mg/L.",
            f"A flow of {flow(_flow_for_ammonia_m3_h(of))} or more through this one.",
        )
    if of.supply.oxygen_share > 1:
        yield Finding(
            "oxygen",
            WARN,
            f"The bacteria need {times(of.supply.oxygen_share)} the oxygen that the flow brings them.",
            "More flow, and air in the tank. Water that falls into the tank takes up air too.",
        )


def _flow_for_ammonia_m3_h(of: Assessment) -> float:
    """What each of them would have to move, the water's other filters as they are."""
    in_all = (of.water_tan_g_day or 0.0) / 24 / TAN_LIMIT_MG_L
    return (in_all - (of.others.flow_m3_h or 0.0)) / of.side_by_side


def least_turnovers(volume_m3: float) -> float:
    """How often an hour the water should at least pass its filters."""
    return LEAST_OF_A_TANK if volume_m3 < POND_M3 else LEAST_OF_A_POND


@check
def turnover(of: Assessment) -> Iterator[Finding]:
    hourly, least = of.turnovers_per_hour, least_turnovers(of.design.tank.volume_m3)
    if not of.point.lifts or least <= hourly <= MOST_TURNOVERS:
        return
    is_slow = hourly < least
    usual = "Once" if least == LEAST_OF_A_TANK else "For a pond once in two hours"
    rest = of.others.flow_m3_h or 0.0
    whose = "the filter" if of.side_by_side == 1 and not rest else "its filters"
    most = (MOST_TURNOVERS * of.design.tank.volume_m3 - rest) / of.side_by_side
    yield Finding(
        "turnover",
        WARN if is_slow else NOTE,
        f"The tank's water passes {whose} {times(hourly)} an hour ({flow(of.water_flow_m3_h)}). "
        + (f"{usual} is the usual least." if is_slow else "That is a strong current for resting animals."),
        "A stronger pump, or a wider and shorter inlet." if is_slow else throttle_words(of.design, most),
    )


@check
def void_too_fast(of: Assessment) -> Iterator[Finding]:
    caught = of.capture
    span = f"{percent(caught.low)} to {percent(caught.high)}"
    if not of.point.lifts:
        return
    if caught.share < LEAST_CAPTURE:
        yield Finding(
            "void_too_fast",
            WARN,
            f"Water rises in the void at {speed(of.point.void_velocity_m_s)}: only about {percent(caught.share)} of the "
            f"solids settle there ({span}). The rest clogs the stones.",
            "A wider container, a smaller flow, or two filters side by side.",
        )
    else:
        yield Finding(
            "settles",
            NOTE,
            f"Water rises in the void at {speed(of.point.void_velocity_m_s)}: grains above {caught.cut_m * 1000:.2f}\u00a0mm "
            f"settle, about {percent(caught.share)} of the solids ({span}).",
        )


@check
def bags_bypassed(of: Assessment) -> Iterator[Finding]:
    most = max((layer.bypass_share for layer in of.point.heads.layers), default=0.0)
    if of.point.lifts and most > 0.1:
        yield Finding(
            "bags_bypassed",
            NOTE,
            f"About {percent(most)} of the water slips past the bags (assumed gaps of a twentieth of the section).",
            "Pack bags tight, staggered like bricks, and fill the edges with loose stones.",
        )


@check
def return_half_blocked(of: Assessment) -> Iterator[Finding]:
    half = of.half_blocked
    if of.running.overtops or not of.point.lifts:
        return
    if half.overtops:
        yield Finding(
            "half_blocked",
            WARN,
            f"With the return half blocked by leaves or slime it runs over at {flow(half.spill_m3_h)}, and "
            f"{volume(half.litres / 1000)} leave the tank.",
            f"{return_words(of.design)} And a domed guard, which leaves cannot lie flat on.",
        )
    else:
        yield Finding(
            "half_blocked_holds",
            NOTE,
            f"With the return half blocked the water rises to {length(half.freeboard_m)} under the rim and stays there.",
        )


@check
def return_shut(of: Assessment) -> Iterator[Finding]:
    shut = of.shut
    if not shut.overtops or of.running.overtops:
        return
    dry = f" The pump runs dry after {duration(shut.hours_to_dry * 3600)}." if shut.hours_to_dry else ""
    is_serious = shut.litres / 1000 > SERIOUS_LOSS * of.design.tank.volume_m3
    yield Finding(
        "return_shut",
        WARN if is_serious else NOTE,
        f"With the return shut, {volume(shut.litres / 1000)} go over the rim.{dry}",
        f"{_more_returns(of)}; the pump's intake higher up, so that it draws air sooner; a level switch; a tray that leads spilt "
        "water back. Keep mains plugs away from where it would run.",
    )


def _more_returns(of: Assessment) -> str:
    count = of.design.back.count + 1
    return "Two returns" if count == 2 else f"One return more, {count} in all"


@check
def return_runs_full(of: Assessment) -> Iterator[Finding]:
    if of.fill == 1:
        yield Finding(
            "return_full",
            NOTE,
            "The return pipe runs full at this fall: it gurgles, and the level swings.",
            "A wider pipe, more fall, or a breather tee behind the bulkhead.",
        )


@check
def runs_back(of: Assessment) -> Iterator[Finding]:
    back = of.back_siphon
    if not of.point.lifts:
        return
    if back.tank_overflows:
        yield Finding(
            "runs_back_over",
            STOP,
            f"When the pump stops {volume(back.litres / 1000)} run back through it, and the tank rises by "
            f"{length(back.tank_rise_m)}: over its rim ({length(of.design.tank.freeboard_m)}).",
            "A check valve and a siphon break, or less water in the tank.",
        )
    elif back.bares_media:
        yield Finding(
            "runs_back",
            WARN,
            f"When the pump stops {volume(back.litres / 1000)} run back through it and the stones fall dry down to "
            f"{length(back.level_m)} above the floor. Their bacteria last hours like that.",
            "A check valve above the pump, or a small hole in the inlet pipe just under the water's surface.",
        )
    elif of.design.guard != NO_GUARD:
        yield _guarded(of)


def _guarded(of: Assessment) -> Finding:
    """What the guard keeps back, and what happens on the day it does not. A hole has no moving part and can be seen
    to run; a valve that a bit of grit holds open shows nothing (common practice, no source)."""
    back, is_valve = of.back_siphon, of.design.guard == CHECK_VALVE
    name = "check valve" if is_valve else "siphon break"
    kept = f"The {name} keeps {volume((back.unguarded_litres - back.litres) / 1000)} from running back when the pump stops."
    harm = _if_it_fails(of)
    if not harm or not (is_valve or back.unguarded_overflows):
        return Finding(
            "guard", NOTE, kept, "Try it at every pump clean: dirt holds valves open and closes small holes."
        )
    return Finding(
        "guard_sticks",
        WARN,
        f"{kept} {'Dirt that holds it open' if is_valve else 'Slime that closes its hole'} is enough, and {harm}.",
        "Something that does not rest on one part: "
        + (
            "a siphon break, which has no moving part"
            if is_valve
            else "a second, wider hole or a check valve too"
        )
        + (", or less water in the tank" if back.unguarded_overflows else "")
        + ". Try it at every pump clean, by pulling the plug.",
    )


def _if_it_fails(of: Assessment) -> str:
    """What running back would do without the guard; empty where it does no harm."""
    back, harm = of.back_siphon, []
    if back.unguarded_overflows:
        harm.append(
            f"the tank rises by {length(back.unguarded_rise_m)}, over its rim ({length(of.design.tank.freeboard_m)})"
        )
    if back.unguarded_bares:
        harm.append("the stones fall dry, whose bacteria last hours like that")
    return " and ".join(harm)


@check
def shallow_intake(of: Assessment) -> Iterator[Finding]:
    depth = of.design.tank.over_intake_m
    if of.point.lifts and depth < USUAL_INTAKE_M - 1e-9:
        yield Finding(
            "shallow_intake",
            WARN,
            f"The pump's intake lies {length(depth)} under the water: a top-up forgotten, a drain or a splash, and it draws "
            f"air. {length(USUAL_INTAKE_M)} or more is usual.",
            "The intake lower, with a level switch or another return against what a shut return would then lose.",
        )


@check
def evaporates(of: Assessment) -> Iterator[Finding]:
    if math.isfinite(of.days_to_dry) and of.days_to_dry < TOP_UP_DAYS:
        yield Finding(
            "evaporates",
            WARN,
            f"Without a top-up the pump draws air after {of.days_to_dry:.1f} days: {surface_words(of.design)}, from "
            f"{amount(of.design.temperature_c, 'temperature')} into {air_words(of.design)}. Splashes and leaks come on top.",
            "A larger sump, the intake lower, or a float valve (with a dechlorinator on mains water).",
        )
