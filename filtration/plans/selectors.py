"""Reads about planned filters: the plans, where a new one begins, what a water asks for."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, QuerySet

from enclosures.models import Circuit, Enclosure
from filtration.designing.assess import Verdict
from filtration.designing.assessment import NO_OTHERS, Others
from filtration.designing.propose import CONTAINERS, Proposal, propose
from filtration.facts import filter_capacity
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import CHECK_VALVE, Container, Design, Tank
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import Pipe, Valve
from filtration.hydraulics.pump import ParabolicCurve, Pump
from filtration.models import FilterUnit
from filtration.nitrification import within_range
from filtration.plans.models import FilterDesign
from filtration.plans.reading import (
    PlannedLoad,
    bed_layers,
    columns_of,
    layer_columns,
    load_of,
    newcomer_tan_g_day,
    verdict_of,
)
from refuge.errors import OutOfRange
from refuge.rounds.loaders import Moment, load_facts
from refuge.rounds.planner import moment_for
from refuge.rules.facts import RUNNING, CircuitFacts, FilterFacts

# Where a new plan begins: a drum beside a tank on the same floor. Sizes as they are easily had (common
# practice, no source); bores of Schedule 40 pipe, 1 and 2 in.
DRUM = CONTAINERS[1]
INLET_BORE_M, RETURN_BORE_M = 1.049 * 0.0254, 2.067 * 0.0254
USUAL_FLOOR_M, OVER_INTAKE_M, TANK_FREEBOARD_M = -0.5, 0.30, 0.12
CODE = re.compile(r"F(\d{1,6})")
LOAD_OF_NOBODY = 0.01  # g TAN a day: a load to propose for where nothing is fed


@dataclass(frozen=True)
class RunningFilter:
    """A filter that cleans the water already: what it carries once mature [g TAN a day], its flow as last measured, or
    when it was new [m3/h; None: never measured]."""

    code: str
    carries_tan_g_day: float
    flow_m3_h: float | None


@dataclass(frozen=True)
class Asked:
    """What a water asks of a filter. surface_m2: of its enclosures together; None where it has none. tanks: how many.
    is_outdoor: one of them at least. running: its filters in work."""

    circuit: Circuit
    facts: CircuitFacts
    surface_m2: float | None
    tanks: int = 0
    is_outdoor: bool = False
    running: tuple[RunningFilter, ...] = ()

    @property
    def others_tan_g_day(self) -> float:
        """What its filters carry together once mature."""
        return sum(each.carries_tan_g_day for each in self.running)

    @property
    def others_flow_m3_h(self) -> float | None:
        """Their flow together, of those that were ever measured; None without one."""
        return sum(each.flow_m3_h or 0.0 for each in self.running) or None

    @property
    def running_words(self) -> str:
        """'F04 carries 7.6 g, F05 2.0 g'; empty without any."""
        said = [f"{each.code} {each.carries_tan_g_day:.1f}\u00a0g" for each in self.running]
        return ", ".join(said).replace(" ", " carries ", 1)

    @property
    def temperature_c(self) -> float:
        """Within what the sums take."""
        return within_range(self.facts.temperature_c)

    @property
    def columns(self) -> dict[str, Any]:
        """The columns of a plan that follow from it."""
        sizes: dict[str, Any] = {"circuit": self.circuit.pk, "temperature_c": self.temperature_c}
        sizes["is_outdoor"] = self.is_outdoor
        sizes["tan_g_day"] = round(self.facts.tan_g_day, 2)
        sizes["others_tan_g_day"] = round(self.others_tan_g_day, 1) or None
        sizes["others_flow_m3_h"] = self.others_flow_m3_h
        if self.facts.volume_m3 > 0:
            sizes["tank_volume_m3"] = self.facts.volume_m3
        if self.surface_m2:
            sizes["tank_surface_m2"] = self.surface_m2
            # Of several tanks nobody wrote down in which the pump stands: who corrects that keeps what evaporates.
            sizes["tank_open_surface_m2"] = self.surface_m2 if self.tanks > 1 else None
        return sizes

    @property
    def tank(self) -> Tank | None:
        """Its water as a tank; None while its size is not known."""
        if self.facts.volume_m3 <= 0 or not self.surface_m2:
            return None
        return Tank(
            self.facts.volume_m3,
            self.surface_m2,
            OVER_INTAKE_M,
            TANK_FREEBOARD_M,
            is_outdoor=self.is_outdoor,
        )


def asked_of(circuit: Circuit) -> Asked:
    """A fixed number of queries."""
    moment = moment_for()
    facts = load_facts(frozenset([circuit.pk]), moment)
    tanks = _tanks_of(circuit.pk)
    outdoor = any(tank.is_outdoor for tank in tanks)
    running = tuple(_running(unit, moment) for unit in facts.filter.values() if unit.state in RUNNING)
    return Asked(circuit, facts.circuit[circuit.pk], _surface_m2(tanks), len(tanks), outdoor, running)


def _running(unit: FilterFacts, moment: Moment) -> RunningFilter:
    flow = unit.flow.value if unit.flow else unit.commissioning_flow_m3_h
    return RunningFilter(unit.stop.code or unit.label, filter_capacity(unit, moment)[1], flow)


def surface_of(circuit_id: int) -> float | None:
    """Water surface of a circuit's enclosures in use [m2]: 1 query."""
    return _surface_m2(_tanks_of(circuit_id))


def _tanks_of(circuit_id: int) -> list[Enclosure]:
    return list(Enclosure.objects.filter(circuit=circuit_id, in_use=True))


def _surface_m2(tanks: Iterable[Enclosure]) -> float | None:
    return sum(tank.water_surface_m2 for tank in tanks) or None


def beginning() -> Design:
    """The design that a new plan begins with."""
    return Design(
        container=DRUM,
        void_height_m=0.20,
        layers=(BedLayer("river_rock", 0.20), BedLayer("lava_rock", 0.25)),
        pump=Pump(ParabolicCurve(2.5, 4.0), 60.0),
        inlet=Pipe(INLET_BORE_M, 3.0, fittings=(("elbow_90", 3),), valve=Valve()),
        back=Return(Pipe(RETURN_BORE_M, 1.0, fittings=(("elbow_90", 1),))),
        overflow_height_m=0.70,
        floor_above_water_m=0.30 - 0.70,
        tank=Tank(1.1, 2.0, OVER_INTAKE_M, TANK_FREEBOARD_M),
        temperature_c=24.0,
        grate_open_share=0.4,
        guard=CHECK_VALVE,
        name="",
    )


def plan_from(design: Design, **columns: Any) -> tuple[FilterDesign, list[dict[str, Any]]]:
    """A plan that is not saved yet, and its layers."""
    return FilterDesign(**{**columns_of(design), **columns}), layer_columns(design.layers)


@dataclass(frozen=True)
class Stand:
    """What the water's record does not say: animals that will join [kg], and where the filter's floor comes to
    stand over the tank's water [m]; half a metre below it as beside a tank on the same floor. is_alone: for the whole
    load, as if the water's filters were gone."""

    newcomer_kg: float | None = None
    floor_above_water_m: float = USUAL_FLOOR_M
    is_alone: bool = False

    @property
    def newcomer_tan_g_day(self) -> float:
        return newcomer_tan_g_day(self.newcomer_kg) if self.newcomer_kg else 0.0


def planned_load(asked: Asked, stand: Stand) -> PlannedLoad:
    """The load that is proposed for: of the animals now and to come, less what the water's filters carry."""
    others = 0.0 if stand.is_alone else asked.others_tan_g_day
    return PlannedLoad(asked.facts.tan_g_day, stand.newcomer_tan_g_day, 1, others)


def proposals(asked: Asked, stand: Stand, containers: Sequence[Container] = CONTAINERS) -> list[Proposal]:
    """What would do for a water, best first; empty where its size is not known or no usual pump does."""
    if asked.tank is None:
        return []
    load = planned_load(asked, stand)
    return propose(
        max(load.rest or 0.0, LOAD_OF_NOBODY),
        asked.temperature_c,
        asked.tank,
        floor_above_water_m=stand.floor_above_water_m,
        containers=containers,
        others=NO_OTHERS
        if stand.is_alone
        else Others(load.others, asked.others_flow_m3_h, load.spare_of_others),
        newcomer_tan_g_day=load.newcomer or 0.0,
    )


def proposal(asked: Asked, stand: Stand, container: int | None) -> Proposal | None:
    """The proposal for one of the usual containers, by its place in CONTAINERS."""
    if container is None or not 0 <= container < len(CONTAINERS):
        return None
    return next(iter(proposals(asked, stand, [CONTAINERS[container]])), None)


def place_of(found: Proposal) -> int:
    """The place in CONTAINERS of a proposal's container."""
    return CONTAINERS.index(found.design.container)


@dataclass(frozen=True)
class PlanRow:
    """One saved plan with what the sums make of it; `verdict` is None where they refuse its sizes."""

    plan: FilterDesign
    verdict: Verdict | None
    load: PlannedLoad


def plans() -> QuerySet[FilterDesign]:
    """All plans, the last changed first, with water, layers and how many filters stand by each: 2 queries."""
    rows = FilterDesign.objects.select_related("circuit", "made_by").prefetch_related("layers")
    return rows.annotate(built=Count("builds")).order_by("-changed_at", "-pk")


def plan_rows(found: Iterable[FilterDesign], site_price_per_kwh: float | None = None) -> list[PlanRow]:
    """Plans with their verdicts; no query beside those fetched before. Some hundredths of a second each."""
    return [plan_row(plan, site_price_per_kwh) for plan in found]


def plan_row(plan: FilterDesign, site_price_per_kwh: float | None = None) -> PlanRow:
    try:
        verdict = verdict_of(plan, bed_layers(plan), site_price_per_kwh)
    except OutOfRange:
        verdict = None
    return PlanRow(plan, verdict, load_of(plan))


def area_of(circuit_id: int | None) -> int | None:
    """Where a filter of a circuit would stand: in the area of its first enclosure."""
    tank = Enclosure.objects.filter(circuit=circuit_id).order_by("position", "code").first()
    return tank.area_id if tank else None


def next_code() -> str:
    """A code for a new filter: one more than the highest number that a code like F07 has."""
    numbers = [
        int(match[1])
        for code in FilterUnit.objects.filter(code__startswith="F").values_list("code", flat=True)
        if (match := CODE.fullmatch(code))
    ]
    return f"F{max(numbers, default=0) + 1:02d}"
