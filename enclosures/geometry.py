"""Water surface and volume from the sizes a person can measure with a tape. Metres in, m2 and m3 out."""

import math
from typing import Literal

from refuge.errors import OutOfRange, positive

Shape = Literal["rectangle", "round", "oval"]


def water_surface_m2(shape: str, length_m: float, width_m: float | None = None) -> float:
    """Free water surface [m2].

    rectangle: length x width. round: `length_m` is the diameter, `width_m` is ignored.
    oval: an ellipse with `length_m` and `width_m` as its two full axes.
    OutOfRange for an unknown shape or a size that is missing, not above 0, or not finite.
    """
    length = positive("length_m", length_m)
    if shape == "round":
        return math.pi / 4 * length**2
    if shape not in ("rectangle", "oval"):
        raise OutOfRange("shape", shape, "rectangle, round or oval")
    if width_m is None:
        raise OutOfRange("width_m", width_m, f"given for a water that is {shape}")
    width = positive("width_m", width_m)
    if shape == "rectangle":
        return length * width
    return math.pi / 4 * length * width


def water_volume_m3(shape: str, length_m: float, width_m: float | None, depth_m: float) -> float:
    """Water volume [m3]: surface times `depth_m`, the mean depth of the water (not the height of the wall).

    Straight walls are assumed; sloping ponds hold less, so a measured volume is better where there is one.
    """
    return water_surface_m2(shape, length_m, width_m) * positive("depth_m", depth_m)
