"""The stones: their grains, the head that water loses between them, and when that head lifts them."""

from collections.abc import Sequence
from dataclasses import dataclass

from fluids.numerics import brenth
from fluids.packed_bed import Ergun

from filtration.hydraulics.water import (
    GRAVITY,
    density_kg_m3,
    head_m,
    velocity_head_m,
    velocity_m_s,
    viscosity_pa_s,
)
from filtration.nitrification import medium
from refuge.errors import OutOfRange, checked, positive

# Bags never fill the section: gaps run up between them and along the wall. Assumption, no source: a twentieth
# of the section, 10 mm wide; each course of bags, 0.15 m thick, turns the gap once and costs 1.5 velocity heads.
BAG_GAP_SHARE, BAG_GAP_M, BAG_COURSE_M, BAG_COURSE_K = 0.05, 0.010, 0.15, 1.5
# Contraction of a jet through a sharp hole: 0.62 (recalled; Kirchhoff's free-jet value is 0.611).
JET_CONTRACTION = 0.62
# What a layer's grains and its share of water can be, as sieved and as measured with a bucket.
SMALLEST_GRAIN_M, LARGEST_GRAIN_M = 0.001, 0.6
LEAST_VOID, MOST_VOID = 0.05, 0.98
MOST_SURFACE_M2_M3 = 10_000.0


@dataclass(frozen=True)
class Grain:
    """One medium's grains: nominal size [m], sphericity [-], density [kg/m3] dry and when long under water."""

    key: str
    size_m: float
    sphericity: float
    dry_density_kg_m3: float
    wet_density_kg_m3: float
    source: str

    @property
    def ergun_size_m(self) -> float:
        """Size of the sphere with the same surface for its volume [m], as packed-bed equations want it."""
        return self.size_m * self.sphericity

    @property
    def is_sieved(self) -> bool:
        """Whether a sieve tells its size: hollow shapes are known by their surface only."""
        return self.source != _SURFACE


_ROUNDED = "size by the medium's name; sphericity of rounded stone 0.8-0.9, quartz 2650 kg/m3 (recalled)"
_POROUS = "sold as 20-50 mm; sphericity of crushed stone 0.5-0.7, densities of grains with pores (recalled)"
_SURFACE = "size 6 (1 - void) / specific surface of the media table; density of the material (recalled)"
GRAINS = (
    Grain("boulders", 0.350, 0.80, 2650, 2650, _ROUNDED),
    Grain("river_rock", 0.050, 0.85, 2650, 2650, _ROUNDED),
    Grain("gravel", 0.0115, 0.80, 2650, 2650, _ROUNDED),
    Grain("lava_rock", 0.030, 0.60, 1600, 1900, _POROUS),
    Grain("pumice", 0.020, 0.65, 900, 1250, _POROUS.replace("20-50", "10-30")),
    Grain("expanded_clay", 0.012, 0.90, 650, 1050, "sold as 8-16 mm, nearly round (recalled)"),
    Grain("ceramic", 0.0041, 1.0, 2300, 2300, _SURFACE),
    Grain("plastic_balls", 0.0091, 1.0, 950, 950, _SURFACE),
    Grain("plastic_chips", 0.00082, 1.0, 950, 950, _SURFACE),
)


def grain(key: str) -> Grain:
    """The grains of the medium with this key; OutOfRange if there are none."""
    for entry in GRAINS:
        if entry.key == key:
            return entry
    raise OutOfRange("key", key, "one of " + ", ".join(entry.key for entry in GRAINS))


@dataclass(frozen=True)
class BedLayer:
    """One layer of a medium. None takes the table's void fraction [-], specific surface [m2/m3] or grain size [m].

    A grain size is what a sieve says; the medium's sphericity stays. Raises OutOfRange for one of a medium whose
    shapes are hollow, since a sieve does not tell their surface.
    """

    medium: str
    depth_m: float
    is_bagged: bool = False
    void_fraction: float | None = None
    specific_surface_m2_m3: float | None = None
    grain_size_m: float | None = None

    def __post_init__(self) -> None:
        grain(self.medium)
        positive("depth_m", self.depth_m, 10)
        if self.void_fraction is not None:
            checked("void_fraction", self.void_fraction, LEAST_VOID, MOST_VOID)
        if self.specific_surface_m2_m3 is not None:
            positive("specific_surface_m2_m3", self.specific_surface_m2_m3, MOST_SURFACE_M2_M3)
        if self.grain_size_m is not None:
            checked("grain_size_m", self.grain_size_m, SMALLEST_GRAIN_M, LARGEST_GRAIN_M)
            if not grain(self.medium).is_sieved:
                raise OutOfRange("grain_size_m", self.grain_size_m, "left out for hollow shapes")

    @property
    def porosity(self) -> float:
        return self.void_fraction or medium(self.medium).void_fraction

    @property
    def surface_m2_m3(self) -> float:
        """As measured; else the table's, which goes with (1 - void) / grain as 6 (1 - void) / (sphericity x grain)
        does for solid grains. So the table's own grain and void give the table's own figure, although that counts
        other surface than smooth grains have (river rock: 55, by the formula 82; lava 282, by the formula 167)."""
        if self.specific_surface_m2_m3:
            return self.specific_surface_m2_m3
        usual = medium(self.medium)
        solid = (1 - self.porosity) / (1 - usual.void_fraction)
        surface = usual.specific_surface_m2_m3 * solid * grain(self.medium).size_m / self.size_m
        return min(surface, MOST_SURFACE_M2_M3)

    @property
    def size_m(self) -> float:
        """Nominal size of its grains [m]: as sieved, else the medium's own."""
        return self.grain_size_m or grain(self.medium).size_m

    @property
    def ergun_size_m(self) -> float:
        """As of `Grain`, with the size that was sieved."""
        return self.size_m * grain(self.medium).sphericity

    @property
    def is_measured(self) -> bool:
        """Whether its grains or its share of water are not the table's."""
        return self.grain_size_m is not None or self.void_fraction is not None

    @property
    def measured_surface_m2_m3(self) -> float | None:
        """The surface that follows from what was measured of the stones; None where the table's counts."""
        return self.surface_m2_m3 if self.is_measured else None

    def dry_mass_kg(self, area_m2: float) -> float:
        """Dry stone [kg] that fills this layer over a section [m2]."""
        return area_m2 * self.depth_m * (1 - self.porosity) * grain(self.medium).dry_density_kg_m3

    @property
    def submerged_weight_m(self) -> float:
        """Weight under water over its area, as metres of water; below 0 the layer floats."""
        excess = grain(self.medium).wet_density_kg_m3 / 1000 - 1
        return self.depth_m * (1 - self.porosity) * excess


@dataclass(frozen=True)
class LayerFlow:
    """What one layer does to the flow: head lost [m], velocity in its pores [m/s], share that passes it by."""

    loss_m: float
    pore_velocity_m_s: float
    bypass_share: float


def packed_loss_m(layer: BedLayer, velocity: float, temperature_c: float, porosity: float) -> float:
    """Head [m] lost by water rising at `velocity` [m/s] (over the empty section) through clean-packed grains.

    Ergun 1952, by fluids; taken beyond its range (grain Reynolds number 1 to 2300) without change: coarser
    or faster beds lose less than it says.
    """
    if velocity == 0:
        return 0.0
    pressure = Ergun(
        dp=layer.ergun_size_m,
        voidage=porosity,
        vs=velocity,
        rho=density_kg_m3(temperature_c),
        mu=viscosity_pa_s(temperature_c),
        L=layer.depth_m,
    )
    return head_m(float(pressure), temperature_c)


def layer_flow(
    layer: BedLayer, flow_m3_h: float, area_m2: float, temperature_c: float, porosity: float | None = None
) -> LayerFlow:
    """How a flow [m3/h] passes a layer that fills a section [m2]. porosity: what is left of it, if clogged."""
    velocity = velocity_m_s(checked("flow_m3_h", flow_m3_h, 0), positive("area_m2", area_m2))
    pores = layer.porosity if porosity is None else porosity
    through = _through_bags(layer, velocity, temperature_c, pores) if layer.is_bagged else velocity
    kept = through * (1 - BAG_GAP_SHARE) if layer.is_bagged else through
    bypass = 1 - kept / velocity if velocity else 0.0
    return LayerFlow(packed_loss_m(layer, through, temperature_c, pores), through / pores, bypass)


def _through_bags(layer: BedLayer, velocity: float, temperature_c: float, porosity: float) -> float:
    """Velocity [m/s] in the bags when bags and gaps lie side by side under the same loss of head."""
    if velocity == 0:
        return 0.0

    def unmatched(bags: float) -> float:
        gap = (velocity - (1 - BAG_GAP_SHARE) * bags) / BAG_GAP_SHARE
        return packed_loss_m(layer, bags, temperature_c, porosity) - _gap_loss_m(layer, gap, temperature_c)

    return float(brenth(unmatched, 0.0, velocity / (1 - BAG_GAP_SHARE), xtol=1e-9))


def _gap_loss_m(layer: BedLayer, velocity: float, temperature_c: float) -> float:
    """Head [m] lost in the gaps: laminar flow between plates, and a turn at each course of bags."""
    laminar = 12 * viscosity_pa_s(temperature_c) * velocity * layer.depth_m / BAG_GAP_M**2
    turns = BAG_COURSE_K * layer.depth_m / BAG_COURSE_M * velocity_head_m(velocity)
    return laminar / (density_kg_m3(temperature_c) * GRAVITY) + turns


def grate_loss_m(open_share: float, flow_m3_h: float, area_m2: float) -> float:
    """Head [m] lost through the block or grate that carries the stones, of which `open_share` is holes.

    A jet through sharp holes that spreads again: K = (1 / (0.62 share) - 1)2 (Borda and Carnot; recalled).
    """
    share = checked("open_share", open_share, 0.01, 1)
    contraction = (
        JET_CONTRACTION + (1 - JET_CONTRACTION) * share**3
    )  # an open section contracts nothing (Weisbach)
    return (1 / (contraction * share) - 1) ** 2 * velocity_head_m(velocity_m_s(flow_m3_h, area_m2))


def lift_margin(layers: Sequence[BedLayer], losses_m: Sequence[float]) -> float:
    """Submerged weight over the head lost, of the worst stack from some layer up to the topmost heavy one [-].

    At 1 the water carries that stack's weight: it lifts and channels, and its dirt goes to the tank. What floats on
    top rises by itself and weighs nothing down; what floats below heavy layers pushes them up. 0 when it carries
    them; infinity with no loss, or nothing heavy. Static balance of a bed without cohesion.
    """
    margin, weight, loss = float("inf"), 0.0, 0.0
    for layer, lost in zip(reversed(layers), reversed(losses_m), strict=True):
        if weight == 0 and layer.submerged_weight_m <= 0:
            continue
        weight, loss = weight + layer.submerged_weight_m, loss + lost
        if weight <= 0:
            return 0.0
        margin = min(margin, weight / loss) if loss > 0 else margin
    return margin
