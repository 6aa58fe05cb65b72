"""Everything that a design does, computed once: for the screen's numbers and for the findings."""

from dataclasses import dataclass, replace

from enclosures.chemistry import oxygen_saturation_mg_l
from filtration.hydraulics.deposit import capacity_kg
from filtration.hydraulics.design import CHECK_VALVE, Design
from filtration.hydraulics.faults import (
    BackSiphon,
    Overtopping,
    back_siphon,
    clogging_factor_that_stops,
    days_to_dry_pump,
    overtopping,
)
from filtration.hydraulics.operating_point import (
    MONTH_DAYS,
    Fault,
    OperatingPoint,
    monthly_cost,
    operating_point,
)
from filtration.hydraulics.overflow import fill_share, least_lip_height_m
from filtration.hydraulics.settling import Capture, capture
from filtration.nitrification import capacity_tan_g_day, load_share
from husbandry.bioload import OXYGEN_PER_TAN
from refuge.errors import checked

# The stones' water must keep some oxygen, and the tank's never holds all it could. Assumptions.
OXYGEN_LEFT_MG_L, TANK_SATURATION = 2.0, 0.85
# Share of what the stones' pores can hold at which they are called clogged. Assumption.
CLOGGED_SHARE = 0.95
NEWCOMER_MEAL_DAYS = 7  # as an arrival is proposed to be fed at first
# Fall of a gravity drain: 1 in 50, or a quarter inch a foot (common practice, no source).
USUAL_FALL = 1 / 50
# Steeper than this water falls rather than flows, and no uniform depth is meant; flatter it fills the pipe.
FLATTEST, STEEPEST = 1e-6, 1.0


@dataclass(frozen=True)
class Others:
    """The water's filters that run already: the part of its load that they carry [g TAN a day], and their flow together
    [m3/h; None: not known]. spare_tan_g_day: what they could carry beside."""

    tan_g_day: float = 0.0
    flow_m3_h: float | None = None
    spare_tan_g_day: float = 0.0

    def __post_init__(self) -> None:
        checked("others_tan_g_day", self.tan_g_day, 0)
        checked("spare_tan_g_day", self.spare_tan_g_day, 0)
        checked("others_flow_m3_h", self.flow_m3_h or 0.0, 0)


NO_OTHERS = Others()


@dataclass(frozen=True)
class Supply:
    """What the flow brings to the bacteria for a load.

    least_tan_mg_l: TAN that the tank keeps even if the stones take all that passes them, those of the water's other
    filters too. oxygen_share: oxygen that the load asks of the stones over what the flow brings.
    """

    least_tan_mg_l: float
    oxygen_share: float


@dataclass(frozen=True)
class Clogged:
    """What clogged stones do: the flow left [m3/h], the level over the lip, and how many times the clean stones'
    loss of head it takes to halve the flow."""

    flow_m3_h: float
    running: Overtopping
    halving_factor: float


@dataclass(frozen=True)
class Assessment:
    """What a design does. tan_g_day: the load it is judged for (None: not known).

    side_by_side: how many of it share the tank; the load is on one of them. others: what else cleans the water.
    carries_tan_g_day: when mature.
    newcomer_tan_g_day: of the whole load, that of arrivals, who eat every NEWCOMER_MEAL_DAYS.
    load: share of that. half_blocked, shut: with the return so. clogged: None without stones or flow.
    valve_litres: that would run back with a check valve. fill: depth in the return pipe over its bore, 1 when it
    runs full (None: it has no fall, or no length). least_lip_m: see overflow.least_lip_height_m.
    """

    design: Design
    tan_g_day: float | None
    side_by_side: int
    others: Others
    point: OperatingPoint
    carries_tan_g_day: float
    load: float | None
    supply: Supply | None
    capture: Capture
    running: Overtopping
    half_blocked: Overtopping
    shut: Overtopping
    clogged: Clogged | None
    back_siphon: BackSiphon
    valve_litres: float
    fill: float | None
    least_lip_m: float
    days_to_dry: float
    month_kwh: float | None
    month_cost: float | None
    newcomer_tan_g_day: float = 0.0

    @property
    def turnovers_per_hour(self) -> float:
        """How often the tank's water passes all its filters in an hour."""
        return self.water_flow_m3_h / self.design.tank.volume_m3

    @property
    def water_flow_m3_h(self) -> float:
        """What passes all the filters of the water, as far as it is known."""
        return self.point.flow_m3_h * self.side_by_side + (self.others.flow_m3_h or 0.0)

    @property
    def water_tan_g_day(self) -> float | None:
        """The load on all the filters whose flow is known."""
        if self.tan_g_day is None:
            return None
        return self.tan_g_day * self.side_by_side + (self.others.tan_g_day if self.others.flow_m3_h else 0.0)

    @property
    def lip_above_rim_m(self) -> float:
        """The overflow's lip over the rim of the tank; below 0 the return cannot go over that rim."""
        return self.design.lip_above_water_m - self.design.tank.freeboard_m

    @property
    def water_m3(self) -> float:
        """Water that it takes to fill the filter to its lip."""
        design = self.design
        return design.water_below_m3(min(design.overflow_height_m, design.container.height_m))

    @property
    def stone_kg(self) -> float:
        return sum(layer.dry_mass_kg(self.design.section_m2) for layer in self.design.layers)

    @property
    def filled_kg(self) -> float:
        """Stones and water; the container itself comes on top."""
        return self.stone_kg + self.water_m3 * 1000


def appraise(
    design: Design,
    *,
    tan_g_day: float | None = None,
    price_per_kwh: float | None = None,
    side_by_side: int = 1,
    others: Others = NO_OTHERS,
    newcomer_tan_g_day: float = 0.0,
) -> Assessment:
    """All numbers of a design. price_per_kwh in any money. See `findings` for what they mean."""
    point = operating_point(design)
    carries = capacity_tan_g_day(design.media_surface_m2, design.temperature_c)
    found = Assessment(
        design=design,
        tan_g_day=tan_g_day,
        side_by_side=side_by_side,
        others=others,
        point=point,
        carries_tan_g_day=carries,
        load=None if tan_g_day is None else load_share(tan_g_day, carries),
        supply=None,
        capture=capture(point.void_velocity_m_s, design.temperature_c),
        running=overtopping(design),
        half_blocked=overtopping(design, Fault(blocked_share=0.5)),
        shut=overtopping(design, Fault(blocked_share=1.0)),
        clogged=_clogged(design, point),
        back_siphon=back_siphon(design),
        valve_litres=back_siphon(replace(design, guard=CHECK_VALVE)).litres,
        fill=_fill(design, point.flow_m3_h),
        least_lip_m=least_lip_height_m(point.flow_m3_h, design.back, design.temperature_c),
        days_to_dry=days_to_dry_pump(design),
        month_kwh=design.pump.energy_kwh(MONTH_DAYS),
        month_cost=None if price_per_kwh is None else monthly_cost(design, price_per_kwh),
        newcomer_tan_g_day=newcomer_tan_g_day,
    )
    return replace(found, supply=_supply(found))


def _supply(of: Assessment) -> Supply | None:
    """Ammonia is a matter of the whole water, oxygen of these stones alone."""
    asked = of.water_tan_g_day
    if of.tan_g_day is None or asked is None or not of.point.lifts:
        return None
    brought = TANK_SATURATION * oxygen_saturation_mg_l(of.design.temperature_c) - OXYGEN_LEFT_MG_L
    load = checked("tan_g_day", of.tan_g_day, 0)
    return Supply(
        asked / (of.water_flow_m3_h * 24), load * OXYGEN_PER_TAN / (of.point.flow_m3_h * 24 * brought)
    )


def _clogged(design: Design, point: OperatingPoint) -> Clogged | None:
    if not design.layers or not point.lifts:
        return None
    fault = Fault(held_kg=CLOGGED_SHARE * capacity_kg(design.layers, design.section_m2))
    return Clogged(
        flow_m3_h=operating_point(design, fault).flow_m3_h,
        running=overtopping(design, fault),
        halving_factor=clogging_factor_that_stops(design, point.flow_m3_h / 2),
    )


def _fill(design: Design, flow_m3_h: float) -> float | None:
    pipe, fall = design.back.pipe, return_fall_m(design)
    if fall <= 0 or pipe.length_m == 0:
        return None
    slope = min(max(fall / pipe.length_m, FLATTEST), STEEPEST)
    share = fill_share(flow_m3_h / design.back.count, pipe.bore_m, slope)
    return 1.0 if share is None else share


def return_fall_m(design: Design) -> float:
    """How far the return falls on its way [m]: to its far end, or to the tank's water line."""
    return design.lip_above_water_m if design.back.fall_m is None else design.back.fall_m


def wanted_lip_m(assessment: Assessment) -> float:
    """Height [m] of the lip over the tank's water: the least, and the usual fall of the pipe."""
    return assessment.least_lip_m + USUAL_FALL * assessment.design.back.pipe.length_m
