"""When a planned filter would ask for its first drain and its first rinse, by the same sums as for one that runs.

The range is what not knowing the waste leaves: what settles in this void (see filtration.hydraulics.settling). The
more settles the sooner the drain, and the later the rinse.
"""

from dataclasses import dataclass

from filtration.designing.assessment import Assessment
from filtration.designing.bucket_words import SERIOUS
from filtration.hydraulics.blockage import explain_flow
from filtration.hydraulics.deposit import capacity_kg
from filtration.solids import (
    LONGEST_PROJECTION_DAYS,
    Sediment,
    captured_g,
    carried_over_g,
    project_days_until,
)
from husbandry.bioload import planned_daily_load
from husbandry.food_values import food_value

# As the rules ask for by default: see filtration.rules.
DRAIN_SHARE, RINSE_G_L = 0.30, 27.0
FOOD = "Tilapia"  # whose solids come with its ammonia; a plan knows only the ammonia (assumption)


@dataclass(frozen=True)
class Days:
    """Days until some work is asked for: early, likely, late; None: not within ten years."""

    early: float | None
    likely: float | None
    late: float | None


def solids_per_tan() -> float:
    """Dry solids [g] that come with a gram of TAN, by the food that is fed most."""
    fish = food_value(FOOD)
    load = planned_daily_load(1.0, 7, fish.protein_fraction, fish.water_fraction)
    return load.solids_g / load.tan_g


def solids_g_day(of: Assessment) -> float | None:
    """Dry solids that reach each filter; None without a load or a flow."""
    return of.tan_g_day * solids_per_tan() if of.tan_g_day and of.point.lifts else None


def first_drain(of: Assessment) -> Days | None:
    """Days until sediment fills its share of an empty void."""
    solids, caught = solids_g_day(of), of.capture
    if solids is None:
        return None
    return Days(
        *(_drain_days(of, captured_g(solids, share)) for share in (caught.high, caught.share, caught.low))
    )


def first_rinse(of: Assessment) -> Days | None:
    """Days until clean stones hold what a rinse is asked for at; None without stones too."""
    solids, caught = solids_g_day(of), of.capture
    if solids is None or not of.design.layers:
        return None
    room = rinse_limit_g(of)
    return Days(
        *(
            _rinse_days(room, carried_over_g(solids, share))
            for share in (caught.low, caught.share, caught.high)
        )
    )


def rinse_limit_g(of: Assessment) -> float:
    """Dry solids [g] between the stones at which a rinse falls due: so many on a litre of pores, or as many as bring the
    flow down to what asks for one, or full pores."""
    flow = of.point.flow_m3_h
    held = explain_flow(of.design, SERIOUS * flow, flow).held_kg
    full = capacity_kg(of.design.layers, of.design.section_m2)
    return min(RINSE_G_L * of.design.pore_volume_m3 * 1000, 1000 * min(full, full if held is None else held))


def _drain_days(of: Assessment, settling_g_day: float) -> float | None:
    limit_l = DRAIN_SHARE * of.design.section_m2 * of.design.void_height_m * 1000
    return project_days_until(limit_l, Sediment(), settling_g_day, of.design.temperature_c)


def _rinse_days(room_g: float, daily_g: float) -> float | None:
    return room_g / daily_g if daily_g * LONGEST_PROJECTION_DAYS > room_g else None
