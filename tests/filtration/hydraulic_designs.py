"""The dullest filter that works, for tests that change one thing about it."""

from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import Container, Design, Tank
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import Pipe, Valve
from filtration.hydraulics.pump import ParabolicCurve, Pump

# Inside diameters of Schedule 40 plastic pipe: 1 in 1.049, 2 in 2.067.
ONE_INCH, TWO_INCH = 1.049 * 0.0254, 2.067 * 0.0254
BARREL = Container("208 L drum", "round", 0.57, 0.86)
# What takes the last warnings but one off it.
GOOD = {"guard": "check_valve", "grate_open_share": 0.4}


def barrel(**changes) -> Design:
    """A drum beside a 1.1 m3 tank: 0.2 m void, river rock, lava rock, 1 in inlet, 2 in return."""
    sizes = {
        "container": BARREL,
        "void_height_m": 0.2,
        "layers": (BedLayer("river_rock", 0.2), BedLayer("lava_rock", 0.28)),
        "pump": Pump(ParabolicCurve(2.5, 4.0), 60.0),
        "inlet": Pipe(ONE_INCH, 2.5, fittings=(("elbow_90", 3),), valve=Valve()),
        "back": Return(Pipe(TWO_INCH, 1.0, fittings=(("elbow_90", 1),))),
        "overflow_height_m": 0.72,
        "floor_above_water_m": -0.3,
        "tank": Tank(1.1, 2.0, 0.3, 0.15),
        "temperature_c": 24.0,
    }
    return Design(**(sizes | changes))
