"""How to build a design, step by step, with what to check and what to mind, in this design's own numbers.

Common practice, no source. It advises: local codes, licensed electricians and builders decide.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from filtration.designing.assess import Verdict
from filtration.designing.assessment import USUAL_FALL, Assessment, return_fall_m, wanted_lip_m
from filtration.designing.parts import CLAMPED, goes_over_the_rim, is_cemented
from filtration.designing.words import distance, flow, length, mass, volume
from filtration.hydraulics.design import CHECK_VALVE, NO_GUARD, Design
from filtration.hydraulics.overflow import STANDPIPE
from filtration.nitrification import days_to_mature, medium
from refuge.rules.words import amount

LEAK_HOURS = 24
BUCKET_M3 = 0.020
MAINS = "Mains electricity beside water can kill: residual-current (ground-fault) protection, plug out before hands go in."
LIFTING = (
    "Two people above 23 kg (51 lb); stones go in by the bucket, never a full bag over the rim."  # NIOSH
)
DUST = "Rock dust harms lungs: wet the stones before you tip or drill, wear a mask and goggles."
TOOLS = "Power tools: goggles, no loose sleeves, nothing plugged in that stands in water."


@dataclass(frozen=True)
class BuildStep:
    """One step: what to do, how to know that it is right, what can hurt. Sentences with marks."""

    key: str
    title: str
    words: str
    check: str
    cautions: tuple[str, ...] = ()


def build_steps(verdict: Verdict) -> tuple[BuildStep, ...]:
    """The steps for a design that has been judged, in order."""
    return (*_before(verdict), *_plumbing(verdict), *_filling(verdict), *_starting(verdict))


def _before(verdict: Verdict) -> Iterator[BuildStep]:
    design, numbers = verdict.numbers.design, verdict.numbers
    yield BuildStep(
        "stand",
        "Make the stand",
        f"Level and firm, for {mass(numbers.filled_kg)} when filled. The floor of the container comes to lie "
        f"{distance(abs(design.floor_above_water_m))} {'above' if design.floor_above_water_m >= 0 else 'below'} the "
        "tank's water line.",
        f"The overflow's lip will lie {length(design.lip_above_water_m)} above the tank's water, where this return wants "
        f"{length(wanted_lip_m(numbers))} or more, and {_against_rim(numbers)}.",
        (LIFTING, "Ask a builder about a floor with a room below, and let nobody climb on it."),
    )
    yield BuildStep(
        "wash",
        "Wash the container and the stones",
        f"Rinse {mass(numbers.stone_kg)} of stones in lots until the water runs clear. No soap. A drop of vinegar that "
        "fizzes shows limestone: leave that out if the water is hard already.",
        "A handful stirred in a bucket leaves the water clear.",
        (LIFTING, DUST),
    )


def _against_rim(numbers: Assessment) -> str:
    over = numbers.lip_above_rim_m
    if over >= 0:
        return f"{length(over)} above the tank's rim"
    return f"{length(-over)} under the tank's rim: the return goes through a sealed hole in the tank's wall"


def _plumbing(verdict: Verdict) -> Iterator[BuildStep]:
    design = verdict.numbers.design
    back = design.back
    yield BuildStep(
        "holes",
        "Cut the holes",
        f"Return: {_lip(design)} {length(design.overflow_height_m)} above the floor inside, "
        f"{back.count} × {length(back.pipe.bore_m)} bore. Drain: at the floor of the void. "
        f"{_way_in(design)} Each hole as wide as its fitting's maker says.",
        "Every edge is smooth to the finger: burrs scraped off inside and out.",
        (TOOLS, "Cut from outside with somebody holding the container; keep fingers out of it."),
    )
    yield BuildStep(
        "bulkheads",
        "Fit the bulkheads",
        "The gasket goes on the wet side, flat on the wall, no sealant on it. Hand-tight and a quarter turn.",
        "The gasket is squeezed evenly and not bulging.",
    )
    fall, wanted = return_fall_m(design), USUAL_FALL * back.pipe.length_m
    yield BuildStep(
        "return",
        "Lay the return",
        f"{distance(back.pipe.length_m)} with a steady fall: {length(fall)} in all, at least {length(wanted)}. "
        "Clip it; no sag may hold water. The guard sits over the overflow.",
        "Water poured in at the top runs out without standing anywhere.",
    )
    yield BuildStep(
        "inlet",
        "Lay the inlet",
        f"{distance(design.inlet.length_m)} from the pump to the void, unions on both sides of what gets cleaned. {_guard(verdict)} "
        "The strainer keeps animals off the pump.",
        "Everything that clogs can be taken out without cutting.",
        (*_joining(design), MAINS),
    )


def _lip(design: Design) -> str:
    return "upper edge of the standing pipe" if design.back.mouth == STANDPIPE else "lower edge of the pipe"


def _way_in(design: Design) -> str:
    bore = length(design.inlet.bore_m)
    if goes_over_the_rim(design):
        return f"The inlet of {bore} goes over the rim and down into the void: no hole for it."
    return f"Inlet of {bore}: into the void, near the floor."


def _joining(design: Design) -> Iterator[str]:
    if is_cemented(design):
        yield "Solvent cement, on PVC only: open air, gloves, no flame. Let it cure as long as its label says."
    if design.inlet.material in CLAMPED:
        yield "Polyethylene and hose are pushed over barbs and clamped, never cemented: a hose that slips off empties the tank."


def _guard(verdict: Verdict) -> str:
    design, back = verdict.numbers.design, verdict.numbers.back_siphon
    if design.guard == NO_GUARD:
        return f"Without a check valve {volume(back.litres / 1000)} run back whenever the pump stops."
    if design.guard == CHECK_VALVE:
        return "The check valve goes just above the pump, its arrow up."
    height = design.guard_height_m if design.guard_height_m is not None else design.inlet_mouth_height_m
    return f"The siphon break's hole lies {length(height)} above the floor, just under the water's surface."


def _filling(verdict: Verdict) -> Iterator[BuildStep]:
    design, numbers = verdict.numbers.design, verdict.numbers
    yield BuildStep(
        "leak_test",
        "Leak test, still empty of stones",
        f"Close the drain{_shut_inlet(design)}. Fill to the lip with {volume(design.section_m2 * design.overflow_height_m)} "
        f"of water and mark the level. Leave it {LEAK_HOURS} h.",
        "The level stays at the mark and dry paper under each fitting stays dry. Only then may stones go in.",
        ("Children and animals stay away from open water.",),
    )
    layers = "; ".join(
        f"{length(x.depth_m)} of {medium(x.medium).name.lower()}{' in bags' if x.is_bagged else ''}"
        for x in design.layers
    )
    yield BuildStep(
        "stones",
        "Set what carries the stones, and put them in",
        f"{_carrier(design)} From below: {layers}. Lower the first ones by hand.",
        f"The stones end {length(design.media_top_m)} above the floor, "
        f"{length(design.overflow_height_m - design.media_top_m)} under the lip, and the void below is empty.",
        (LIFTING, DUST),
    )
    yield BuildStep(
        "fill",
        "Fill it",
        f"{volume(numbers.water_m3)} of conditioned water from a hose, slowly, from below if you can. Taken from the tank it "
        f"would lower that by {length(numbers.water_m3 / design.tank.surface_m2)}.",
        "Water stands at the lip; no stones have moved.",
    )


def _shut_inlet(design: Design) -> str:
    if goes_over_the_rim(design):
        return ""
    return " and the inlet valve" if design.inlet.valve else " and plug the inlet, which has no valve"


def _carrier(design: Design) -> str:
    above = f"{length(design.void_height_m)} above the floor"
    if design.grate_open_share is None:
        return f"The plan names no grate: blocks whose gaps no stone falls through, their top {above}."
    return f"The grate {above}."


def _starting(verdict: Verdict) -> Iterator[BuildStep]:
    yield _try_protection()
    yield _run(verdict)
    yield _try_half_blocked(verdict)
    yield _try_pump_off(verdict)
    yield _mature(verdict)


def _try_protection() -> BuildStep:
    return BuildStep(
        "protection",
        "Test the residual-current (ground-fault) device",
        "Before the pump is plugged in: with a lamp in the pump's socket press the device's test button. It must trip and "
        "the lamp go out. Then reset it and plug in the pump, its cord in a loop below the socket so that drops fall off.",
        "It tripped, and the date is written down. If it did not, call a licensed electrician: the pump does not run before.",
        (
            MAINS,
            "Dry hands, dry floor. Pressing the button shows that the device trips, not that the wiring is right.",
        ),
    )


def _run(verdict: Verdict) -> BuildStep:
    numbers = verdict.numbers
    return BuildStep(
        "run",
        "Start the pump and stay with it",
        f"{'Open the inlet valve slowly' if numbers.design.inlet.valve else 'Plug in the pump'}. At about {flow(numbers.point.flow_m3_h)} the water stands "
        f"{length(numbers.running.level_m)} above the lip and {length(numbers.running.freeboard_m)} under the rim. "
        "Watch for an hour.",
        f"Bucket test: {amount(BUCKET_M3, 'bucket', 0)} in about {_bucket_seconds(numbers.point.flow_m3_h)}. Write it down: "
        "later tests are held against it.",
        (MAINS,),
    )


def _try_half_blocked(verdict: Verdict) -> BuildStep:
    numbers = verdict.numbers
    half = numbers.half_blocked
    outcome = (
        f"it would run over at {flow(half.spill_m3_h)}: be ready to pull the plug"
        if half.overtops
        else f"it should stop {length(half.freeboard_m)} under the rim"
    )
    return BuildStep(
        "half_blocked",
        "Try a half blocked return",
        "Hold a board against the overflow from outside, over the rim, so that half of it is covered, or close half of the "
        f"return's far end with a plug, for a minute: {outcome}. No hand goes into the water, which is under power now.",
        "The level comes back when the board is gone.",
        (MAINS,),
    )


def _try_pump_off(verdict: Verdict) -> BuildStep:
    numbers = verdict.numbers
    design = verdict.numbers.design
    return BuildStep(
        "pump_off",
        "Try the pump off",
        f"Pull the plug. About {volume(numbers.back_siphon.litres / 1000)} run back and the tank rises by "
        f"{length(numbers.back_siphon.tank_rise_m)}; its rim is {length(design.tank.freeboard_m)} above the water.",
        f"The water in the filter comes to rest about {length(numbers.back_siphon.level_m)} above its floor, and the tank "
        "does not run over.",
        (MAINS,),
    )


def _mature(verdict: Verdict) -> BuildStep:
    design = verdict.numbers.design
    days = days_to_mature(design.temperature_c)
    return BuildStep(
        "cycling",
        "Let it mature",
        f"At {amount(design.temperature_c, 'temperature')} about {days:.0f} days with new stones, fewer with stones from a "
        "mature filter. Until then feed little and test the water every day or two.",
        "Ammonia and nitrite stay near zero after a meal.",
        ("Wash hands after any work on it: turtles and their water carry Salmonella.",),
    )


def _bucket_seconds(flow_m3_h: float) -> str:
    return (
        f"{BUCKET_M3 / flow_m3_h * 3600:.0f}\u00a0s"
        if flow_m3_h
        else "no time that can be said: nothing flows"
    )
