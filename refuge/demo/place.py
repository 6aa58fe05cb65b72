"""The invented refuge: its areas, waters, enclosures and filters. Metres, m3, m3/h; days relative to today.

Sizes are such as a refuge builds: a barrel filter is a 200 L drum of 0.57 m diameter with a 0.2 m void; the
pond filter is a walk-in basin of about 3,800 US gallons.
"""

from refuge.demo.plans import (
    AreaPlan,
    CircuitPlan,
    EnclosurePlan,
    FilterPlan,
    Layer,
    Place,
    SourcePlan,
)

REFUGE_NAME = "Osselmere Turtle Refuge"
TIME_ZONE = "America/Chicago"
ELEVATION_M = 190.0

BARREL = (Layer("river_rock", 0.12), Layer("lava_rock", 0.40))
COARSE_BARREL = (Layer("river_rock", 0.24), Layer("lava_rock", 0.28))
BAGGED_BARREL = (Layer("river_rock", 0.10), Layer("lava_rock", 0.42, is_bagged=True))
PUMP, POND_PUMP = "Submersible pump, 55 W", "Dry-set pump, 370 W"

AREAS = (
    AreaPlan("NUR", "Nursery", 0),
    AreaPlan("HALL", "Turtle hall", 1),
    AreaPlan("POND", "Ponds", 2),
    AreaPlan("SICK", "Sick bay", 3),
    AreaPlan("QUAR", "Quarantine room", 4),
)

SOURCES = (
    SourcePlan("town", "Town water", "chloramine", 2.2, 1.1, 160.0, 7.9, "Hose points in hall and nursery."),
    SourcePlan("well", "Yard well", "none", 0.0, 2.4, 245.0, 7.3, "Hard water. Tested every spring."),
)

CIRCUITS = (
    CircuitPlan("W01", "Nursery water", "NUR", "town", 26.0, extra_m3=0.3),
    CircuitPlan(
        "W02", "Softshell water", "HALL", "town", 26.0, tested_until=-37, note="Sand floors: stir gently."
    ),
    CircuitPlan("W03", "North hall water", "HALL", "town", 23.5, changed_until=-100),
    CircuitPlan(
        "W04", "Deep tanks water", "HALL", "well", 24.0, note="A second barrel is being built for this water."
    ),
    CircuitPlan(
        "W05",
        "Pond water",
        "POND",
        "well",
        16.0,
        extra_m3=11.0,
        is_outdoor=True,
        nitrate_uptake_per_day=0.03,
    ),
    CircuitPlan("W06", "Sick bay water", "SICK", "town", 25.5),
    CircuitPlan("W07", "Quarantine water A", "QUAR", "well", 24.0, is_quarantine=True),
    CircuitPlan("W08", "Quarantine water B", "QUAR", "well", 24.0, is_quarantine=True),
    CircuitPlan("W09", "Quarantine water C", "QUAR", "town", 24.5, is_quarantine=True, opened=-12),
    CircuitPlan("W10", "Quarantine water D", "QUAR", "town", 24.0, is_quarantine=True),
    CircuitPlan("W11", "Quarantine water E", "QUAR", "town", 25.0, is_quarantine=True),
    CircuitPlan("W12", "Quarantine water F", "QUAR", "well", 24.0, is_quarantine=True, opened=-524),
)


def _tub(code: str, name: str) -> EnclosurePlan:
    return EnclosurePlan(
        code, name, "NUR", "W01", "rectangle", 1.5, 0.9, 0.4, purpose="nursery", fed_as="group"
    )


def _tank(
    code: str, name: str, circuit: str, length: float, width: float, depth: float, **more: str
) -> EnclosurePlan:
    return EnclosurePlan(code, name, "HALL", circuit, "rectangle", length, width, depth, **more)


def _pond(
    code: str, name: str, shape: str, length: float, width: float | None, depth: float, cold: float
) -> EnclosurePlan:
    return EnclosurePlan(
        code,
        name,
        "POND",
        "W05",
        shape,
        length,
        width,
        depth,
        fed_as="group",
        is_outdoor=True,
        brumates_below_c=cold,
    )


def _setup(
    code: str, name: str, circuit: str, length: float, width: float, depth: float, note: str = ""
) -> EnclosurePlan:
    return EnclosurePlan(
        code, name, "QUAR", circuit, "rectangle", length, width, depth, purpose="quarantine", note=note
    )


ENCLOSURES = (
    _tub("N1", "Tub 1"),
    _tub("N2", "Tub 2"),
    _tub("N3", "Tub 3"),
    _tub("N4", "Tub 4"),
    _tank("R1", "Sand tank east", "W02", 2.4, 1.5, 0.7),
    _tank("R2", "Sand tank west", "W02", 2.4, 1.5, 0.6),
    _tank("R3", "Warm tank", "W02", 2.8, 1.6, 0.8, fed_as="group"),
    _tank("R4", "North tank 1", "W03", 2.0, 1.2, 0.6),
    _tank("R5", "North tank 2", "W03", 2.0, 1.2, 0.6),
    _tank("R6", "North tank 3", "W03", 2.2, 1.4, 0.65),
    _tank("R7", "Deep tank 1", "W04", 2.6, 1.7, 0.8),
    _tank("R8", "Deep tank 2", "W04", 2.6, 1.7, 0.8),
    _tank("R9", "Deep tank 3", "W04", 2.4, 1.6, 0.8),
    _tank("R10", "Window tank", "W02", 2.0, 1.2, 0.5, fed_as="group"),
    _pond("P1", "Main pond", "oval", 10.0, 6.0, 1.3, 7.0),
    _pond("P2", "Reed pond", "oval", 6.0, 4.0, 0.9, 9.0),
    _pond("P3", "Cove", "rectangle", 4.0, 3.0, 0.8, 7.0),
    _pond("P4", "Lower pond", "round", 4.2, None, 0.8, 12.0),
    EnclosurePlan(
        "H1", "Sick bay tank", "SICK", "W06", "rectangle", 1.5, 1.0, 0.5, purpose="hospital"
    ),
    _setup("Q1", "Setup A", "W07", 2.0, 1.1, 0.5, "Free. Filter kept alive with ammonium chloride."),
    _setup("Q2", "Setup B left", "W08", 2.0, 1.1, 0.5),
    _setup("Q3", "Setup B right", "W08", 1.6, 1.0, 0.5, "Shares its water with Q2."),
    _setup("Q4", "Setup C", "W09", 2.2, 1.1, 0.5),
    _setup("Q5", "Setup D", "W10", 2.0, 1.1, 0.5),
    _setup("Q6", "Setup E", "W11", 1.5, 0.8, 0.5, "Free. Small animals only."),
    _setup("Q7", "Setup F", "W12", 2.4, 1.3, 0.55),
)  # fmt: skip

FILTERS = (
    FilterPlan("F01", "Nursery barrel", "W01", BAGGED_BARREL, PUMP, 3.0, 1.9, sediment_factor=0.85),
    FilterPlan(
        "F02",
        "Softshell crate",
        "W02",
        (Layer("river_rock", 0.30), Layer("lava_rock", 0.12)),
        PUMP,
        4.5,
        3.2,
        shape="rectangle",
        length_m=1.0,
        width_m=0.8,
        height_m=0.9,
        void_height_m=0.25,
        sediment_factor=1.15,
    ),
    FilterPlan(
        "F03",
        "North hall barrel",
        "W03",
        BARREL,
        PUMP,
        3.0,
        1.8,
        sediment_factor=1.3,
        kept_until=-150,
        note="Behind the pallets; hard to get at.",
    ),
    FilterPlan("F04", "Deep tanks barrel", "W04", COARSE_BARREL, PUMP, 3.0, 2.0, sediment_factor=1.1),
    FilterPlan(
        "F05",
        "Pond basin",
        "W05",
        (Layer("boulders", 0.25), Layer("river_rock", 0.35), Layer("lava_rock", 0.40)),
        POND_PUMP,
        26.0,
        17.5,
        shape="rectangle",
        length_m=4.0,
        width_m=2.4,
        height_m=1.5,
        void_height_m=0.25,
        bucket_l=100.0,
        sediment_factor=1.2,
        drained=-1350,
        next_drain=-452,
        note="Walk-in basin. Nobody enters it alone, nor with the pump running.",
    ),
    FilterPlan("F06", "Sick bay drum", "W06", BARREL, PUMP, 2.2, 1.5, length_m=0.46, height_m=0.82),
    FilterPlan("F07", "Barrel A", "W07", BARREL, PUMP, 3.0, 1.8, sediment_factor=1.2),
    FilterPlan("F08", "Barrel B", "W08", BARREL, PUMP, 3.0, 1.8, sediment_factor=0.9),
    FilterPlan(
        "F09",
        "Barrel C",
        "W09",
        BARREL,
        PUMP,
        3.0,
        1.9,
        state="cycling",
        state_since=-10,
        built=-24,
        cycling_from=-10,
    ),
    FilterPlan("F10", "Barrel D", "W10", BARREL, PUMP, 3.0, 1.8, sediment_factor=1.05),
    FilterPlan("F11", "Barrel E", "W11", BARREL, PUMP, 3.0, 1.8),
    FilterPlan(
        "F12",
        "Barrel F",
        "W12",
        BARREL,
        PUMP,
        3.0,
        1.9,
        state_since=-490,
        built=-536,
        cycling_from=-520,
        seeded=True,
        sediment_factor=1.25,
    ),
    FilterPlan(
        "F13",
        "Deep tanks second barrel",
        "W04",
        BARREL,
        PUMP,
        3.0,
        1.9,
        state="building",
        state_since=-4,
        built=-4,
        is_protected=False,
        note="Fittings are in, media washed. Leak test next, then the electrician.",
    ),
)

OSSELMERE = Place(AREAS, SOURCES, CIRCUITS, ENCLOSURES, FILTERS)
