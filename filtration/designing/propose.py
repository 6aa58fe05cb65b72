"""Backwards: which container, stones, pump and pipes would carry this load."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from filtration.designing.assess import Verdict, assess
from filtration.designing.assessment import NO_OTHERS, USUAL_FALL, Others
from filtration.designing.bucket_words import SERIOUS
from filtration.designing.checks_of_build import LEAST_FREEBOARD_M, PIPE_SPEED_M_S, USUAL_VOID_M
from filtration.designing.checks_of_run import (
    SERIOUS_LOSS,
    SPARE,
    TAN_LIMIT_MG_L,
    TOP_UP_DAYS,
    USUAL_INTAKE_M,
    least_turnovers,
)
from filtration.designing.words import flow, length, mass, percent, volume
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import CHECK_VALVE, Container, Design, Tank, round_drum
from filtration.hydraulics.faults import days_to_dry_pump, overtopping
from filtration.hydraulics.operating_point import Fault, operating_point
from filtration.hydraulics.overflow import Return, least_lip_height_m
from filtration.hydraulics.piping import STANDARD_BORES_M, Pipe, Valve
from filtration.hydraulics.pump import ParabolicCurve, Pump
from filtration.nitrification import areal_rate_g_m2_day, medium
from refuge.errors import positive

# Sizes that are easily had (common practice, no source); inside sizes differ a little from maker to maker.
CONTAINERS = (
    round_drum("Drum of about 115 L", 115, 0.46),
    round_drum("Drum of about 208 L", 208, 0.57),
    Container("Crate of about 630 L", "rectangle", 1.0, 0.79, 0.8),
    Container("Tote of about 1 000 L", "rectangle", 1.16, 0.90, 0.96),
    Container("Stock tank of about 1 100 L", "round", 1.52, 0.61),
    Container("Basin of about 3 m³", "rectangle", 2.0, 1.2, 1.25),
)
# (greatest flow m3/h, head at no flow m, power W), by power: round figures of small pumps (assumption).
PUMPS = tuple(
    Pump(ParabolicCurve(head, most), watts, f"Pump of about {watts:.0f}\u00a0W")
    for most, head, watts in (
        (1.5, 1.5, 20.0),
        (2.5, 2.0, 35.0),
        (4.0, 2.5, 60.0),
        (9.0, 2.0, 80.0),
        (6.0, 3.0, 100.0),
        (9.0, 3.5, 150.0),
        (18.0, 2.5, 180.0),
        (14.0, 4.5, 280.0),
        (30.0, 3.0, 330.0),
        (20.0, 5.5, 450.0),
        (30.0, 7.0, 800.0),
    )
)
RETURN_BORES_M = STANDARD_BORES_M[3:]
# Layers, water over them, lip under the rim (common practice, no source).
COARSE_M, LEAST_FINE_M, FINE_STEP_M, MOST_STONES_M = 0.20, 0.05, 0.05, 1.2
COVER_M, LIP_BELOW_RIM_M = 0.03, 0.12
MOST_FILTERS, MOST_RETURNS = 6, 3
SETTLES_WELL = 0.6
# Stands are built in steps; one higher than this is not proposed under a full container.
STAND_STEP_M, MOST_STAND_M = 0.05, 1.0


@dataclass(frozen=True)
class Proposal:
    """A design, how many of it side by side, and why. each_tan_g_day: the load on one of them.

    stand_m: how much higher its floor comes to stand than was asked for. cautions: what that asks for. order: why it
    stands where it does among those that were proposed with it.
    """

    design: Design
    count: int
    each_tan_g_day: float
    verdict: Verdict
    why: tuple[str, ...]
    stand_m: float = 0.0
    cautions: tuple[str, ...] = ()
    order: str = ""


@dataclass(frozen=True)
class Wish:
    """What is asked for: a load [g TAN a day] on a tank, and what it may be made of."""

    tan_g_day: float
    temperature_c: float
    tank: Tank
    floor_above_water_m: float
    pumps: tuple[Pump, ...]
    coarse: str
    fine: str
    inlet_m: float
    return_m: float
    others: Others = NO_OTHERS
    newcomer_tan_g_day: float = 0.0

    def carries(self, area_m2: float, coarse_m: float, fine_m: float) -> float:
        """TAN [g/day] that layers of these depths carry when mature."""
        surface = coarse_m * medium(self.coarse).specific_surface_m2_m3
        surface += fine_m * medium(self.fine).specific_surface_m2_m3
        return area_m2 * surface * areal_rate_g_m2_day(self.temperature_c)

    def flow_m3_h(self, count: int) -> float:
        """Flow wanted of each, always: the usual turnover of the water beside what its other filters move, and enough
        to bring its own ammonia at its limit."""
        turned = least_turnovers(self.tank.volume_m3) * self.tank.volume_m3 - (self.others.flow_m3_h or 0.0)
        return max(turned, self.tan_g_day / 24 / TAN_LIMIT_MG_L) / count

    def clean_flow_m3_h(self, count: int) -> float:
        """Flow wanted of each when new, so that what is wanted still flows when the falling flow asks for a rinse."""
        return self.flow_m3_h(count) / SERIOUS


def propose(
    tan_g_day: float,
    temperature_c: float,
    tank: Tank,
    *,
    floor_above_water_m: float = 0.0,
    containers: Sequence[Container] = CONTAINERS,
    pumps: Sequence[Pump] = PUMPS,
    coarse: str = "river_rock",
    fine: str = "lava_rock",
    inlet_m: float = 3.0,
    return_m: float = 1.0,
    others: Others = NO_OTHERS,
    newcomer_tan_g_day: float = 0.0,
) -> list[Proposal]:
    """Designs that carry a load [g TAN a day] in a tank, best first; empty if no pump given moves the water.
    others: filters that clean it already; the load is what they leave. newcomer_tan_g_day: what arrivals bring of it all.

    Each container gets the usual void, a coarse and a fine layer as deep as the load asks (at most what fits),
    and the smallest pump, inlet and return that do. A low one gets the stand that brings its lip over the tank's
    rim; the pump's intake comes so near to the water line that a shut return loses little, but never nearer than the
    usual margin and two weeks of evaporation. If one cannot carry the load, or no pump moves that much, several side
    by side. What must not be built is left out. Ranked: fewest filters, fewest warnings, those in whose void most
    settles before the others, least electricity, smallest.
    """
    wish = Wish(
        positive("tan_g_day", tan_g_day),
        temperature_c,
        tank,
        floor_above_water_m,
        tuple(pumps),
        coarse,
        fine,
        inlet_m,
        return_m,
        others,
        newcomer_tan_g_day,
    )
    made = (_in(container, wish) for container in containers)
    ranked = sorted((proposal for proposal in made if proposal), key=_rank)
    before: list[Proposal | None] = [None, *ranked]
    return [replace(each, order=_order(each, last)) for each, last in zip(ranked, before, strict=False)]


def _order(proposal: Proposal, before: Proposal | None) -> str:
    """What it is ranked by: in full for the first, then what sets it behind the one before."""
    what = _ranked_by(proposal)
    if before is None:
        return f"First, since it takes {'; '.join(what[:4])}."
    places = zip(_rank(proposal), _rank(before), what, _ranked_by(before), strict=True)
    return next(
        (f"After the one before: {mine} against {theirs}." for a, b, mine, theirs in places if a != b),
        "As good as the one before.",
    )


def _ranked_by(proposal: Proposal) -> tuple[str, ...]:
    """The words for each part of `_rank`."""
    numbers, count, warnings = proposal.verdict.numbers, proposal.count, proposal.verdict.warnings
    kwh = (
        "power unknown" if numbers.month_kwh is None else f"{count * numbers.month_kwh:.0f}\u00a0kWh a month"
    )
    return (
        "one filter" if count == 1 else f"{count} filters",
        f"{warnings or 'nothing'} to think about",
        f"about {percent(numbers.capture.share)} of the solids settle",
        kwh,
        f"{volume(count * proposal.design.container.volume_m3)} of container",
    )


def _rank(proposal: Proposal) -> tuple[int, int, bool, float, float]:
    verdict, count = proposal.verdict, proposal.count
    return (
        count,
        verdict.warnings,
        verdict.numbers.capture.share < SETTLES_WELL,
        count * (verdict.numbers.month_kwh or math.inf),
        count * proposal.design.container.volume_m3,
    )


def _in(container: Container, wish: Wish) -> Proposal | None:
    """The proposal for one kind of container; None if it is too low or no pump does."""
    room = container.height_m - LIP_BELOW_RIM_M - COVER_M - USUAL_VOID_M
    fine_room = min(room, MOST_STONES_M) - COARSE_M
    if fine_room < LEAST_FINE_M:
        return None
    most = wish.carries(container.section_m2, COARSE_M, fine_room)
    least = min(max(1, math.ceil(wish.tan_g_day / SPARE / most)), MOST_FILTERS)
    made = (_side_by_side(container, fine_room, count, wish) for count in range(least, MOST_FILTERS + 1))
    return next((proposal for proposal in made if proposal), None)


def _side_by_side(container: Container, fine_room_m: float, count: int, wish: Wish) -> Proposal | None:
    """So many of them, each with the smallest pump that gives its part of the flow; None if no pump does."""
    fine_m = _fine_depth_m(wish, count, container.section_m2, fine_room_m)
    layers = (BedLayer(wish.coarse, COARSE_M), BedLayer(wish.fine, fine_m))
    wanted = wish.clean_flow_m3_h(count)
    for pump in wish.pumps:
        if pump.curve.max_flow_m3_h < wanted:
            continue
        design = _with_inlet(container, layers, pump, wish)
        if not design or operating_point(design).flow_m3_h < wanted:
            continue
        placed = _with_intake(_on_stand(_with_return(design), wish))
        if operating_point(placed).flow_m3_h < wanted:
            continue  # it does not lift that much up to the stand
        proposal = _proposal(placed, count, wish)
        return proposal if proposal.verdict.can_be_built and proposal.stand_m <= MOST_STAND_M else None
    return None


def _on_stand(design: Design, wish: Wish) -> Design:
    """Raised, in whole steps, until its lip lies over the tank's rim and as high as its return wants."""
    flowing = operating_point(design).flow_m3_h
    least = least_lip_height_m(flowing, design.back, design.temperature_c)
    wanted = max(least + USUAL_FALL * design.back.pipe.length_m, design.tank.freeboard_m)
    missing = max(0.0, wanted - design.overflow_height_m - wish.floor_above_water_m)
    steps = math.ceil(missing / STAND_STEP_M - 1e-9)
    floor = wish.floor_above_water_m + steps * STAND_STEP_M
    crest = max(design.inlet_crest_above_water_m, floor + design.inlet_mouth_height_m)
    return replace(design, floor_above_water_m=floor, inlet_crest_above_water_m=crest)


def _with_intake(design: Design) -> Design:
    """With the pump's intake as deep as it was, or only so deep that a shut return loses no serious share of the
    water before the pump draws air. A top-up that is forgotten is more likely than a shut return: never nearer to
    the line than the usual margin, or than twice the days between top-ups take away."""
    tank = design.tank
    daily_fall_m = tank.over_intake_m / days_to_dry_pump(design)
    least = min(
        max(USUAL_INTAKE_M, math.ceil(2 * TOP_UP_DAYS * daily_fall_m * 100) / 100), tank.over_intake_m
    )
    for _ in range(3):  # once, unless the pump could not lift the last of it anyway
        shut = overtopping(design, Fault(blocked_share=1.0))
        excess_m = (shut.litres / 1000 - SERIOUS_LOSS * tank.volume_m3) / tank.surface_m2
        if not shut.overtops or excess_m <= 0:
            break
        depth = math.floor((design.tank.over_intake_m - excess_m) * 100) / 100
        design = replace(design, tank=replace(tank, over_intake_m=min(max(depth, least), tank.over_intake_m)))
    return design


def _fine_depth_m(wish: Wish, count: int, area_m2: float, most_m: float) -> float:
    """Depth [m] of the fine layer that carries the share of each, to the next 5 cm, within what fits."""
    each = wish.tan_g_day / count / SPARE
    missing = max(0.0, each - wish.carries(area_m2, COARSE_M, 0))
    needed = math.ceil(missing / wish.carries(area_m2, 0, FINE_STEP_M)) * FINE_STEP_M
    return round(min(max(needed, LEAST_FINE_M), most_m), 3)


def _with_inlet(container: Container, layers: tuple[BedLayer, ...], pump: Pump, wish: Wish) -> Design | None:
    """With the narrowest inlet that is not too fast; None if the pump lifts nothing or none is wide enough."""
    back = Return(Pipe(STANDARD_BORES_M[-1], wish.return_m, fittings=(("elbow_90", 1),)))
    for bore in STANDARD_BORES_M:
        inlet = Pipe(bore, wish.inlet_m, fittings=(("elbow_90", 3), ("check_valve", 1)), valve=Valve())
        design = Design(
            container,
            USUAL_VOID_M,
            layers,
            pump,
            inlet,
            back,
            container.height_m - LIP_BELOW_RIM_M,
            wish.floor_above_water_m,
            wish.tank,
            wish.temperature_c,
            grate_open_share=0.4,
            guard=CHECK_VALVE,
            name=container.name,
        )
        point = operating_point(design)
        if not point.lifts:
            return None
        if point.inlet_velocity_m_s <= PIPE_SPEED_M_S:
            return design
    return None


def _with_return(design: Design) -> Design:
    """With the narrowest return, or the fewest, that keep the usual freeboard and do not overtop half blocked.

    A wide one needs a lower lip: it must leave the stones under water. If none does, the widest that fits.
    """
    for tried in _returns(design):
        best = tried
        half = overtopping(tried, Fault(blocked_share=0.5))
        if not half.overtops and overtopping(tried).freeboard_m >= LEAST_FREEBOARD_M:
            break
    return best


def _returns(design: Design) -> Iterator[Design]:
    for count in range(1, MOST_RETURNS + 1):
        for bore in RETURN_BORES_M:
            lip = design.container.height_m - max(LIP_BELOW_RIM_M, bore + LEAST_FREEBOARD_M)
            if lip >= design.media_top_m or bore == RETURN_BORES_M[0]:
                pipe = replace(design.back.pipe, bore_m=bore)
                yield replace(
                    design, overflow_height_m=lip, back=replace(design.back, pipe=pipe, count=count)
                )


def _proposal(design: Design, count: int, wish: Wish) -> Proposal:
    each = wish.tan_g_day / count
    verdict = assess(
        design,
        tan_g_day=each,
        side_by_side=count,
        others=wish.others,
        newcomer_tan_g_day=wish.newcomer_tan_g_day,
    )
    stand_m = max(0.0, round(design.floor_above_water_m - wish.floor_above_water_m, 3))
    why, cautions = tuple(_why(verdict, count, wish)), tuple(_cautions(verdict, stand_m))
    return Proposal(design, count, each, verdict, why, stand_m, cautions)


def _cautions(verdict: Verdict, stand_m: float) -> Iterator[str]:
    """What the stand has to bear (common practice, no source)."""
    if stand_m:
        yield (
            f"It needs a stand of {length(stand_m)}, so that its overflow lies over the tank's rim. Full it puts "
            f"{mass(verdict.numbers.filled_kg)} on it, the container not counted: masonry or braced timber on firm, level "
            "ground, wider than the container, which is fixed so that nothing tips it over. Ask a builder, and set "
            "the stones in only when it stands there."
        )


def _why(verdict: Verdict, count: int, wish: Wish) -> Iterator[str]:
    numbers, design = verdict.numbers, verdict.numbers.design
    if count > 1:
        yield f"One is not enough: {count} of them side by side, each with its own pump."
    yield (
        f"{volume(design.media_volume_m3)} of stones ({length(design.layers[1].depth_m)} of "
        f"{medium(wish.fine).name.lower()}) carry {numbers.carries_tan_g_day:.1f} g of ammonia nitrogen a day when "
        f"mature: the load is {percent(numbers.load or 0)} of it."
    )
    wanted = wish.flow_m3_h(count)
    yield (
        f"{design.pump.name} moves {flow(numbers.point.flow_m3_h)} when clean; {flow(wanted)} are wanted, and a rinse falls "
        f"due at {percent(SERIOUS)} of the clean flow, {flow(numbers.point.flow_m3_h * SERIOUS)}."
    )
    intake = design.tank.over_intake_m
    if intake < wish.tank.over_intake_m:
        lost = (
            f"{volume(numbers.shut.litres / 1000)} go over the rim"
            if numbers.shut.overtops
            else "nothing goes over"
        )
        yield (
            f"The pump draws through a strainer {length(intake)} under the water line: should the return be shut, "
            f"{lost}. Without a top-up it draws air after {numbers.days_to_dry:.0f} days; what lies on its floor has to be stirred towards the strainer or lifted "
            "out."
        )
    share = numbers.capture.share
    yield (
        f"Water rises in the void slowly enough for about {percent(share)} of the solids to settle."
        if share >= SETTLES_WELL
        else f"Only about {percent(share)} of the solids settle in the void: the stones clog sooner."
    )
