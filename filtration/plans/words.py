"""What the planner says beside a design's figures: where the pump's head goes, what limits it, two plans compared.

Plain Python; sentences carry amounts as marks (see refuge.rules.words).
"""

import re
from dataclasses import dataclass, replace

from filtration.designing.air_words import air_words, surface_words
from filtration.designing.assess import Verdict
from filtration.designing.assessment import Assessment
from filtration.designing.checks_of_run import TAN_LIMIT_MG_L
from filtration.designing.figure import Figure
from filtration.designing.figures import figures
from filtration.designing.findings import Finding
from filtration.designing.words import flow, length, percent, times, volume
from filtration.hydraulics.design import Design
from filtration.hydraulics.operating_point import operating_point
from filtration.hydraulics.piping import STANDARD_BORES_M
from filtration.hydraulics.pump import ParabolicCurve
from filtration.nitrification import medium
from refuge.units import spoken

SAME = "same"
NUMBER = re.compile(r"\d+(?:\.\d+)?(?:e[-+]\d+)?")
LITTLE_GAIN = 1.05  # a change that brings less than a twentieth is not worth naming


@dataclass(frozen=True)
class HeadPart:
    """One part of the head that the pump gives [m], and its share."""

    name: str
    head_m: float
    share: float


def head_parts(numbers: Assessment) -> tuple[HeadPart, ...]:
    """Where the pump's head goes at the flow that results, in the water's order; they sum to the whole."""
    heads = numbers.point.heads
    pipe = heads.pipe
    parts = [
        ("Lift from the tank's water to the lip", heads.static),
        ("Friction in the inlet", pipe.friction_m),
        ("Fittings of the inlet and its end", pipe.fittings_m),
        ("Valve", pipe.valve_m),
        ("Grate", heads.grate),
        *(
            (medium(layer.medium).name, loss)
            for layer, loss in zip(numbers.design.layers, heads.layer_losses, strict=True)
        ),
        ("Water over the lip", heads.over_lip),
    ]
    return tuple(HeadPart(name, head, head / heads.total if heads.total else 0.0) for name, head in parts)


def limits_flow(numbers: Assessment) -> str:
    """What holds the flow back, and what the next wider inlet would bring."""
    point, design = numbers.point, numbers.design
    if not point.lifts:
        return "No water flows: the pump does not lift it to the overflow."
    # A filter set to a flow that was measured has what nobody knows of it put into its inlet.
    inlet = "the inlet with its strainer" if design.inlet.extra_k else "the inlet pipe"
    parts = {
        "the lift": max(point.heads.static, 0.0),
        inlet: point.heads.pipe.total_m,
        "stones and grate": point.heads.media + point.heads.grate,
        "the water over the lip": point.heads.over_lip,
    }
    most = max(parts, key=lambda name: parts[name])
    said = f"{most[0].upper()}{most[1:]} takes {percent(parts[most] / point.heads.total)} of the pump's head."
    return f"{said} {_gain(design, point.flow_m3_h)}".strip()


def _gain(design: Design, now_m3_h: float) -> str:
    wider = next((bore for bore in STANDARD_BORES_M if bore > design.inlet.bore_m * 1.02), None)
    if wider is None:
        return ""
    then = operating_point(replace(design, inlet=design.inlet.widened(wider))).flow_m3_h
    if then < now_m3_h * LITTLE_GAIN:
        return "A wider inlet would bring little."
    return f"An inlet of {length(wider)} bore would bring {flow(then)}."


def limits_load(numbers: Assessment) -> str:
    """What decides how much ammonia it can clear: the stones' surface, or what the flow brings."""
    if not numbers.point.lifts:
        return "It carries nothing while no water flows."
    brought = numbers.point.flow_m3_h * 24 * TAN_LIMIT_MG_L
    surface = numbers.carries_tan_g_day
    if brought < surface:
        return (
            f"The flow: at {TAN_LIMIT_MG_L:g}\u00a0mg/L it brings {brought:.1f}\u00a0g a day past the stones, whose surface "
            f"could clear {surface:.1f}\u00a0g."
        )
    return (
        f"The stones' surface: {surface:.1f}\u00a0g a day. At {TAN_LIMIT_MG_L:g}\u00a0mg/L the flow would bring "
        f"{brought:.1f}\u00a0g."
    )


def could_run_over(numbers: Assessment) -> str:
    """What the water does at the rim: as it runs, with the return half blocked, and shut."""
    running, half, shut = numbers.running, numbers.half_blocked, numbers.shut
    if not numbers.point.lifts:
        return "Not while no water flows."
    if running.overtops:
        return f"It does: {flow(running.spill_m3_h)} go over the rim as it runs."
    said = (
        f"Not as it runs: {length(running.freeboard_m)} are left under the rim. With the return half blocked "
    )
    said += f"{flow(half.spill_m3_h)} go over it" if half.overtops else f"{length(half.freeboard_m)} are left"
    said += (
        f"; with it shut, {volume(shut.litres / 1000)} in all."
        if shut.overtops
        else ", and it holds shut too."
    )
    if numbers.clogged and not numbers.clogged.running.overtops:
        said += f" Clogged stones only starve it: {flow(numbers.clogged.flow_m3_h)} are left, and the level falls."
    return said


def taken_for_granted(numbers: Assessment) -> tuple[str, ...]:
    """What nobody measured and the figures rest on."""
    design = numbers.design
    curve = (
        ["The pump's curve is a parabola between its two ends."]
        if isinstance(design.pump.curve, ParabolicCurve)
        else []
    )
    return (
        f"Water is lost into {air_words(design)}.",
        f"The level: {surface_words(design)}. Where the pump stands in a tank of its own, its surface belongs in "
        "“Its surface”, and that of all tanks in “All surfaces that evaporate”.",
        *curve,
        "Sizes and weight of the waste are those of fish farms, within a wide range.",
    )


@dataclass(frozen=True)
class Compared:
    """One figure of two plans as it is read, and what sets the second apart: “same”, “12 % more”, “5.2 times as much”,
    “differs”."""

    title: str
    first: str
    second: str
    apart: str

    @property
    def is_same(self) -> bool:
        return self.apart == SAME


def compared(first: Verdict, second: Verdict, system: str) -> tuple[Compared, ...]:
    """The figures of two plans in rows, in the units of whoever reads; what one does not have is a dash."""
    sides = [{figure.key: figure for figure in figures(verdict)} for verdict in (first, second)]
    titles = {key: figure.title for side in sides for key, figure in side.items()}
    return tuple(_row(title, sides[0].get(key), sides[1].get(key), system) for key, title in titles.items())


def _row(title: str, first: Figure | None, second: Figure | None, system: str) -> Compared:
    said = [spoken(figure.said, system) if figure else "–" for figure in (first, second)]
    apart = SAME if said[0] == said[1] else "differs"
    if first and second and said[0] != said[1]:
        apart = _apart(first.said, second.said) or apart
    return Compared(title, said[0], said[1], apart)


def _apart(first: str, second: str) -> str:
    """By how much the leading numbers of two sentences of one form differ; empty where they cannot be held together."""
    if NUMBER.sub("", first) != NUMBER.sub("", second):
        return ""
    numbers = [NUMBER.search(text) for text in (first, second)]
    old, new = (float(number[0]) if number else 0.0 for number in numbers)
    if old <= 0 or round(abs(new / old - 1), 2) == 0:
        return ""
    if new >= 2 * old:
        return f"{times(new / old)} as much"
    return f"{percent(abs(new / old - 1))} {'more' if new > old else 'less'}"


def findings_apart(first: Verdict, second: Verdict) -> tuple[list[Finding], list[Finding]]:
    """What is found in only one of two plans, or more gravely in one than in the other: then in both."""
    kinds = [{(finding.key, finding.severity) for finding in verdict.findings} for verdict in (first, second)]
    return (
        [finding for finding in first.findings if (finding.key, finding.severity) not in kinds[1]],
        [finding for finding in second.findings if (finding.key, finding.severity) not in kinds[0]],
    )
