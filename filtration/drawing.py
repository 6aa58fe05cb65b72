"""A filter cut in half, to scale: container, void with its sediment, layers, water, and its tank and pipes. Pure.

All positions are in units of the drawing (x to the right, y downwards); sizes come in metres. Only the tank's
width is not to scale: it is drawn open to the left.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from filtration.hydraulics.design import Design
from refuge.errors import checked, positive

HIGH, LEFT, TOP, WIDEST, LABELS = 300.0, 46.0, 26.0, 142.0, 134.0
FREEBOARD_M = 0.05  # the overflow lies this far below the rim unless the layers reach higher
TANK_LEFT, TANK_RIGHT = 4.0, 80.0
GAP, GAP_OF_RISER = 84.0, 90.0  # between tank and container, also where a pipe comes down in it
DEEPEST_M, UNDER_PUMP_M, LEAST_MOUTH_M, PIPE_WIDE = 1.5, 0.06, 0.03, (5.0, 16.0)


@dataclass(frozen=True, slots=True)
class Band:
    """One horizontal part of the filter."""

    label: str
    y: float
    height: float
    depth_m: float
    kind: str

    @property
    def pattern(self) -> str:
        """The stones drawn in a layer: like those of the layers around it, but another size."""
        return self.kind.replace("layer", "stones")


@dataclass(frozen=True, slots=True)
class Plumbing:
    """The tank beside the filter and the pipes between them. Paths are SVG path data.

    tank_top, tank_bottom, water_y: rim, floor and water line of the tank. lip_y: the overflow's lip.
    """

    tank_left: float
    tank_right: float
    tank_top: float
    tank_bottom: float
    water_y: float
    pump_x: float
    pump_y: float
    inlet: str
    inlet_wide: float
    returning: str
    return_wide: float
    lip_y: float

    @property
    def lift_height(self) -> float:
        """From the tank's water line up to the lip."""
        return self.water_y - self.lip_y

    @property
    def lift_middle(self) -> float:
        return (self.water_y + self.lip_y) / 2


@dataclass(frozen=True, slots=True)
class Section:
    """A drawing `width` by `height`; the container's inside is the rectangle x, y, inner_width, inner_height."""

    width: float
    height: float
    x: float
    y: float
    inner_width: float
    inner_height: float
    water_y: float
    void: Band
    sediment: Band
    layers: tuple[Band, ...]
    overfull: bool
    plumbing: Plumbing | None = None

    @property
    def right(self) -> float:
        return self.x + self.inner_width

    @property
    def bottom(self) -> float:
        return self.y + self.inner_height

    @property
    def water_height(self) -> float:
        return self.bottom - self.water_y

    @property
    def middle(self) -> float:
        return self.x + self.inner_width / 2

    @property
    def inlet_y(self) -> float:
        return self.void.y + self.void.height / 2


@dataclass(frozen=True, slots=True)
class _Frame:
    """How metres become units: `scale`, and the y of the container's floor."""

    scale: float
    floor_y: float

    def y(self, over_floor_m: float) -> float:
        return self.floor_y - over_floor_m * self.scale


def cross_section(
    *,
    length_m: float,
    height_m: float,
    void_height_m: float,
    layers: Sequence[tuple[str, float]],
    sediment_depth_m: float = 0.0,
    design: Design | None = None,
    over_lip_m: float = 0.0,
) -> Section:
    """Lay out a filter to scale. layers: (name, depth [m]) from the void up. Raises OutOfRange.

    Sediment is drawn no higher than the void; layers that reach above the rim are drawn to it and `overfull` says so.
    design: with it the tank and the pipes are drawn too; over_lip_m: the water over its overflow's lip as it runs.
    """
    length, height = positive("length_m", length_m), positive("height_m", height_m)
    void = checked("void_height_m", void_height_m, 0, height)
    sediment = min(checked("sediment_depth_m", sediment_depth_m, 0), void)
    frame = _frame(length, height, design)
    bands, reached = _layers(layers, void, height, frame)
    x = TANK_RIGHT + _gap(design) if design else LEFT
    lowest = frame.floor_y if design is None else max(frame.floor_y, _tank_bottom_y(design, frame))
    return Section(
        width=x + length * frame.scale + LABELS,
        height=lowest + 24,
        x=x,
        y=frame.y(height),
        inner_width=length * frame.scale,
        inner_height=height * frame.scale,
        water_y=frame.y(_level_m(height, reached, design, over_lip_m)),
        void=_band("Void", void, frame, "void"),
        sediment=_band("Sediment", sediment, frame, "sediment"),
        layers=bands,
        overfull=reached > height + 1e-9,
        plumbing=_plumbing(design, frame, x) if design else None,
    )


def _frame(length: float, height: float, design: Design | None) -> _Frame:
    above, below = height, 0.0
    if design is not None:
        floor = design.floor_above_water_m
        above = max(height, design.tank.freeboard_m - floor, design.inlet_crest_above_water_m - floor)
        below = max(0.0, _tank_depth_m(design) + floor)
    scale = min(HIGH / (above + below), WIDEST / length)
    return _Frame(scale, TOP + above * scale)


def _tank_depth_m(design: Design) -> float:
    """Depth of the tank's water, as if its walls were straight; at least what the pump stands in."""
    tank = design.tank
    return max(min(tank.volume_m3 / tank.surface_m2, DEEPEST_M), tank.over_intake_m + UNDER_PUMP_M)


def _tank_bottom_y(design: Design, frame: _Frame) -> float:
    return frame.y(-design.floor_above_water_m - _tank_depth_m(design))


def _level_m(height: float, reached: float, design: Design | None, over_lip_m: float) -> float:
    """The water in the container: by its overflow where that is known, else a little under the rim."""
    if design is not None:
        return min(design.overflow_height_m + checked("over_lip_m", over_lip_m, 0), height)
    return min(max(height - FREEBOARD_M, min(reached, height)), height)


def _band(label: str, depth: float, frame: _Frame, kind: str) -> Band:
    return Band(label, frame.y(depth), depth * frame.scale, depth, kind)


def _layers(
    layers: Sequence[tuple[str, float]], void: float, height: float, frame: _Frame
) -> tuple[tuple[Band, ...], float]:
    reached, bands = void, []
    for number, (name, depth) in enumerate(layers):
        top = min(reached + positive("depth_m", depth), height)
        drawn = max(top - reached, 0.0)
        bands.append(Band(name, frame.y(top), drawn * frame.scale, depth, f"layer-{number % 3}"))
        reached += depth
    return tuple(bands), reached


def _plumbing(design: Design, frame: _Frame, x: float) -> Plumbing:
    floor, tank = design.floor_above_water_m, design.tank
    water_y, pump_x = frame.y(-floor), (TANK_LEFT + TANK_RIGHT) / 2 - 6
    pump_y = frame.y(-floor - tank.over_intake_m)
    return Plumbing(
        tank_left=TANK_LEFT,
        tank_right=TANK_RIGHT,
        tank_top=frame.y(tank.freeboard_m - floor),
        tank_bottom=_tank_bottom_y(design, frame),
        water_y=water_y,
        pump_x=pump_x,
        pump_y=pump_y,
        inlet=_inlet(design, frame, x, (pump_x, pump_y)),
        inlet_wide=_wide(design.inlet.bore_m, frame),
        returning=_returning(design, frame, x, water_y),
        return_wide=_wide(design.back.pipe.bore_m, frame),
        lip_y=frame.y(design.overflow_height_m),
    )


def _wide(bore_m: float, frame: _Frame) -> float:
    """Width of a pipe on the drawing, to scale where that can be seen."""
    thin, thick = PIPE_WIDE
    return min(max(bore_m * frame.scale, thin), thick)


def _gap(design: Design) -> float:
    return GAP_OF_RISER if design.inlet_crest_above_water_m > 0 else GAP


def _inlet(design: Design, frame: _Frame, x: float, pump: tuple[float, float]) -> str:
    """From the pump through the tank's wall, or over its rim, and into the void; close to the container where it comes
    from above, for the lift is written between the two."""
    pump_x, pump_y = pump
    crest = design.inlet_crest_above_water_m
    over = frame.y(crest - design.floor_above_water_m) if crest > 0 else pump_y
    mouth = frame.y(max(design.inlet_mouth_height_m, LEAST_MOUTH_M))
    down = x - _wide(design.inlet.bore_m, frame) / 2 - 2 if crest > 0 else TANK_RIGHT + _gap(design) / 2
    return f"M{pump_x:.1f} {pump_y:.1f}V{over:.1f}H{down:.1f}V{mouth:.1f}H{x + 14:.1f}"


def _returning(design: Design, frame: _Frame, x: float, water_y: float) -> str:
    """From the lip down to the tank: to its water, or to where the pipe ends above it."""
    wide = _wide(design.back.pipe.bore_m, frame) / 2
    start, into = frame.y(design.overflow_height_m) - wide, TANK_RIGHT - 16
    fall = design.back.fall_m
    end = water_y if fall is None else min(water_y, start + fall * frame.scale)
    slope = max(min(start + 6, end), start)
    return f"M{x:.1f} {start:.1f}L{into:.1f} {slope:.1f}V{max(end, slope):.1f}"
