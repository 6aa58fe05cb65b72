"""Solids held between the stones: where they lie, and what they leave of the pores.

Stones catch particles in proportion to what is left, more the finer they are (Iwasaki 1937, J. AWWA 29, 1591;
the coefficient for large grains is an assumption). What is held fills pore space as a wet deposit.
"""

import math
from collections.abc import Sequence

from filtration.hydraulics.bed import BedLayer
from refuge.errors import OutOfRange, checked, positive

# Share of the particles passing one grain's shadow that stay: lambda = 1.5 (1 - void) eta / d. Assumption.
COLLECTION = 0.03
# Dry matter in the deposit. Assumption: a little denser than what lies loose in the void (0.02).
DEPOSIT_DRY_SHARE = 0.03
# Pores that no deposit closes: water keeps some channels open. Assumption.
LEAST_POROSITY = 0.02


def deposit_m3(held_kg: float) -> float:
    """Pore space [m3] that dry solids [kg] take up with the water they hold."""
    return checked("held_kg", held_kg, 0) / DEPOSIT_DRY_SHARE / 1000


def capacity_kg(layers: Sequence[BedLayer], area_m2: float) -> float:
    """Dry solids [kg] that fill the pores of all layers as far as pores fill."""
    return sum(_room_m3(layer, area_m2) for layer in layers) * 1000 * DEPOSIT_DRY_SHARE


def porosities(layers: Sequence[BedLayer], area_m2: float, held_kg: float) -> list[float]:
    """Void fraction left in each layer, bottom first, with `held_kg` of dry solids held in all of them.

    What a full layer cannot take goes to the next above, and at last to those below.
    Raises OutOfRange above `capacity_kg`.
    """
    if not layers:
        return []
    most = capacity_kg(layers, positive("area_m2", area_m2))
    left = deposit_m3(held_kg)
    if held_kg > most * (1 + 1e-9):
        raise OutOfRange("held_kg", held_kg, f"at most {most:.3g}: the pores hold no more")
    rooms = [_room_m3(layer, area_m2) for layer in layers]
    taken = [0.0] * len(layers)
    wanted = [share * left for share in _shares(layers)]
    for order in (range(len(layers)), range(len(layers) - 1, -1, -1)):
        carried = 0.0
        for i in order:
            carried += wanted[i]
            stays = min(carried, rooms[i] - taken[i])
            taken[i], wanted[i], carried = taken[i] + stays, 0.0, carried - stays
        wanted[0 if order[0] else -1] = carried
    volumes = [area_m2 * layer.depth_m for layer in layers]
    return [layer.porosity - t / v for layer, t, v in zip(layers, taken, volumes, strict=True)]


def _room_m3(layer: BedLayer, area_m2: float) -> float:
    return max(0.0, layer.porosity - LEAST_POROSITY) * area_m2 * layer.depth_m


def _shares(layers: Sequence[BedLayer]) -> list[float]:
    """Share of the held solids that each layer catches; they sum to 1."""
    passing, caught = 1.0, []
    for layer in layers:
        strength = 1.5 * (1 - layer.porosity) * COLLECTION / layer.ergun_size_m
        stays = -math.expm1(-strength * layer.depth_m)
        caught.append(passing * stays)
        passing *= 1 - stays
    total = sum(caught)
    return [share / total for share in caught]
