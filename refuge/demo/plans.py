"""What the place of a demo refuge is described by. Metres, m3, m3/h; days relative to today."""

from dataclasses import dataclass, field

from enclosures.geometry import water_surface_m2, water_volume_m3
from filtration.nitrification import media_area_m2, medium

LONG_AGO = -1200


@dataclass(frozen=True, slots=True)
class AreaPlan:
    code: str
    name: str
    rank: int


@dataclass(frozen=True, slots=True)
class SourcePlan:
    key: str
    name: str
    disinfectant: str
    total_chlorine_mg_l: float
    nitrate_n_mg_l: float
    alkalinity_mg_l: float
    ph: float
    note: str


@dataclass(frozen=True, slots=True)
class Layer:
    medium: str
    depth_m: float
    is_bagged: bool = False


@dataclass(frozen=True, slots=True)
class FilterPlan:
    """A filter, and the part it plays: `sediment_factor` is how much more (or less) settles than the sums
    expect, which only its drains show; `drained` is the last drain before the records, `next_drain` one on a
    day of its own; `kept_until` is the day its upkeep stopped."""

    code: str
    name: str
    circuit: str
    layers: tuple[Layer, ...]
    pump: str
    rated_flow_m3_h: float
    flow_m3_h: float
    shape: str = "round"
    length_m: float = 0.57
    width_m: float | None = None
    height_m: float = 0.86
    void_height_m: float = 0.2
    bucket_l: float = 20.0
    state: str = "mature"
    state_since: int = LONG_AGO
    built: int | None = None
    cycling_from: int | None = None
    seeded: bool = False
    sediment_factor: float = 1.0
    drained: int = -590
    next_drain: int | None = None
    kept_until: int | None = None
    is_protected: bool = True
    note: str = ""

    @property
    def section_m2(self) -> float:
        return water_surface_m2(self.shape, self.length_m, self.width_m)

    @property
    def void_l(self) -> float:
        return self.section_m2 * self.void_height_m * 1000

    @property
    def media_area_m2(self) -> float:
        return media_area_m2(
            (self.section_m2 * layer.depth_m, medium(layer.medium).specific_surface_m2_m3)
            for layer in self.layers
        )

    @property
    def media_void_l(self) -> float:
        return 1000 * sum(
            self.section_m2 * layer.depth_m * medium(layer.medium).void_fraction for layer in self.layers
        )


@dataclass(frozen=True, slots=True)
class EnclosurePlan:
    """An enclosure; `fed_as` is 'group' or 'single'. Its kinds brumate below `brumates_below_c`."""

    code: str
    name: str
    area: str
    circuit: str
    shape: str
    length_m: float
    width_m: float | None
    depth_m: float
    purpose: str = "resident"
    fed_as: str = "single"
    is_outdoor: bool = False
    brumates_below_c: float | None = None
    note: str = ""

    @property
    def volume_m3(self) -> float:
        return water_volume_m3(self.shape, self.length_m, self.width_m, self.depth_m)


@dataclass(frozen=True, slots=True)
class CircuitPlan:
    """One water; `tested_until` and `changed_until` are the days on which that work stopped."""

    code: str
    name: str
    area: str
    source: str
    temperature_c: float
    extra_m3: float = 0.12
    is_quarantine: bool = False
    is_outdoor: bool = False
    opened: int = LONG_AGO
    tested_until: int | None = None
    changed_until: int | None = None
    nitrate_uptake_per_day: float = 0.004
    note: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    areas: tuple[AreaPlan, ...]
    sources: tuple[SourcePlan, ...]
    circuits: tuple[CircuitPlan, ...]
    enclosures: tuple[EnclosurePlan, ...]
    filters: tuple[FilterPlan, ...]
    _volumes: dict[str, float] = field(default_factory=dict)

    def volume_m3(self, circuit: CircuitPlan) -> float:
        """All water of a circuit: its enclosures, filters and pipes."""
        if circuit.code not in self._volumes:
            tanks = sum(each.volume_m3 for each in self.enclosures if each.circuit == circuit.code)
            self._volumes[circuit.code] = tanks + circuit.extra_m3
        return self._volumes[circuit.code]
