"""How far the stones of a filter may fill: what each layer catches, and when the flow has fallen too far. Plain Python.

Amounts between the stones are in g of dry solids on a litre of the room between them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from filtration.designing.assessment import CLOGGED_SHARE
from filtration.designing.existing import reconstruct
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.blockage import explain_flow
from filtration.hydraulics.deposit import capacity_kg, porosities
from filtration.hydraulics.design import Container, Design, Tank
from filtration.hydraulics.operating_point import operating_point
from filtration.nitrification import media_area_m2, medium
from refuge.errors import OutOfRange

# Its water hardly matters to how stones clog: between 15 and 28 degrees the answer moves by less than a hundredth.
AT_C = 20.0
ANY_TANK = Tank(1.0, 1.0, 0.3, 0.1)
KEPT = 8192  # filters whose answer is remembered; it follows from their sizes alone


@dataclass(frozen=True, slots=True)
class Build:
    """The sizes of a filter that decide how it clogs, as recorded; None where nobody wrote it down."""

    shape: str
    length_m: float
    width_m: float | None
    height_m: float
    void_height_m: float
    layers: tuple[BedLayer, ...]  # bottom first
    max_flow_m3_h: float | None = None
    shutoff_head_m: float | None = None
    inlet_bore_m: float | None = None
    return_bore_m: float | None = None
    new_flow_m3_h: float | None = None

    @property
    def container(self) -> Container:
        return Container("", self.shape, self.length_m, self.height_m, self.width_m)


Stone = tuple[str, float, float | None, float | None, bool, float | None]  # columns of a layer of stone


@lru_cache(maxsize=KEPT)
def bed_of(stones: tuple[Stone, ...]) -> tuple[BedLayer, ...]:
    """Layers from (medium, depth [m], surface [m2/m3], void share, in bags, grain [m]); none where one cannot be."""
    try:
        return tuple(
            BedLayer(key, depth, bagged, void, surface, grain)
            for key, depth, surface, void, bagged, grain in stones
        )
    except OutOfRange:
        return ()


@lru_cache(maxsize=KEPT)
def caught_shares(layers: tuple[BedLayer, ...]) -> tuple[float, ...]:
    """The part (0 to 1) of what the stones catch that each layer does, bottom first; they sum to 1."""
    if not layers:
        return ()
    a_little = 1e-3 * capacity_kg(layers, 1.0)
    left = porosities(layers, 1.0, a_little)
    taken = [(layer.porosity - now) * layer.depth_m for layer, now in zip(layers, left, strict=True)]
    return tuple(each / sum(taken) for each in taken)


@lru_cache(maxsize=KEPT)
def clogged_at_g_l(build: Build, flow_share: float) -> float | None:
    """What the stones hold when the flow is down to a share of what it was when new; None without stones.

    By its pump, pipes and stones; where those are not all known, or full stones would not slow it so far, what they
    hold when they are called clogged.
    """
    if not build.layers:
        return None
    try:
        section = build.container.section_m2
        room_l = 1000 * section * sum(layer.depth_m * layer.porosity for layer in build.layers)
        most = CLOGGED_SHARE * capacity_kg(build.layers, section)
        held = _held_kg(build, flow_share)
        return 1000 * min(most, most if held is None else held) / room_l
    except OutOfRange:
        return None


def _held_kg(build: Build, flow_share: float) -> float | None:
    design = _design(build)
    if design is None:
        return None
    try:
        new = build.new_flow_m3_h or operating_point(design).flow_m3_h
        return explain_flow(design, flow_share * new, new).held_kg if new else None
    except OutOfRange:  # a flow when new that its pump cannot move
        return None


def _design(build: Build) -> Design | None:
    return reconstruct(
        container=build.container,
        void_height_m=build.void_height_m,
        layers=build.layers,
        tank=ANY_TANK,
        temperature_c=AT_C,
        max_flow_m3_h=build.max_flow_m3_h,
        shutoff_head_m=build.shutoff_head_m,
        inlet_bore_m=build.inlet_bore_m,
        return_bore_m=build.return_bore_m,
    ).design


@dataclass(slots=True)
class Layers:
    """The layers of one filter, bottom first: their keys, and their columns."""

    keys: list[int] = field(default_factory=list)
    stones: list[Stone] = field(default_factory=list)

    @property
    def shares(self) -> Sequence[float]:
        """The part of what the stones catch that each layer does; evenly where the stones cannot be."""
        return caught_shares(self.bed) or [1 / len(self.keys) for _ in self.keys]

    @property
    def bed(self) -> tuple[BedLayer, ...]:
        return bed_of(tuple(self.stones))

    def area_m2(self, cross_section: float) -> float:
        """Surface for bacteria."""
        return media_area_m2(
            (cross_section * depth, measured or medium(key).specific_surface_m2_m3)
            for key, depth, measured, *_ in self.stones
        )

    def void_l(self, cross_section: float) -> float:
        """Room between the stones."""
        return sum(
            cross_section * depth * 1000 * (void or medium(key).void_fraction)
            for key, depth, _, void, *_ in self.stones
        )


def left_by_rinses(shares: Sequence[float], rinsed: Sequence[int | None]) -> list[float]:
    """Part of what was caught before each rinse that is still there after it and all later ones; newest rinse first.

    shares: of each layer, of what is caught. rinsed: the place of the layer that each rinse washed out; None where
    nobody said which: one of them, each as likely.
    """
    left, parts = list(shares), []
    for place in rinsed if left else ():
        if place is None:
            left = [each * (1 - 1 / len(left)) for each in left]
        else:
            left[place] = 0.0
        parts.append(sum(left))
    return parts
