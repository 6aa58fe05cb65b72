"""A filter cut in half, to scale: container, void with its sediment, layers, water, inlet and return. Pure.

All positions are in units of the drawing (x to the right, y downwards); sizes come in metres.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from refuge.errors import checked, positive

HIGH, LEFT, TOP, WIDEST = 300.0, 46.0, 30.0, 230.0
FREEBOARD_M = 0.05  # the overflow lies this far below the rim unless the layers reach higher


@dataclass(frozen=True, slots=True)
class Band:
    """One horizontal part of the filter."""

    label: str
    y: float
    height: float
    depth_m: float
    kind: str


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

    @property
    def right(self) -> float:
        return self.x + self.inner_width

    @property
    def bottom(self) -> float:
        return self.y + self.inner_height

    @property
    def inlet_y(self) -> float:
        return self.void.y + self.void.height / 2


def cross_section(
    *,
    length_m: float,
    height_m: float,
    void_height_m: float,
    layers: Sequence[tuple[str, float]],
    sediment_depth_m: float = 0.0,
) -> Section:
    """Lay out a filter to scale. layers: (name, depth [m]) from the void up. Raises OutOfRange.

    Sediment is drawn no higher than the void; layers that reach above the rim are drawn to it and `overfull` says so.
    """
    length, height = positive("length_m", length_m), positive("height_m", height_m)
    void = checked("void_height_m", void_height_m, 0, height)
    sediment = min(checked("sediment_depth_m", sediment_depth_m, 0), void)
    scale = min(HIGH / height, WIDEST / length)
    bottom = TOP + height * scale
    bands, reached = _layers(layers, void, height, bottom, scale)
    water_m = min(max(height - FREEBOARD_M, min(reached, height)), height)
    return Section(
        width=LEFT * 2 + length * scale + 170,
        height=bottom + 24,
        x=LEFT,
        y=TOP,
        inner_width=length * scale,
        inner_height=height * scale,
        water_y=bottom - water_m * scale,
        void=Band("Void", bottom - void * scale, void * scale, void, "void"),
        sediment=Band("Sediment", bottom - sediment * scale, sediment * scale, sediment, "sediment"),
        layers=bands,
        overfull=reached > height + 1e-9,
    )


def _layers(
    layers: Sequence[tuple[str, float]], void: float, height: float, bottom: float, scale: float
) -> tuple[tuple[Band, ...], float]:
    reached, bands = void, []
    for number, (name, depth) in enumerate(layers):
        top = min(reached + positive("depth_m", depth), height)
        drawn = max(top - reached, 0.0)
        bands.append(Band(name, bottom - top * scale, drawn * scale, depth, f"layer-{number % 3}"))
        reached += depth
    return tuple(bands), reached
