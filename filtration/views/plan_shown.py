"""What the planner's pages show of a plan: figures, findings, its drawing, who it is for."""

from collections.abc import Iterable
from typing import Any

from django.http import HttpRequest

from filtration.designing.assess import Verdict
from filtration.designing.figures import figures
from filtration.designing.findings import NOTE, STOP, WARN, Finding
from filtration.drawing import Section, cross_section
from filtration.nitrification import medium
from filtration.plans.entry import PlanEntry
from filtration.plans.selectors import Stand
from filtration.plans.words import could_run_over, head_parts, limits_flow, limits_load, taken_for_granted
from refuge.units import spoken

STATES = {STOP: ("act", "mend first"), WARN: ("watch", "think again"), NOTE: ("unknown", "know it")}
MOST_NEWCOMER_KG, MOST_FLOOR_M = 5000.0, 10.0
BRIEF = ("flow", "carries", "over_lip", "capture")


def whole_number(text: Any) -> int | None:
    """A number from an address; None for anything else."""
    return int(text) if text and str(text).isdecimal() and len(str(text)) < 12 else None


def stand_of(request: HttpRequest) -> Stand:
    """What an address says of animals to come (kg) and of the filter's floor (m), in SI; nonsense is left out."""
    newcomer, floor = (_number(request.GET.get(name)) for name in ("newcomer", "floor"))
    is_mass = newcomer is not None and 0 < newcomer <= MOST_NEWCOMER_KG
    is_floor = floor is not None and abs(floor) <= MOST_FLOOR_M
    return Stand(
        newcomer if is_mass else None,
        floor if floor is not None and is_floor else Stand.floor_above_water_m,
        request.GET.get("alone") == "on",
    )


def _number(text: str | None) -> float | None:
    try:
        return float(text) if text else None
    except ValueError:
        return None


def shown(entry: PlanEntry) -> dict[str, Any]:
    """Everything the planner's page and its parts need."""
    verdict = entry.verdict
    context = {
        "entry": entry,
        "form": entry.form,
        "layers": entry.layers,
        "parts": entry.form.parts(),
        "plan": entry.plan,
        "is_built": bool(entry.plan.pk and getattr(entry.plan, "built", 0)),
        "problems": entry.problems(),
        "load": None,
    }
    if verdict is not None:
        context |= verdict_context(verdict, entry.form.system) | {"load": entry.load}
    return context


def verdict_context(verdict: Verdict, system: str, sediment_depth_m: float = 0.0) -> dict[str, Any]:
    """A verdict with its figures, its findings by gravity, where the head goes, and the drawing."""
    numbers = verdict.numbers
    every = {figure.key: figure for figure in figures(verdict)}
    return {
        "verdict": verdict,
        "numbers": numbers,
        "figures": every.values(),
        "brief": [every[key] for key in BRIEF if key in every and numbers.point.lifts],
        "weight": every["weight"].said,
        "headline": headline(verdict),
        **found(verdict.findings),
        "head_parts": head_parts(numbers),
        "limits_flow": limits_flow(numbers),
        "limits_load": limits_load(numbers),
        "runs_over": could_run_over(numbers),
        "granted": taken_for_granted(numbers),
        "drawing": drawing_of(verdict, sediment_depth_m),
        "flow_words": spoken(every["flow"].said, system) if "flow" in every else "no flow",
        "free_m": numbers.running.freeboard_m if numbers.point.lifts else None,
        "lift_m": numbers.design.lip_above_water_m,
    }


def found(findings: Iterable[Finding]) -> dict[str, list[tuple[str, str, Finding]]]:
    """Findings as the pages show them: what is against it, and what is good to know."""
    rows = [(*STATES[finding.severity], finding) for finding in findings]
    return {
        "findings": [row for row in rows if row[2].severity != NOTE],
        "notes": [row for row in rows if row[2].severity == NOTE],
    }


def headline(verdict: Verdict) -> tuple[str, str]:
    """(state, words) of a whole plan."""
    stops = sum(finding.severity == STOP for finding in verdict.findings)
    if stops:
        return "act", f"Do not build it so: {stops} {'mistake' if stops == 1 else 'mistakes'}"
    if verdict.warnings:
        return "watch", f"Can be built, {verdict.warnings} to think about"
    return "good", "Can be built"


def drawing_of(verdict: Verdict, sediment_depth_m: float = 0.0) -> Section:
    design = verdict.numbers.design
    return cross_section(
        length_m=design.container.length_m,
        height_m=design.container.height_m,
        void_height_m=min(design.void_height_m, design.container.height_m),
        layers=[(short_name(layer.medium), layer.depth_m) for layer in design.layers],
        sediment_depth_m=sediment_depth_m,
        design=design,
        over_lip_m=verdict.numbers.running.level_m if verdict.numbers.point.lifts else 0.0,
    )


def short_name(key: str) -> str:
    """A medium's name without its sizes: 'River rock'."""
    return medium(key).name.partition(",")[0]
