"""What to buy and gather for a design. Stone by the litre and kilogram, pipe by the metre, fittings by number."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from filtration.designing.words import distance, flow, length, mass, percent
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import CHECK_VALVE, SIPHON_BREAK, Design
from filtration.hydraulics.operating_point import operating_point
from filtration.hydraulics.piping import Pipe, fitting, material
from filtration.nitrification import medium
from refuge.rules.words import amount

BAG_M3 = 0.010  # a bag that one person lifts wet (common practice, no source)
STONE_SPARE = 0.05  # dust and breakage (common practice, no source)
CUTTING_SPARE = 0.10  # offcuts of pipe (common practice, no source)
CEMENTED = ("pvc", "slimed_plastic")
CLAMPED = ("polyethylene", "smooth_hose", "ribbed_hose")
DRAIN_BORE_M = 0.04  # wide enough for sludge: 1 1/2 in (common practice, no source)


@dataclass(frozen=True)
class Part:
    """One line of the list. Whichever of count, volume_m3 (heaped stone), mass_kg and length_m make sense."""

    key: str
    name: str
    count: int | None = None
    volume_m3: float | None = None
    mass_kg: float | None = None
    length_m: float | None = None
    note: str = ""

    @property
    def quantity(self) -> str:
        """The amounts as words with marks: '2', '54 L, 80 kg'."""
        said = [str(self.count)] if self.count is not None else []
        if self.volume_m3 is not None:
            said.append(amount(self.volume_m3, "volume"))
        if self.mass_kg is not None:
            said.append(mass(self.mass_kg))
        if self.length_m is not None:
            said.append(distance(self.length_m))
        return ", ".join(said)


def parts_list(design: Design) -> tuple[Part, ...]:
    """All parts of a design, in the order in which they are used."""
    return (*_shell(design), *_stones(design), *_inlet(design), *_return(design), *_sundries(design))


def _shell(design: Design) -> Iterator[Part]:
    container = design.container
    across = f"{length(container.length_m)} across" if container.shape == "round" else _sides(design)
    yield Part(
        "container",
        container.name,
        1,
        note=f"{across}, {length(container.height_m)} high inside. Food-grade, never used for chemicals.",
    )
    yield Part(
        "grate",
        "Blocks under the stones" if design.grate_open_share is None else "Blocks and grate under the stones",
        1,
        note=f"Stiff plastic or stainless steel, {length(design.void_height_m)} above the floor, to carry "
        f"{mass(sum(x.dry_mass_kg(design.section_m2) for x in design.layers))} of stones. {_grate_holes(design)}"
        "No bare concrete, no zinc, no treated wood.",
    )


def _grate_holes(design: Design) -> str:
    """How much of the grate is open, and how small its holes must be for the stones that lie on it."""
    if design.grate_open_share is None:
        return "The plan names no grate: no gap between them may let a stone through. "
    share = f"{percent(design.grate_open_share)} of it holes. "
    if not design.layers:
        return share
    return f"{share}Each hole narrower than half of the stones on it: {length(design.layers[0].size_m / 2)}. "


def _sides(design: Design) -> str:
    return f"{length(design.container.length_m)} by {length(design.container.width_m or 0)}"


def _stones(design: Design) -> Iterator[Part]:
    for number, layer in enumerate(design.layers, start=1):
        volume, name = layer_volume_m3(design, layer), medium(layer.medium).name
        yield Part(
            f"layer_{number}",
            name,
            volume_m3=volume * (1 + STONE_SPARE),
            mass_kg=layer.dry_mass_kg(design.section_m2) * (1 + STONE_SPARE),
            note=f"Layer {number} from below, {length(layer.depth_m)} deep{_grain_words(layer)}; a twentieth spare.",
        )
        if layer.is_bagged:
            yield Part(
                f"bags_{number}",
                f"Mesh bags for layer {number}",
                math.ceil(volume / BAG_M3),
                note=f"{amount(BAG_M3, 'bucket', 0)} each, plastic mesh finer than the stones.",
            )


def _grain_words(layer: BedLayer) -> str:
    return "" if layer.grain_size_m is None else f", sieved to about {length(layer.grain_size_m)}"


def layer_volume_m3(design: Design, layer: BedLayer) -> float:
    """Heaped volume [m3] of a layer."""
    return design.section_m2 * layer.depth_m


def _pipe(key: str, name: str, pipe: Pipe, count: int = 1) -> Iterator[Part]:
    if pipe.length_m > 0:
        yield Part(
            f"{key}_pipe",
            f"{material(pipe.material).name}, {name}",
            length_m=pipe.length_m * count * (1 + CUTTING_SPARE),
            note=f"{length(pipe.bore_m)} bore; a tenth spare.",
        )
    for kind, number in pipe.fittings:
        if number:
            yield Part(f"{key}_{kind}", f"{fitting(kind).name}, {name}", number * count)
    if pipe.valve:
        yield Part(f"{key}_valve", f"{pipe.valve.kind.capitalize()} valve, {name}", count)


def _inlet(design: Design) -> Iterator[Part]:
    yield Part(
        "pump",
        design.pump.name,
        1,
        note=f"{pump_words(design)} On a residual-current (ground-fault) protected socket, with a drip loop.",
    )
    yield Part("strainer", "Strainer before the pump", 1, note="Openings that no limb or head fits into.")
    yield from _pipe("inlet", "inlet", design.inlet)
    yield Part("inlet_union", "Union, inlet", 2, note="Either side of what will be taken out for cleaning.")
    if not goes_over_the_rim(design):
        yield _bulkhead("inlet", design.inlet.bore_m, 1)
    if design.guard == CHECK_VALVE and "check_valve" not in dict(design.inlet.fittings):
        yield Part("guard", "Check valve, inlet", 1, note="Where it can be opened and cleaned.")
    if design.guard == SIPHON_BREAK:
        yield Part(
            "guard", "Siphon break, inlet", 1, note="A drilled hole or a small valve that lets in air."
        )


def goes_over_the_rim(design: Design) -> bool:
    """Whether the inlet needs no hole in the container."""
    return design.inlet_crest_above_water_m >= design.floor_above_water_m + design.container.height_m


def pump_words(design: Design) -> str:
    """What to ask for in a shop: the flow at the head that the filter asks, and both ends of the curve."""
    curve, point = design.pump.curve, operating_point(design)
    ends = f"{distance(curve.shutoff_head_m)} at no flow, {flow(curve.max_flow_m3_h)} at no head."
    if not point.lifts:
        return f"This one does not lift the water to the overflow: {ends}"
    return f"{flow(point.flow_m3_h)} at {distance(point.heads.total)} of head (its curve: {ends})"


def _return(design: Design) -> Iterator[Part]:
    back = design.back
    yield _bulkhead("return", back.pipe.bore_m, back.count)
    yield from _pipe("return", "return", back.pipe, back.count)
    yield Part(
        "return_guard", "Guard over the overflow", back.count, note="Domed or a cage, easy to lift off."
    )
    yield _bulkhead("drain", DRAIN_BORE_M, 1)
    yield Part(
        "drain_valve",
        "Ball valve and plug, drain",
        1,
        note="At the floor of the void. The plug doubles the valve.",
    )


def _bulkhead(key: str, bore_m: float, count: int) -> Part:
    return Part(
        f"{key}_bulkhead",
        f"Bulkhead fitting, {key}",
        count,
        note=f"{length(bore_m)} bore, with gasket. The hole is as wide as its maker says.",
    )


def _joints(design: Design) -> Iterator[Part]:
    """What holds pipe and fittings together: only rigid PVC is cemented; soft pipe and hose are pushed over barbs and
    clamped (common practice, no source)."""
    runs = [run for run in (design.inlet, design.back.pipe) if run.length_m > 0]
    clamped = [run for run in runs if run.material in CLAMPED]
    if any(run.material in CEMENTED for run in runs):
        yield Part(
            "glue", "Primer and solvent cement for the PVC pipe", 1, note="Fumes: open air, no flame, gloves."
        )
    if clamped:
        ends = sum(_ends(run) * (design.back.count if run is design.back.pipe else 1) for run in clamped)
        yield Part(
            "clamps",
            "Stainless steel hose clamps, with barbed ends on the fittings",
            ends,
            note="Two ends for the run and two for each fitting. Solvent cement does not hold polyethylene or hose.",
        )
    if any(run.material == "galvanised" for run in runs):
        yield Part("tape", "Thread sealing tape", 1, note="For threaded iron pipe, which is not cemented.")


def _ends(run: Pipe) -> int:
    return 2 + 2 * sum(count for _, count in run.fittings) + (2 if run.valve else 0)


def is_cemented(design: Design) -> bool:
    """Whether solvent cement is used on the inlet or the return."""
    return any(part.key == "glue" for part in _joints(design))


def _sundries(design: Design) -> Iterator[Part]:
    yield from _joints(design)
    yield Part(
        "level", "Level switch or alarm", 1, note="In the tank: stops the pump or calls, before it draws air."
    )
    yield Part("label", "Printed label with the filter's code", 1)
