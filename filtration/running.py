"""How a filter that stands runs: its plan, or one rebuilt from its record, set to the flow it had when new."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from filtration.designing.assess import Verdict, assess
from filtration.designing.assessment import Others
from filtration.designing.bucket_words import SERIOUS, STEADY, first_flow_findings, flow_findings
from filtration.designing.existing import Reconstruction, reconstruct
from filtration.designing.findings import Finding
from filtration.designing.steps import BUCKET_M3
from filtration.designing.words import percent
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.blockage import calibrated, expected_flow_m3_h, explain_flow
from filtration.hydraulics.deposit import capacity_kg
from filtration.hydraulics.design import Container, Design, Tank
from filtration.hydraulics.piping import Pipe
from filtration.hydraulics.pump import ParabolicCurve, Pump
from filtration.models import FilterUnit
from filtration.models import Pump as RecordedPump
from filtration.nitrification import within_range
from filtration.plans.models import FilterBuild
from filtration.plans.reading import design_of
from filtration.plans.selectors import OVER_INTAKE_M, TANK_FREEBOARD_M
from filtration.plans.words import limits_flow
from refuge.errors import OutOfRange
from refuge.rules.facts import RUNNING, CircuitFacts, FilterFacts
from refuge.rules.triggers import day_text
from refuge.rules.words import amount

USUAL_DEPTH_M = 0.5  # of a water whose surface is not recorded (common practice, no source)
# What a strainer takes between two cleanings (common practice, no source).
USUAL_LOSS = 0.2
# A bucket for a garden pump, and a tub for a pond's, which fills the bucket in no time.
LARGE_FLOW_M3_H, TUB_M3 = 6.0, 0.100


@dataclass(frozen=True)
class Bucket:
    """What a bucket test should show now, with what is thought to lie between the stones, and what the last one did."""

    expected_m3_h: float
    held_kg: float
    measured_m3_h: float | None
    findings: tuple[Finding, ...]

    @property
    def size_m3(self) -> float:
        return BUCKET_M3 if self.expected_m3_h < LARGE_FLOW_M3_H else TUB_M3

    @property
    def share(self) -> float | None:
        """Measured flow over the one to expect."""
        return self.measured_m3_h / self.expected_m3_h if self.measured_m3_h and self.expected_m3_h else None

    @property
    def state(self) -> tuple[str, str]:
        if self.share is None:
            return "unknown", "never measured"
        if self.share < SERIOUS:
            return "act", "far less than it should be"
        if self.share < 1 - USUAL_LOSS:
            return "watch", "less than it should be"
        if self.share < 1 - STEADY:
            return "good", "a little less, as between cleanings"
        return (
            ("good", "as it should be") if self.share <= 1 + STEADY else ("watch", "more than it should be")
        )

    @property
    def expected_s(self) -> float | None:
        return seconds_to_fill(self.size_m3, self.expected_m3_h)

    @property
    def measured_s(self) -> float | None:
        return seconds_to_fill(self.size_m3, self.measured_m3_h)


def seconds_to_fill(bucket_m3: float, flow_m3_h: float | None) -> float | None:
    """Seconds to fill a bucket at a flow [m3/h]; None where nothing flows or it is not known."""
    return bucket_m3 / flow_m3_h * 3600 if flow_m3_h else None


@dataclass(frozen=True)
class Running:
    """How a filter runs, or what is missing to say so. assumed: what was taken for granted, with marks."""

    verdict: Verdict | None
    bucket: Bucket | None
    by_plan: bool
    missing: tuple[str, ...]
    assumed: tuple[str, ...]
    own_tan_g_day: float = 0.0  # its part of the water's load
    now: Verdict | None = (
        None  # at the flow of the last bucket test; None where that is the flow when new, or unknown
    )
    now_words: str = ""  # which test that is
    limits_flow: str = ""  # what has come to hold its flow back


def running(
    unit: FilterUnit,
    facts: FilterFacts,
    water: CircuitFacts,
    *,
    surface_m2: float | None,
    is_outdoor: bool = False,
    mature_g_day: float,
    others: Iterable[FilterFacts] = (),
    site_price_per_kwh: float | None = None,
) -> Running:
    """How a filter runs today. surface_m2, is_outdoor: of its water's enclosures. mature_g_day: what it carries once mature.

    others: the water's other filters, of which those that run count. site_price_per_kwh: where its plan has none.
    No query beside those for the unit with its layers, pump and build.
    """
    build = getattr(unit, "build", None)
    own = own_load(water, mature_g_day, runs=facts.state in RUNNING)
    try:
        found = (
            _planned(unit, build, water)
            if build
            else _rebuilt(unit, water, surface_m2, is_outdoor=is_outdoor)
        )
        if found.design is None:
            return Running(None, None, build is not None, found.missing, ())
        design, assumed = _as_when_new(found.design, facts.commissioning_flow_m3_h, found.assumed)
        price = build.design.price_per_kwh if build else None
        price = site_price_per_kwh if price is None else price
        beside = Others(water.tan_g_day - own, _flow_of(others))
        judged = partial(assess, tan_g_day=own, price_per_kwh=price, others=beside)
        verdict = judged(design)
        bucket = _bucket(design, facts, verdict.numbers.point.flow_m3_h if build else None)
        measured = _as_measured(design, facts, verdict)
        now = judged(measured) if measured else None
    except OutOfRange as error:
        return Running(None, None, build is not None, (f"sizes that can be: {error}",), ())
    which, held_back = _measured_words(design, facts, verdict) if now else ("", "")
    return Running(verdict, bucket, build is not None, (), assumed, own, now, which, held_back)


def _flow_of(others: Iterable[FilterFacts]) -> float | None:
    """Flow [m3/h] of those that run: as measured last, else when new; None where no flow is known."""
    running = [each for each in others if each.state in RUNNING]
    flows = (each.flow.value if each.flow else each.commissioning_flow_m3_h for each in running)
    return sum(flow or 0.0 for flow in flows) or None


def _as_measured(design: Design, facts: FilterFacts, new: Verdict) -> Design | None:
    """The filter with the flow of its last bucket test; None where nothing sets it apart from when it was new."""
    if facts.flow is None or not new.numbers.point.lifts:
        return None
    if abs(facts.flow.value / new.numbers.point.flow_m3_h - 1) <= STEADY:
        return None
    try:
        return calibrated(design, facts.flow.value)
    except OutOfRange:  # more than its pump can move: the bucket test is doubted, see its findings
        return None


def _measured_words(design: Design, facts: FilterFacts, new: Verdict) -> tuple[str, str]:
    """Which bucket test counts, and what it says of what holds the flow back."""
    if facts.flow is None:
        return "", ""
    value, was = facts.flow.value, new.numbers.point.flow_m3_h
    which = f"By the bucket test of {day_text(facts.flow.on)}, {amount(value, 'flow')}"
    was_new = facts.commissioning_flow_m3_h is not None
    when = "when new" if was_new else "as worked out"
    if value > was:
        return which, f"{which}: more than the {amount(was, 'flow')} {when}."
    share = explain_flow(design, value, was).missing_head_m / design.pump.curve.head_m(value)
    holds = "has come to hold it back since" if was_new else "holds it back"
    words = (
        f"{which}: {percent(value / was)} of {when if was_new else 'the flow as worked out'}. What {holds}, between the "
        f"stones, in the strainer or in the pump, takes {percent(share)} of the pump's head. "
        f"Clean: {limits_flow(new.numbers)}"
    )
    return which, words


def own_load(water: CircuitFacts, mature_g_day: float, *, runs: bool = True) -> float:
    """This filter's part of its water's load: by what each carries once mature; all of it if none runs yet.

    One that does not run is judged as if it ran beside those that do.
    """
    running = water.mature_capacity_tan_g_day or 0.0
    every = running if runs else running + mature_g_day
    share = mature_g_day / every if every and mature_g_day else 1.0
    return water.tan_g_day * min(share, 1.0)


def _bed(unit: FilterUnit) -> tuple[BedLayer, ...]:
    return tuple(
        BedLayer(x.medium, x.depth_m, x.is_bagged, x.void_fraction, x.specific_surface_m2_m3, x.grain_size_m)
        for x in unit.layers.all()
    )


def _container(unit: FilterUnit) -> Container:
    return Container(unit.name, unit.shape, unit.length_m, unit.height_m, unit.width_m)


def _planned(unit: FilterUnit, build: FilterBuild, water: CircuitFacts) -> Reconstruction:
    """The plan's pipework and heights, with container, stones, pump and water as they are recorded now."""
    plan = build.design
    design = design_of(plan, _bed(unit))
    design = replace(
        design,
        container=_container(unit),
        void_height_m=unit.void_height_m,
        temperature_c=within_range(water.temperature_c),
        tank=replace(design.tank, volume_m3=water.volume_m3) if water.volume_m3 > 0 else design.tank,
    )
    design, said = _with_bores(design, unit)
    pump, pump_said = _pump_that_stands(design, getattr(unit, "pump", None))
    return Reconstruction(replace(design, pump=pump), (), (*said, *pump_said))


def _with_bores(design: Design, unit: FilterUnit) -> tuple[Design, tuple[str, ...]]:
    """The pipes as wide as the record says; where the plan says otherwise, in words."""
    said: list[str] = []
    back = design.back
    inlet = _as_wide(design.inlet, unit.inlet_bore_m, "The inlet", said)
    pipe = _as_wide(back.pipe, unit.return_bore_m, "The return", said)
    return replace(design, inlet=inlet, back=replace(back, pipe=pipe)), tuple(said)


def _as_wide(pipe: Pipe, bore_m: float | None, what: str, said: list[str]) -> Pipe:
    if bore_m is None or not _differs(bore_m, pipe.bore_m):
        return pipe
    said.append(_record_counts(what, "wide", bore_m, pipe.bore_m))
    return replace(pipe, bore_m=bore_m)


def _differs(recorded: float | None, planned: float | None) -> bool:
    """Whether the record says something, and not the same: a form shows six digits."""
    if recorded is None:
        return False
    return planned is None or not math.isclose(recorded, planned, rel_tol=1e-4)


def _record_counts(what: str, how: str, recorded: float, planned: float) -> str:
    return (
        f"{what} is {amount(recorded, 'length')} {how} by the record, {amount(planned, 'length')} by the plan: "
        "the record counts."
    )


def _pump_that_stands(design: Design, pump: RecordedPump | None) -> tuple[Pump, tuple[str, ...]]:
    """The pump as recorded, and what sets it apart from the plan's."""
    planned, said = design.pump, []
    if pump is None:
        return planned, ()
    curve = planned.curve
    if _differs(pump.rated_flow_m3_h, curve.max_flow_m3_h) or _differs(
        pump.shutoff_head_m, curve.shutoff_head_m
    ):
        curve = ParabolicCurve(pump.shutoff_head_m or curve.shutoff_head_m, pump.rated_flow_m3_h)
        said.append("Another pump than planned stands there; its curve is a parabola between its two ends.")
    if _differs(pump.power_w, planned.power_w):
        by_plan = f"{planned.power_w:g}\u00a0W" if planned.power_w else "not said"
        said.append(
            f"The pump's power is {pump.power_w:g}\u00a0W by the record, {by_plan} by the plan: the record counts."
        )
    power = planned.power_w if pump.power_w is None else pump.power_w
    return Pump(curve, power, pump.name), tuple(said)


def _rebuilt(
    unit: FilterUnit, water: CircuitFacts, surface_m2: float | None, *, is_outdoor: bool
) -> Reconstruction:
    pump = getattr(unit, "pump", None)
    if water.volume_m3 <= 0:
        return Reconstruction(None, ("the size of its water",), ())
    surface = surface_m2 or water.volume_m3 / USUAL_DEPTH_M
    found = reconstruct(
        container=_container(unit),
        void_height_m=unit.void_height_m,
        layers=_bed(unit),
        tank=Tank(water.volume_m3, surface, OVER_INTAKE_M, TANK_FREEBOARD_M, is_outdoor=is_outdoor),
        temperature_c=within_range(water.temperature_c),
        max_flow_m3_h=pump.rated_flow_m3_h if pump else None,
        shutoff_head_m=pump.shutoff_head_m if pump else None,
        power_w=pump.power_w if pump else None,
        inlet_bore_m=unit.inlet_bore_m,
        return_bore_m=unit.return_bore_m,
    )
    tank = (
        f"The pump's intake lies {amount(OVER_INTAKE_M, 'length')} under the water, the tank's rim "
        f"{amount(TANK_FREEBOARD_M, 'length')} over it."
    )
    return replace(found, assumed=(*found.assumed, tank))


def _as_when_new(
    design: Design, flow_m3_h: float | None, assumed: Sequence[str]
) -> tuple[Design, tuple[str, ...]]:
    """Set to the flow that was measured when it was new, which takes most of what was assumed out again."""
    if flow_m3_h is None:
        return design, (*assumed, "No flow when new is known: what follows is worked out, not measured.")
    try:
        new = calibrated(design, flow_m3_h)
    except OutOfRange:
        words = f"The flow when new, {amount(flow_m3_h, 'flow')}, is more than its pump can move: one of them is wrong."
        return design, (*assumed, words)
    words = f"Set to the {amount(flow_m3_h, 'flow')} that were measured when it was new."
    return new, (*assumed, words)


def _bucket(design: Design, facts: FilterFacts, planned_m3_h: float | None) -> Bucket:
    """planned_m3_h: the flow by the plan of a filter that was built by one."""
    held = min(facts.carried_g / 1000, 0.999 * capacity_kg(design.layers, design.section_m2))
    measured = facts.flow.value if facts.flow else None
    return Bucket(
        expected_m3_h=expected_flow_m3_h(design, held),
        held_kg=held,
        measured_m3_h=measured,
        findings=_explained(design, measured, facts.commissioning_flow_m3_h, planned_m3_h),
    )


def _explained(
    design: Design, measured: float | None, new: float | None, planned: float | None
) -> tuple[Finding, ...]:
    """What the last bucket test may mean; nothing where the sums cannot take its flow."""
    if measured is None:
        return ()
    if new is None:
        return first_flow_findings(measured, planned) if planned else ()
    try:
        return flow_findings(explain_flow(design, measured, new))
    except OutOfRange:
        return ()
