"""Which particles settle in the void, and what share of the waste that is.

A particle stays in the void if it sinks faster than the water rises there. Eddies and the jet of the inlet are
left out, so the shares are what a calm void could do.
"""

import math
from dataclasses import dataclass

from fluids.drag import v_terminal
from fluids.numerics import brenth
from fluids.particle_size_distribution import cdf_lognormal

from filtration.hydraulics.water import density_kg_m3, viscosity_pa_s
from filtration.solids import DEFAULT_MODEL
from refuge.errors import checked

SMALLEST_M, LARGEST_M = 1e-7, 0.05


@dataclass(frozen=True)
class WasteSolids:
    """Waste as spheres: median size by mass [m], geometric standard deviation [-], density [kg/m3]."""

    median_m: float
    spread: float
    density_kg_m3: float

    def __post_init__(self) -> None:
        checked("median_m", self.median_m, SMALLEST_M, LARGEST_M)
        checked("spread", self.spread, 1.01, 20)
        checked("density_kg_m3", self.density_kg_m3, 1001, 3000)


# Sizes: assumption. Fresh faeces are millimetres wide; but of the solids that go round in farms 40-70 % of the
# mass is finer than 20 um (World Aquaculture Society abstract 165932, read), and turtles tear their food. Waste
# on its one way to the filter lies between. Densities 1050-1190 kg/m3: same abstract, salmon waste (read).
LIKELY = WasteSolids(400e-6, 4.0, DEFAULT_MODEL.solids_density)
FINE = WasteSolids(150e-6, 5.0, 1050.0)
COARSE = WasteSolids(900e-6, 3.0, 1190.0)


@dataclass(frozen=True)
class Capture:
    """What settles: the smallest size [m] that does, and the share of the mass, likely and within a range."""

    cut_m: float
    share: float
    low: float
    high: float


def settling_velocity_m_s(size_m: float, density: float, temperature_c: float) -> float:
    """Velocity [m/s] at which a sphere [m, kg/m3] sinks in still water (drag law by fluids)."""
    checked("size_m", size_m, SMALLEST_M, LARGEST_M)
    checked("density", density, 1001, 8000)
    return float(
        v_terminal(D=size_m, rhop=density, rho=density_kg_m3(temperature_c), mu=viscosity_pa_s(temperature_c))
    )


def cut_size_m(upflow_m_s: float, density: float, temperature_c: float) -> float:
    """Size [m] of the sphere that just hangs in water rising at `upflow_m_s`; larger ones settle.

    The ends of 0.1 um and 50 mm are returned for water slower or faster than those sink.
    """
    upflow = checked("upflow_m_s", upflow_m_s, 0)

    def sinks_by(log_size: float) -> float:
        return settling_velocity_m_s(math.exp(log_size), density, temperature_c) - upflow

    low, high = math.log(SMALLEST_M * 1.000001), math.log(LARGEST_M * 0.999999)
    if sinks_by(low) >= 0:
        return SMALLEST_M
    if sinks_by(high) <= 0:
        return LARGEST_M
    return math.exp(float(brenth(sinks_by, low, high, xtol=1e-9)))


def settling_share(upflow_m_s: float, temperature_c: float, solids: WasteSolids = LIKELY) -> float:
    """Share (0 to 1) of the mass of the solids that settles in a void where water rises at `upflow_m_s`."""
    cut = cut_size_m(upflow_m_s, solids.density_kg_m3, temperature_c)
    return 1 - float(cdf_lognormal(d=cut, d_characteristic=solids.median_m, s=math.log(solids.spread)))


def capture(upflow_m_s: float, temperature_c: float) -> Capture:
    """What settles of a turtle's waste in this void, with the range that not knowing the waste leaves."""
    checked("upflow_m_s", upflow_m_s, 0)
    shares = [settling_share(upflow_m_s, temperature_c, solids) for solids in (FINE, LIKELY, COARSE)]
    cut = cut_size_m(upflow_m_s, LIKELY.density_kg_m3, temperature_c)
    return Capture(cut, shares[1], min(shares), max(shares))
