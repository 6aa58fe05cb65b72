"""A plan as the sums want it: from the columns of `FilterDesign` to a design in SI, and back."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from filtration.designing.assess import Verdict, assess
from filtration.designing.assessment import NEWCOMER_MEAL_DAYS, NO_OTHERS, Others
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import SIPHON_BREAK, Container, Design, Tank
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import Pipe, Valve
from filtration.hydraulics.pump import ParabolicCurve, PointCurve, Pump, PumpCurve
from filtration.plans.models import FITTING_KEYS, FilterDesign
from husbandry.arrivals.newcomer import proposed_ration_kg
from husbandry.bioload import planned_daily_load
from husbandry.food_values import food_value

# What a plan keeps of a layer: columns of `DesignLayer`, fields of the form and of `BedLayer` by the same name.
LAYER_COLUMNS = ("medium", "depth_m", "is_bagged", "grain_size_m", "void_fraction")
# What a newcomer is taken to eat until its own plan is entered: fish, once a week (common practice, no source).
FISH = "Tilapia"


@dataclass(frozen=True)
class PlannedLoad:
    """What the animals put in [g TAN/day]: those that are there, those that will join, what the water's other filters
    carry of it, each filter's part of the rest."""

    now: float | None
    newcomer: float | None
    filters: int
    capacity_of_others: float = 0.0

    @property
    def total(self) -> float | None:
        parts = [part for part in (self.now, self.newcomer) if part is not None]
        return sum(parts) if parts else None

    @property
    def others(self) -> float:
        return min(self.capacity_of_others, self.total or 0.0)

    @property
    def spare_of_others(self) -> float:
        """What they could carry beside."""
        return self.capacity_of_others - self.others

    @property
    def rest(self) -> float | None:
        return None if self.total is None else self.total - self.others

    @property
    def each(self) -> float | None:
        return None if self.rest is None else self.rest / self.filters


def newcomer_tan_g_day(mass_kg: float) -> float:
    """TAN [g/day] of animals of `mass_kg` together, fed the ration that an arrival is proposed, once a week."""
    fish, ration = food_value(FISH), proposed_ration_kg(mass_kg, NEWCOMER_MEAL_DAYS)
    meals_a_week = 7 / NEWCOMER_MEAL_DAYS
    return planned_daily_load(ration, meals_a_week, fish.protein_fraction, fish.water_fraction).tan_g


def load_of(plan: FilterDesign) -> PlannedLoad:
    newcomer = newcomer_tan_g_day(plan.newcomer_kg) if plan.newcomer_kg else None
    others = 0.0 if plan.is_alone else plan.others_tan_g_day or 0.0
    return PlannedLoad(plan.tan_g_day, newcomer, plan.side_by_side, others)


def verdict_of(
    plan: FilterDesign, layers: Iterable[BedLayer], site_price_per_kwh: float | None = None
) -> Verdict:
    """What the sums make of a plan; at the site's price of electricity where it names none.

    Raises OutOfRange, naming the argument, for sizes that cannot be.
    """
    load = load_of(plan)
    return assess(
        design_of(plan, layers),
        tan_g_day=load.each,
        price_per_kwh=site_price_per_kwh if plan.price_per_kwh is None else plan.price_per_kwh,
        side_by_side=plan.side_by_side,
        others=NO_OTHERS
        if plan.is_alone
        else Others(load.others, plan.others_flow_m3_h, load.spare_of_others),
        newcomer_tan_g_day=load.newcomer or 0.0,
    )


def bed_layers(plan: FilterDesign) -> tuple[BedLayer, ...]:
    """The saved layers of a plan, bottom first."""
    return tuple(
        bed_layer({name: getattr(each, name) for name in LAYER_COLUMNS}) for each in plan.layers.all()
    )


def bed_layer(row: Mapping[str, Any]) -> BedLayer:
    """A layer from its columns, typed or saved. OutOfRange as BedLayer says."""
    return BedLayer(**{name: row[name] for name in LAYER_COLUMNS})


def design_of(plan: FilterDesign, layers: Iterable[BedLayer]) -> Design:
    """The design in SI. OutOfRange as above."""
    return Design(
        container=Container(plan.container_name, plan.shape, plan.length_m, plan.height_m, plan.width_m),
        void_height_m=plan.void_height_m,
        layers=tuple(layers),
        pump=Pump(_curve(plan), plan.pump_power_w, plan.pump_name),
        inlet=_pipe(plan, "inlet", _valve(plan)),
        back=Return(_pipe(plan, "return"), plan.return_mouth, plan.return_count, fall_m=plan.return_fall_m),
        overflow_height_m=plan.overflow_height_m,
        floor_above_water_m=plan.floor_above_water_m,
        tank=Tank(
            plan.tank_volume_m3,
            plan.tank_surface_m2,
            plan.tank_over_intake_m,
            plan.tank_freeboard_m,
            plan.tank_open_surface_m2,
            plan.is_outdoor,
        ),
        temperature_c=plan.temperature_c,
        grate_open_share=plan.grate_open_share,
        inlet_crest_above_water_m=plan.inlet_crest_above_water_m,
        inlet_mouth_height_m=plan.inlet_mouth_height_m,
        guard=plan.guard,
        guard_height_m=plan.guard_height_m if plan.guard == SIPHON_BREAK else None,
        name=plan.name,
    )


def _curve(plan: FilterDesign) -> PumpCurve:
    if plan.pump_points:
        return PointCurve(tuple((flow, head) for flow, head in plan.pump_points))
    return ParabolicCurve(plan.pump_shutoff_head_m, plan.pump_max_flow_m3_h)


def _valve(plan: FilterDesign) -> Valve | None:
    return None if plan.inlet_valve == "none" else Valve(plan.inlet_valve, plan.inlet_valve_open_share)


def _pipe(plan: FilterDesign, which: str, valve: Valve | None = None) -> Pipe:
    counts = ((key, getattr(plan, f"{which}_{key}")) for key in FITTING_KEYS)
    return Pipe(
        getattr(plan, f"{which}_bore_m"),
        getattr(plan, f"{which}_length_m"),
        getattr(plan, f"{which}_material"),
        tuple((key, count) for key, count in counts if count),
        valve,
    )


def columns_of(design: Design) -> dict[str, Any]:
    """The columns of a plan that hold this design; its layers go by `layer_columns`."""
    curve, valve = design.pump.curve, design.inlet.valve
    return {
        "container_name": design.container.name,
        "shape": design.container.shape,
        "length_m": design.container.length_m,
        "width_m": design.container.width_m,
        "height_m": design.container.height_m,
        "void_height_m": design.void_height_m,
        "grate_open_share": design.grate_open_share,
        "pump_name": design.pump.name,
        "pump_shutoff_head_m": curve.shutoff_head_m,
        "pump_max_flow_m3_h": curve.max_flow_m3_h,
        "pump_points": [list(point) for point in curve.points] if isinstance(curve, PointCurve) else [],
        "pump_power_w": design.pump.power_w,
        **_pipe_columns("inlet", design.inlet),
        "inlet_valve": valve.kind if valve else "none",
        "inlet_valve_open_share": valve.open_share if valve else 1.0,
        "inlet_crest_above_water_m": design.inlet_crest_above_water_m,
        "inlet_mouth_height_m": design.inlet_mouth_height_m,
        "guard": design.guard,
        "guard_height_m": design.guard_height_m,
        **_pipe_columns("return", design.back.pipe),
        "return_count": design.back.count,
        "return_mouth": design.back.mouth,
        "return_fall_m": design.back.fall_m,
        "overflow_height_m": design.overflow_height_m,
        "floor_above_water_m": design.floor_above_water_m,
        "tank_volume_m3": design.tank.volume_m3,
        "tank_surface_m2": design.tank.surface_m2,
        "tank_open_surface_m2": design.tank.open_surface_m2,
        "tank_over_intake_m": design.tank.over_intake_m,
        "tank_freeboard_m": design.tank.freeboard_m,
        "temperature_c": design.temperature_c,
        "is_outdoor": design.tank.is_outdoor,
    }


def _pipe_columns(which: str, pipe: Pipe) -> dict[str, Any]:
    """The check valve that a guard brings is no fitting of its own: the guard says it."""
    counts = dict(pipe.fittings)
    sizes = {"bore_m": pipe.bore_m, "length_m": pipe.length_m, "material": pipe.material}
    return {f"{which}_{key}": value for key, value in sizes.items()} | {
        f"{which}_{key}": counts.get(key, 0) for key in FITTING_KEYS
    }


def layer_columns(layers: Sequence[BedLayer]) -> list[dict[str, Any]]:
    return [{name: getattr(layer, name) for name in LAYER_COLUMNS} for layer in layers]
