"""Checks of what is built: heights, stones, weight, pump against lift. Limits without a source are common practice."""

from collections.abc import Iterator

from filtration.designing.assessment import USUAL_FALL, Assessment, wanted_lip_m
from filtration.designing.findings import NOTE, STOP, WARN, Finding, check
from filtration.designing.remedies import inlet_words, return_words
from filtration.designing.words import distance, flow, length, mass, percent, speed, volume
from filtration.hydraulics.bed import grain, lift_margin
from filtration.hydraulics.faults import ON_THE_PIPE_M
from filtration.nitrification import medium

LEAST_FREEBOARD_M = 0.05  # common practice, no source
USUAL_VOID_M, LEAST_VOID_M = 0.20, 0.15  # common practice, no source
PIPE_SPEED_M_S = 5 * 0.3048  # Engineering ToolBox, PVC Sch 40 diagram: above 5 ft/s to be avoided
CARRYING_M_S = 2 * 0.3048  # supplier friction chart 2003: 2 ft/s carries solids along
# Times a medium's usual size, beyond which its name fits no more (common practice, no source).
FAR_FROM_USUAL = 4.0
# Weight of the stones under water over what the flow presses them up with (common practice, no source).
SAFE_LIFT_MARGIN = 2.0
HEAVY_KG = 200.0  # what two people will not move (common practice, no source)


@check
def pump_cannot_lift(of: Assessment) -> Iterator[Finding]:
    if of.point.lifts:
        return
    head, lift = of.design.pump.curve.shutoff_head_m, of.design.lip_above_water_m
    yield Finding(
        "pump_cannot_lift",
        STOP,
        f"The pump lifts water {distance(head)} at most. The overflow lies {distance(lift)} above the tank's "
        f"water: {length(of.point.short_by_m)} more than that. No water will flow.",
        f"A pump with a head of {distance(lift * 1.5)} or more, or a lower stand for the filter.",
    )


@check
def pump_cannot_start(of: Assessment) -> Iterator[Finding]:
    crest, head = of.design.inlet_top_above_water_m, of.design.pump.curve.shutoff_head_m
    if of.point.lifts and crest >= head:
        yield Finding(
            "pump_cannot_start",
            STOP,
            f"The inlet pipe climbs {distance(crest)} above the tank's water, and the pump lifts {distance(head)} at "
            "most: it never gets over the top.",
            "Lead the pipe in lower, through the wall, or choose a pump with more head.",
        )


@check
def siphon_break_off_the_pipe(of: Assessment) -> Iterator[Finding]:
    beyond = of.design.siphon_break_over_pipe_m
    if beyond is not None and beyond > ON_THE_PIPE_M:
        yield Finding(
            "siphon_break_off_pipe",
            STOP,
            f"The siphon break's hole is said to lie {length(beyond)} above the highest point of the inlet pipe: there "
            "is no pipe to drill, and nothing keeps the water from running back.",
            "Lead the inlet pipe up to the hole's height or higher before it goes down into the filter.",
        )


@check
def overflow_above_rim(of: Assessment) -> Iterator[Finding]:
    room, bore = of.design.freeboard_over_lip_m, of.design.back.pipe.bore_m
    if room < bore and of.design.back.mouth != "standpipe":
        yield Finding(
            "overflow_above_rim",
            STOP,
            f"The return's hole is {length(bore)} wide, but only {length(max(room, 0))} of wall are left above its "
            "lower edge.",
            f"Set the lip at most {length(of.design.container.height_m - bore - LEAST_FREEBOARD_M)} above the floor.",
        )
    elif room <= 0:
        yield Finding(
            "overflow_above_rim", STOP, "The standing pipe is as high as the wall.", "Cut the pipe shorter."
        )


@check
def media_above_overflow(of: Assessment) -> Iterator[Finding]:
    over = of.design.media_top_m - of.design.overflow_height_m
    if over > 1e-9:
        yield Finding(
            "media_above_overflow",
            STOP,
            f"The stones reach {length(over)} above the overflow. What lies above the water grows nothing.",
            f"{length(of.design.media_depth_m - over)} of stones in all, or a higher overflow.",
        )


@check
def lip_too_low(of: Assessment) -> Iterator[Finding]:
    lip, wanted = of.design.lip_above_water_m, wanted_lip_m(of)
    if lip <= 0:
        yield Finding(
            "lip_under_water",
            STOP,
            f"The overflow lies {length(-lip)} below the tank's water. Nothing runs back by gravity, and with the "
            "pump off the tank runs into the filter.",
            f"Raise the filter by {length(wanted - lip)}.",
        )
    elif lip < wanted:
        yield Finding(
            "lip_low",
            WARN,
            f"The overflow lies {length(lip)} above the tank's water; this return wants {length(wanted)} "
            f"(what the flow needs, and a fall of 1 in {1 / USUAL_FALL:.0f}).",
            "A shorter or wider return, or a higher stand.",
        )
    elif of.lip_above_rim_m < 0:
        under = length(-of.lip_above_rim_m)
        yield Finding(
            "lip_under_rim",
            WARN,
            f"The overflow lies {length(lip)} above the tank's water but {under} under the tank's rim: the return has to "
            "go through the tank's wall, and a tank that is filled too high runs into the filter.",
            f"A stand {under} higher, or a sealed hole in the tank's wall.",
        )


@check
def overtops_running(of: Assessment) -> Iterator[Finding]:
    if of.running.overtops:
        yield Finding(
            "overtops",
            STOP,
            f"It runs over: the return cannot carry the pump's flow with the water at the rim, and "
            f"{flow(of.running.spill_m3_h)} go over the wall.",
            f"{return_words(of.design)} Or a lower lip, or a smaller pump.",
        )
    elif of.point.lifts and of.running.freeboard_m < LEAST_FREEBOARD_M:
        yield Finding(
            "little_freeboard",
            WARN,
            f"The water stands {length(of.running.level_m)} above the lip, {length(of.running.freeboard_m)} under the "
            f"rim. {length(LEAST_FREEBOARD_M)} is usual.",
            "A wider return or a lower lip.",
        )


@check
def void_low(of: Assessment) -> Iterator[Finding]:
    if of.design.void_height_m < LEAST_VOID_M:
        yield Finding(
            "void_low",
            WARN,
            f"The void is {length(of.design.void_height_m)} high. Sediment fills it soon, and the inflow stirs it up.",
            f"{length(USUAL_VOID_M)} is usual.",
        )


@check
def floating_media(of: Assessment) -> Iterator[Finding]:
    for layer in of.design.layers:
        if layer.submerged_weight_m <= 0:
            yield Finding(
                "floating_media",
                WARN,
                f"{medium(layer.medium).name} float: they rise to the top and may block the overflow.",
                "A grid fixed over them, or stones on top.",
            )


@check
def other_grains(of: Assessment) -> Iterator[Finding]:
    """Stones that go by a name but are far from its usual size: perhaps the unit is wrong, perhaps they clog."""
    for number, layer in enumerate(of.design.layers, start=1):
        usual = grain(layer.medium).size_m
        if usual / FAR_FROM_USUAL <= layer.size_m <= usual * FAR_FROM_USUAL:
            continue
        is_fine = layer.size_m < usual
        yield Finding(
            f"other_grains_{number}",
            WARN if is_fine else NOTE,
            f"Layer {number} is {medium(layer.medium).name.partition(',')[0].lower()} with grains of {length(layer.size_m)}; "
            f"usual are {length(usual)}. "
            + ("Fine grains clog soon and shift." if is_fine else "Coarse ones have little surface."),
            "Check the unit of the grain size, or choose the medium that comes nearest.",
        )


@check
def stones_may_lift(of: Assessment) -> Iterator[Finding]:
    """With clogged stones the pump's spare head presses on them from below."""
    design, heavy = of.design, [x for x in of.design.layers if x.submerged_weight_m > 0]
    spare = design.pump.curve.shutoff_head_m - max(design.lip_above_water_m, 0)
    if not heavy or not of.point.lifts:
        return
    weight, depth = (sum(x.submerged_weight_m for x in heavy), sum(x.depth_m for x in heavy))
    if of.point.lift_margin < SAFE_LIFT_MARGIN:
        lifts = of.point.lift_margin < 1
        yield Finding(
            "stones_lift",
            STOP if lifts else WARN,
            f"The flow {'lifts' if lifts else 'nearly lifts'} the stones: under water they weigh "
            f"{of.point.lift_margin:.2g} times what it presses up with, and {SAFE_LIFT_MARGIN:g} times is safe.",
            "A smaller pump, or coarser and heavier stones.",
        )
    elif lift_margin(heavy, [spare * x.depth_m / depth for x in heavy]) < 1:
        yield Finding(
            "stones_may_lift",
            NOTE,
            f"When the stones are clogged the pump can press from below with up to {length(spare)} of water, and they "
            f"weigh only {length(weight)} of water: they may shift, and dirt breaks through to the tank.",
            "Rinse when the measured flow falls, before that.",
        )


@check
def void_support(of: Assessment) -> Iterator[Finding]:
    if of.design.grate_open_share is None:
        yield Finding(
            "no_grate",
            NOTE,
            f"{mass(of.stone_kg)} of stones rest over the void, and the design names nothing that carries them.",
            "Blocks with a stiff grate of plastic or stainless steel, holes smaller than the stones.",
        )


@check
def heavy(of: Assessment) -> Iterator[Finding]:
    if of.filled_kg > HEAVY_KG:
        yield Finding(
            "heavy",
            NOTE,
            f"Filled it weighs {mass(of.filled_kg)}, {mass(of.stone_kg)} of it stones: it stays where it is filled.",
            "A level, firm stand that carries it; ask a builder before it stands on a floor with a room below.",
        )


@check
def fast_inlet(of: Assessment) -> Iterator[Finding]:
    if of.point.inlet_velocity_m_s > PIPE_SPEED_M_S:
        share = of.point.heads.pipe.total_m / of.point.heads.total
        yield Finding(
            "fast_inlet",
            WARN,
            f"Water runs at {speed(of.point.inlet_velocity_m_s)} through the inlet of {length(of.design.inlet.bore_m)}, "
            f"which takes {percent(share)} of the pump's head. Above {speed(PIPE_SPEED_M_S)} it is noisy and wasteful.",
            f"{inlet_words(of.design, PIPE_SPEED_M_S)} Fewer bends help too.",
        )


@check
def slow_inlet(of: Assessment) -> Iterator[Finding]:
    if of.point.lifts and of.point.inlet_velocity_m_s < CARRYING_M_S:
        yield Finding(
            "slow_inlet",
            NOTE,
            f"Water runs at {speed(of.point.inlet_velocity_m_s)} through the inlet: below {speed(CARRYING_M_S)} solids "
            "settle in the pipe.",
            "A narrower pipe, no sags, and a union to flush it.",
        )


@check
def curve_unknown(of: Assessment) -> Iterator[Finding]:
    if not of.point.known:
        yield Finding(
            "beyond_curve",
            NOTE,
            f"The flow lies beyond the last point of the pump's curve ({flow(of.design.pump.curve.known_to_m3_h)}).",
            "Look up another point of the curve.",
        )
    if of.design.pump.power_w is None:
        yield Finding(
            "power_unknown",
            NOTE,
            "The pump's power is not known, so its cost is not either.",
            "Read its plate.",
        )


@check
def first_filling(of: Assessment) -> Iterator[Finding]:
    fall = of.water_m3 / of.design.tank.surface_m2
    if fall > of.design.tank.over_intake_m / 2:
        yield Finding(
            "first_filling",
            NOTE,
            f"Filling it takes {volume(of.water_m3)}: from the tank alone that lowers its water by {length(fall)}.",
            "Fill the filter with a hose, with conditioned water, before the pump first runs.",
        )
