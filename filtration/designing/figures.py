"""The numbers of a design as people read them, each with how it was computed: for the page and to compare two."""

import math
from collections.abc import Iterator, Sequence

from filtration.designing.air_words import air_words, surface_words
from filtration.designing.assess import Verdict
from filtration.designing.assessment import CLOGGED_SHARE, USUAL_FALL, Assessment, wanted_lip_m
from filtration.designing.bucket_words import SERIOUS
from filtration.designing.figure import Figure
from filtration.designing.figures_of_water import of_water
from filtration.designing.first_work import (
    DRAIN_SHARE,
    RINSE_G_L,
    first_drain,
    first_rinse,
    rinse_limit_g,
    solids_g_day,
    solids_per_tan,
)
from filtration.designing.words import (
    distance,
    duration,
    flow,
    length,
    mass,
    percent,
    span_words,
    speed,
    times,
    volume,
)
from filtration.hydraulics.bed import BedLayer, grain
from filtration.hydraulics.deposit import DEPOSIT_DRY_SHARE, capacity_kg
from filtration.hydraulics.operating_point import water_power_w
from filtration.hydraulics.pump import PointCurve
from filtration.hydraulics.settling import COARSE, FINE, LIKELY, WasteSolids
from filtration.nitrification import areal_rate_g_m2_day, medium
from refuge.rules.words import amount

GEOMETRY = "Geometry"


def figures(verdict: Verdict) -> tuple[Figure, ...]:
    """The figures of a design, in the order in which water meets them."""
    numbers = verdict.numbers
    if not numbers.point.lifts:
        return tuple(_still(numbers))
    return (
        *_flowing(numbers),
        *_still(numbers),
        *of_water(numbers),
        *_first_work(numbers),
        *_failing(numbers),
    )


def _flowing(of: Assessment) -> Iterator[Figure]:
    yield from _pumped(of)
    yield from _rising(of)
    yield from _returning(of)


def _pumped(of: Assessment) -> Iterator[Figure]:
    point, heads = of.point, of.point.heads
    yield Figure(
        "flow",
        "Flow",
        flow(point.flow_m3_h),
        f"{_curve_words(of)} At the flow shown its head is what the filter asks: lift {length(heads.static)}, water over the lip "
        f"{length(heads.over_lip)}, pipe {length(heads.pipe.friction_m)}, fittings and end {length(heads.pipe.fittings_m)}, "
        f"valve {length(heads.pipe.valve_m)}, stones {length(heads.media + heads.grate)}; together {length(heads.total)}.",
        "Darcy-Weisbach and Colebrook; Hooper 1981 for fittings; Ergun 1952 for stones (fluids library)",
    )
    yield Figure(
        "turnover",
        "Tank's water through the filter",
        f"{times(of.turnovers_per_hour)} an hour",
        f"{flow(point.flow_m3_h)} times {of.side_by_side}{_other_flow(of)}, over {volume(of.design.tank.volume_m3)}.",
        GEOMETRY,
    )
    yield Figure(
        "inlet_velocity",
        "Speed in the inlet",
        speed(point.inlet_velocity_m_s),
        f"The flow over the section of a bore of {length(of.design.inlet.bore_m)}.",
        GEOMETRY,
    )


def _other_flow(of: Assessment) -> str:
    rest = of.others.flow_m3_h
    return f", and {flow(rest)} through the water's other filters" if rest else ""


def _curve_words(of: Assessment) -> str:
    curve = of.design.pump.curve
    given = (
        f"{len(curve.points)} points of its data sheet, with straight lines between"
        if isinstance(curve, PointCurve)
        else "a parabola, head at no flow × (1 − (flow / greatest flow)²)"
    )
    return f"The pump gives {distance(curve.shutoff_head_m)} at no flow and {flow(curve.max_flow_m3_h)} at no head: {given}."


def _rising(of: Assessment) -> Iterator[Figure]:
    point, caught = of.point, of.capture
    yield Figure(
        "void_velocity",
        "Speed of rise in the void",
        speed(point.void_velocity_m_s),
        f"The flow over a section of {amount(of.design.section_m2, 'area', 2)}.",
        GEOMETRY,
    )
    yield from _between_stones(of)
    yield Figure(
        "capture",
        "Solids that settle in the void",
        f"about {percent(caught.share)} ({percent(caught.low)} to {percent(caught.high)})",
        f"Spheres above {caught.cut_m * 1000:.2f}\u00a0mm sink faster than the water rises. Taken for waste: "
        f"{_waste_words(LIKELY)}; the range goes from {_waste_words(FINE)} to {_waste_words(COARSE)}.",
        "Drag law of the fluids library; size of waste assumed, weight 1050-1190 kg/m³ as measured on salmon farms",
    )
    yield Figure(
        "contact",
        "Time between the stones",
        duration(point.media_contact_s),
        f"{volume(of.design.pore_volume_m3)} of pores over the flow.",
        GEOMETRY,
    )


def _waste_words(solids: WasteSolids) -> str:
    return (
        f"half of its mass finer than {solids.median_m * 1000:.2g}\u00a0mm, spread {solids.spread:g} (log-normal), "
        f"{solids.density_kg_m3:.0f}\u00a0kg/m³"
    )


def _between_stones(of: Assessment) -> Iterator[Figure]:
    layers = list(zip(of.design.layers, of.point.heads.layers, strict=True))
    if not layers:
        return
    speeds = [f"{speed(run.pore_velocity_m_s)} in {_plain_name(layer)}" for layer, run in layers]
    pores = [f"{percent(layer.porosity)} of {_plain_name(layer)}" for layer, _ in layers]
    slips = max(run.bypass_share for _, run in layers)
    bags = f" About {percent(slips)} of the water slips past the bags." if slips else ""
    yield Figure(
        "pore_velocity",
        "Speed of rise between the stones",
        ", ".join(speeds),
        f"The speed in the void over the pores: {', '.join(pores)}.{bags}",
        "Void fractions as measured, else of the media table; gaps beside bags assumed",
    )
    grains = [
        f"{_plain_name(layer)} {length(layer.size_m)} × {grain(layer.medium).sphericity:g}, "
        f"void {layer.porosity:.2f}{' (as measured)' if layer.is_measured else ''}"
        for layer, _ in layers
    ]
    yield Figure(
        "stones_loss",
        "Head lost in clean stones",
        length(of.point.heads.media),
        "On each length of the way (150 (1 − e)² μ v / (e³ d²) + 1.75 (1 − e) ρ v² / (e³ d)) / (ρ g), with e the void, "
        f"v the speed over the whole section and d the grain times its sphericity: {'; '.join(grains)}.",
        "Ergun 1952 (fluids library); grains as sieved, else by the medium's name; their sphericity recalled",
    )


def _plain_name(layer: BedLayer) -> str:
    """A medium's name without its sizes, within a sentence."""
    return medium(layer.medium).name.partition(",")[0].lower()


def _returning(of: Assessment) -> Iterator[Figure]:
    yield Figure(
        "lip",
        "Overflow over the tank's water",
        length(of.design.lip_above_water_m),
        f"{length(of.design.overflow_height_m)} from the container's floor to the lip, and the floor "
        f"{_height_words(of.design.floor_above_water_m)} the tank's water line. That is {_height_words(of.lip_above_rim_m)} the tank's rim. This return wants "
        f"{length(wanted_lip_m(of))} or more: {length(of.least_lip_m)} so that the pipe never backs up to the lip, "
        f"and a fall of 1 in {1 / USUAL_FALL:.0f}.",
        "HDS-5, as below; fall: common practice, no source",
    )
    yield Figure(
        "over_lip",
        "Water over the overflow's lip",
        f"{length(of.running.level_m)}, with {length(of.running.freeboard_m)} left under the rim",
        f"What a mouth of {length(of.design.back.pipe.bore_m)} needs for the flow, or its pipe, whichever is more. A mouth "
        "that is not covered is a weir: critical depth, its velocity head and the entrance; a covered one is an orifice.",
        "Hydraulic Design of Highway Culverts (HDS-5), Federal Highway Administration 2012",
    )
    if of.fill is not None:
        yield Figure(
            "fill",
            "Depth in the return pipe",
            "full" if of.fill == 1 else f"{percent(of.fill)} of its bore",
            f"At an even fall along {distance(of.design.back.pipe.length_m)}.",
            "Manning's equation, n = 0.012 (Chow 1959)",
        )


def _height_words(metres: float) -> str:
    return f"{length(abs(metres))} {'above' if metres >= 0 else 'below'}"


def _still(of: Assessment) -> Iterator[Figure]:
    design = of.design
    yield Figure(
        "carries",
        "Ammonia nitrogen that it carries when mature",
        f"{of.carries_tan_g_day:.1f}\u00a0g a day",
        f"{amount(design.media_surface_m2, 'area')} of stone surface, at {areal_rate_g_m2_day(design.temperature_c):.2f}\u00a0g "
        f"on each square metre a day at {amount(design.temperature_c, 'temperature')}.{_surface_words(design.layers)}",
        "Areal rates of fixed films: Eding et al. 2006; Timmons and Ebeling 2010 (recalled)",
    )
    if of.load is not None and of.carries_tan_g_day > 0:
        yield Figure(
            "load",
            "Load",
            percent(of.load),
            f"{of.tan_g_day:.1f}\u00a0g a day over what it carries.{_other_load(of)}",
            "Timmons and Ebeling 2010 for ammonia from food",
        )
    yield Figure(
        "holds",
        "Dry solids that fill the stones",
        amount(capacity_kg(design.layers, design.section_m2), "mass"),
        f"{volume(design.pore_volume_m3)} of pores, filled with a wet deposit of which {percent(DEPOSIT_DRY_SHARE)} is dry matter.",
        "Assumption",
    )
    yield Figure(
        "weight",
        "Weight when filled",
        mass(of.filled_kg),
        f"{mass(of.stone_kg)} of stones and {volume(of.water_m3)} of water.",
        GEOMETRY,
    )
    if of.month_kwh is not None:
        cost = "" if of.month_cost is None else f", {of.month_cost:.2f} at your price"
        yield Figure(
            "energy",
            "Electricity in a month",
            f"{of.month_kwh:.0f}\u00a0kWh{cost}",
            f"{design.pump.power_w:.0f}\u00a0W day and night, of which the water takes up "
            f"{water_power_w(of.point, design.temperature_c):.0f}\u00a0W."
            + (
                ""
                if of.month_cost is not None
                else " Enter the price of a kilowatt hour to see what it costs."
            ),
            "The power on the pump's plate",
        )


def _other_load(of: Assessment) -> str:
    rest = of.others.tan_g_day
    return f" The water's other filters carry {rest:.1f}\u00a0g a day beside it." if rest else ""


def _surface_words(layers: Sequence[BedLayer]) -> str:
    """Which surface is counted for stones that were measured."""
    said = [
        f"{_plain_name(layer)} {layer.surface_m2_m3:.0f} m²/m³ (table: {medium(layer.medium).specific_surface_m2_m3:g})"
        for layer in layers
        if layer.is_measured
    ]
    if not said:
        return ""
    return f" Measured stones have the table's surface times (1 − void) / grain over the table's: {'; '.join(said)}."


def _first_work(of: Assessment) -> Iterator[Figure]:
    solids, drain, rinse = solids_g_day(of), first_drain(of), first_rinse(of)
    if solids is None or drain is None:
        return
    comes = f"{solids:.0f}\u00a0g of dry solids a day come with the load ({solids_per_tan():.1f}\u00a0g with each gram of ammonia nitrogen, as from fish)"
    caught = f"{percent(of.capture.low)} to {percent(of.capture.high)}"
    source = "As for a filter that runs; digestion and packing: assumption"
    yield Figure(
        "first_drain",
        "To the first drain",
        span_words(drain.early, drain.likely, drain.late),
        f"{comes}; {caught} of them settle, are digested and pack, until {percent(DRAIN_SHARE)} of the void is full.",
        source,
    )
    if rinse is not None:
        yield Figure(
            "first_rinse",
            "To the first rinse",
            span_words(rinse.early, rinse.likely, rinse.late),
            f"What does not settle ({caught} does) goes into the stones, until they hold "
            f"{amount(rinse_limit_g(of) / 1000, 'mass')}: {RINSE_G_L:.0f}\u00a0g on each litre of their pores, or what brings "
            f"the flow down to {percent(SERIOUS)}, whichever is less.",
            source,
        )


def _when_clogged(of: Assessment) -> Iterator[Figure]:
    clogged = of.clogged
    if clogged is None:
        return
    over = "runs over" if clogged.running.overtops else "does not run over"
    halving = (
        f" It takes {clogged.halving_factor:,.0f} times the clean stones' loss to halve the flow."
        if math.isfinite(clogged.halving_factor)
        else ""
    ).replace(",", "\u202f")
    yield Figure(
        "clogged",
        "With the stones clogged",
        f"{flow(clogged.flow_m3_h)}, {over}",
        f"With {percent(CLOGGED_SHARE)} of what fills the pores. Clogged stones hold the water back under them: "
        f"less comes over the lip, and the pump presses on the stones instead.{halving}",
        "Ergun 1952 with what is left of the pores; where solids lie: Iwasaki 1937; channels left open: assumption",
    )


def _failing(of: Assessment) -> Iterator[Figure]:
    half, shut, back = of.half_blocked, of.shut, of.back_siphon
    yield Figure(
        "half_blocked",
        "With the return half blocked",
        f"runs over at {flow(half.spill_m3_h)}, {volume(half.litres / 1000)} in all"
        if half.overtops
        else f"{length(half.freeboard_m)} left under the rim",
        "The same sums with half of the section left all along the return, as a narrower round pipe with the same lip.",
        "HDS-5, as above",
    )
    yield Figure(
        "shut",
        "With the return shut",
        f"{volume(shut.litres / 1000)} over the rim" if shut.overtops else "does not run over",
        "What the pump lifts to the rim, until the tank has fallen to the pump's intake or too low to lift from.",
        GEOMETRY,
    )
    yield from _when_clogged(of)
    yield Figure(
        "runs_back",
        "Runs back when the pump stops",
        volume(back.litres / 1000),
        f"From the level while running down to {length(back.level_m)} above the floor. Without a guard "
        f"{volume(back.unguarded_litres / 1000)} would, with a check valve {volume(of.valve_litres / 1000)}. The tank "
        f"rises by {length(back.tank_rise_m)} and has {length(of.design.tank.freeboard_m)} to its rim.",
        GEOMETRY,
    )
    yield Figure(
        "days_to_dry",
        "Days without a top-up",
        f"{of.days_to_dry:.0f}" if of.days_to_dry < 1000 else "years",
        f"{length(of.design.tank.over_intake_m)} of water over the intake: {surface_words(of.design)}, from "
        f"{amount(of.design.temperature_c, 'temperature')} into {air_words(of.design)}. (25 + 19 × m/s of wind) kg an hour "
        "on each square metre, times what the air can still take up (kg of vapour in a kg of air). Splashes and leaks "
        "come on top.",
        "Engineering ToolBox, Evaporation from water surfaces; wind and humidity: assumption",
    )
