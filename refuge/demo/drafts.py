"""Two plans of a filter that the manager keeps on paper: one that does, and the same barrel with too much pump.

Both are for an arrival of 55 kg in a setup of the quarantine room, so a newcomer has something to open and compare.
"""

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, time
from uuid import UUID

from filtration.designing.propose import PUMPS
from filtration.hydraulics.design import SIPHON_BREAK, Design, Tank
from filtration.hydraulics.piping import STANDARD_BORES_M
from filtration.hydraulics.pump import Pump
from filtration.plans.models import DesignLayer
from filtration.plans.selectors import beginning, plan_from
from refuge.demo.daybook import Daybook
from refuge.demo.plans import Place
from refuge.demo.rows import Keys

CIRCUIT, NEWCOMER_KG, PRICE_PER_KWH = "W09", 55.0, 0.16
SMALL_PUMP_W, LARGE_PUMP_W = 35.0, 280.0
WIDER_INLET_M = STANDARD_BORES_M[3]
OVER_INTAKE_M, TANK_FREEBOARD_M = 0.05, 0.12
OVER_RIM_M, LIP_M, HOLE_UNDER_LIP_M = 0.05, 0.72, 0.06
DRAWN = -6


def add_drafts(keys: Keys, place: Place, book: Daybook, seed: int) -> None:
    """Store both plans; the same seed and day give the same ones."""
    rng = random.Random(f"{seed}:{book.today}:drafts")
    for name, note, design in _drafts(place):
        at = datetime.combine(book.day(DRAWN), time(17), tzinfo=UTC)
        plan, layers = plan_from(
            design,
            name=name,
            note=note,
            newcomer_kg=NEWCOMER_KG,
            price_per_kwh=PRICE_PER_KWH,
            circuit_id=keys.circuits[CIRCUIT],
            made_by_id=keys.people["manager"],
            made_at=at,
            changed_at=at,
            uuid=UUID(int=rng.getrandbits(128), version=4),
        )
        plan.save()
        rows = [DesignLayer(design=plan, position=number, **row) for number, row in enumerate(layers, 1)]
        DesignLayer.objects.bulk_create(rows)


def _drafts(place: Place) -> Iterator[tuple[str, str, Design]]:
    """(name, note, design): the one that does comes last, so that it stands first in the list."""
    small = replace(beginning(), tank=_tank(place), temperature_c=_temperature_c(place))
    small = _led_over_the_rim(replace(small, pump=_pump(SMALL_PUMP_W)))
    large = replace(small, pump=_pump(LARGE_PUMP_W), inlet=replace(small.inlet, bore_m=WIDER_INLET_M))
    yield "Barrel with the old pond pump", "We have this pump already. Would it do?", large
    yield "Barrel for a big arrival", "Intake high up: a shut return must not empty the tank.", small


def _led_over_the_rim(design: Design) -> Design:
    """The inlet climbs over the rim, with a hole in it under the lip: nothing that dirt could hold open."""
    crest = design.floor_above_water_m + design.container.height_m + OVER_RIM_M
    return replace(
        design,
        overflow_height_m=LIP_M,
        inlet=replace(design.inlet, length_m=3.5, fittings=(("elbow_90", 4),)),
        inlet_crest_above_water_m=crest,
        guard=SIPHON_BREAK,
        guard_height_m=LIP_M - HOLE_UNDER_LIP_M,
    )


def _tank(place: Place) -> Tank:
    """The setup of this water, with the pump's intake close under its surface."""
    circuit = next(each for each in place.circuits if each.code == CIRCUIT)
    tanks = [each for each in place.enclosures if each.circuit == CIRCUIT]
    surface = sum(each.length_m * (each.width_m or each.length_m) for each in tanks)
    return Tank(place.volume_m3(circuit), surface, OVER_INTAKE_M, TANK_FREEBOARD_M)


def _temperature_c(place: Place) -> float:
    return next(each.temperature_c for each in place.circuits if each.code == CIRCUIT)


def _pump(watts: float) -> Pump:
    return next(each for each in PUMPS if each.power_w == watts)
