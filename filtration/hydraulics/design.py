"""An upflow filter as a set of sizes: what is built, what stands beside it, and where it stands."""

import math
from dataclasses import dataclass, replace

from enclosures.geometry import water_surface_m2
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import Pipe
from filtration.hydraulics.pump import Pump
from filtration.nitrification import media_area_m2
from refuge.errors import OutOfRange, checked, positive

NO_GUARD, CHECK_VALVE, SIPHON_BREAK = "none", "check_valve", "siphon_break"


@dataclass(frozen=True)
class Container:
    """A barrel, crate or basin with straight walls; inside sizes. length_m: the diameter of a round one."""

    name: str
    shape: str
    length_m: float
    height_m: float
    width_m: float | None = None

    def __post_init__(self) -> None:
        positive("height_m", self.height_m, 10)
        water_surface_m2(self.shape, self.length_m, self.width_m)

    @property
    def section_m2(self) -> float:
        return water_surface_m2(self.shape, self.length_m, self.width_m)

    @property
    def volume_m3(self) -> float:
        return self.section_m2 * self.height_m


@dataclass(frozen=True)
class Tank:
    """The water that the filter serves. surface_m2: of the part whose level falls when water is lost: the
    pump's own sump if there is one. over_intake_m: water above the level at which the pump draws air.
    freeboard_m: rim above the water line. open_surface_m2: all surfaces that evaporate (None: the same).
    is_outdoor: wind goes over it."""

    volume_m3: float
    surface_m2: float
    over_intake_m: float
    freeboard_m: float
    open_surface_m2: float | None = None
    is_outdoor: bool = False

    def __post_init__(self) -> None:
        positive("volume_m3", self.volume_m3)
        positive("surface_m2", self.surface_m2)
        checked("over_intake_m", self.over_intake_m, 0, 20)
        checked("freeboard_m", self.freeboard_m, 0, 20)
        if self.open_surface_m2 is not None:
            positive("open_surface_m2", self.open_surface_m2)

    @property
    def evaporating_m2(self) -> float:
        return self.open_surface_m2 or self.surface_m2


@dataclass(frozen=True)
class Design:
    """One filter and its surroundings. Heights are from the floor inside the container, unless they say water.

    floor_above_water_m: of the container's floor over the tank's water line; below 0 when it stands lower.
    grate_open_share: holes in the block or grate under the stones; None: the stones lie on legs or bare stone.
    inlet_crest_above_water_m: highest point of the inlet pipe; the pump must reach it once, to start. A siphon
    break lies on the pipe, so no higher than that.
    inlet_mouth_height_m: where the inlet pipe lets the water in.
    guard: what stops water from running back when the pump stops; guard_height_m: of the siphon break's hole.
    """

    container: Container
    void_height_m: float
    layers: tuple[BedLayer, ...]
    pump: Pump
    inlet: Pipe
    back: Return
    overflow_height_m: float
    floor_above_water_m: float
    tank: Tank
    temperature_c: float
    grate_open_share: float | None = None
    inlet_crest_above_water_m: float = 0.0
    inlet_mouth_height_m: float = 0.0
    guard: str = NO_GUARD
    guard_height_m: float | None = None
    name: str = "Filter"

    def __post_init__(self) -> None:
        positive("void_height_m", self.void_height_m, 10)
        positive("overflow_height_m", self.overflow_height_m, 10)
        checked("floor_above_water_m", self.floor_above_water_m, -10, 10)
        checked("temperature_c", self.temperature_c, 0, 40)
        checked("inlet_crest_above_water_m", self.inlet_crest_above_water_m, -10, 10)
        checked("inlet_mouth_height_m", self.inlet_mouth_height_m, 0, self.container.height_m)
        if self.guard not in (NO_GUARD, CHECK_VALVE, SIPHON_BREAK):
            raise OutOfRange("guard", self.guard, f"{NO_GUARD}, {CHECK_VALVE} or {SIPHON_BREAK}")
        if self.back.is_shut:
            raise OutOfRange(
                "back", self.back.blocked_share, "open at least in part; a shut return is a Fault"
            )
        if self.guard == SIPHON_BREAK and self.guard_height_m is None:
            raise OutOfRange("guard_height_m", None, "given: how high the siphon break's hole lies")
        if self.guard_height_m is not None:
            checked("guard_height_m", self.guard_height_m, 0, self.container.height_m)
        if self.grate_open_share is not None:
            checked("grate_open_share", self.grate_open_share, 0.01, 1)

    @property
    def section_m2(self) -> float:
        return self.container.section_m2

    @property
    def inlet_run(self) -> Pipe:
        """The inlet with the check valve that guards it, if it is not among its fittings."""
        if self.guard != CHECK_VALVE or "check_valve" in dict(self.inlet.fittings):
            return self.inlet
        return replace(self.inlet, fittings=(*self.inlet.fittings, ("check_valve", 1)))

    @property
    def lip_above_water_m(self) -> float:
        """The overflow's lip over the tank's water line."""
        return self.floor_above_water_m + self.overflow_height_m

    @property
    def inlet_top_above_water_m(self) -> float:
        """The inlet's highest point over the tank's water line: at least where it lets the water in."""
        return max(self.inlet_crest_above_water_m, self.floor_above_water_m + self.inlet_mouth_height_m)

    @property
    def siphon_break_over_pipe_m(self) -> float | None:
        """How far the siphon break's hole would lie above the pipe's highest point [m], where nothing can be drilled;
        0 or less for one that lies on the pipe, None without one."""
        if self.guard != SIPHON_BREAK or self.guard_height_m is None:
            return None
        return self.floor_above_water_m + self.guard_height_m - self.inlet_top_above_water_m

    @property
    def freeboard_over_lip_m(self) -> float:
        """The container's rim over the overflow's lip."""
        return self.container.height_m - self.overflow_height_m

    @property
    def media_depth_m(self) -> float:
        return sum(layer.depth_m for layer in self.layers)

    @property
    def media_top_m(self) -> float:
        return self.void_height_m + self.media_depth_m

    @property
    def media_volume_m3(self) -> float:
        return self.section_m2 * self.media_depth_m

    @property
    def pore_volume_m3(self) -> float:
        """Water between the stones [m3]."""
        return self.section_m2 * sum(layer.depth_m * layer.porosity for layer in self.layers)

    @property
    def media_surface_m2(self) -> float:
        """Surface for bacteria [m2]."""
        return media_area_m2((self.section_m2 * x.depth_m, x.surface_m2_m3) for x in self.layers)

    def water_below_m3(self, height_m: float) -> float:
        """Water [m3] in the container when it stands `height_m` above its floor: void, pores, clear water."""
        level = checked("height_m", height_m, 0, self.container.height_m)
        water, bottom = min(level, self.void_height_m), self.void_height_m
        for layer in self.layers:
            water += layer.porosity * min(max(level - bottom, 0.0), layer.depth_m)
            bottom += layer.depth_m
        return self.section_m2 * (water + max(level - bottom, 0.0))


def round_drum(name: str, litres: float, diameter_m: float) -> Container:
    """A drum of a nominal volume [L] and inside diameter [m]; its height follows."""
    section = math.pi / 4 * positive("diameter_m", diameter_m) ** 2
    return Container(name, "round", diameter_m, positive("litres", litres) / 1000 / section)
