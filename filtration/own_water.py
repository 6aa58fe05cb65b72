"""A filter's own water: part of the volume of the water that it cleans, from the day it runs until it is taken off.

The circuit keeps one number for all that stands outside its enclosures (`extra_volume_m3`), which people may also have
typed with its filters in. So only what a filter itself has added there is ever taken off again.
"""

from enclosures.models import Circuit
from filtration.models import FilterUnit
from refuge.events import announce
from refuge.people.models import User
from refuge.rules.facts import RUNNING


def count_own_water(unit: FilterUnit, water_m3: float | None, by: User | None) -> float:
    """Add what stands in it [m3] where it runs now, take that off where it does not. Gives what was added.

    water_m3: None where the circuit's number holds it already. Must run inside a transaction; saves the filter.
    """
    runs = unit.state in RUNNING
    if runs == unit.is_water_counted or (runs and not water_m3):
        return 0.0
    unit.water_m3 = water_m3 if runs else unit.water_m3
    unit.is_water_counted = runs
    unit.save(update_fields=["water_m3", "is_water_counted"])
    change = (unit.water_m3 or 0.0) * (1 if runs else -1)
    _add(unit.circuit_id, change, by)
    return change


def follow_edit(unit: FilterUnit, by: User | None) -> None:
    """Before an edited filter is saved: what it had added follows it to another water, or to another amount."""
    was = FilterUnit.objects.filter(pk=unit.pk, is_water_counted=True).first()
    if was is None or (was.circuit_id, was.water_m3) == (unit.circuit_id, unit.water_m3):
        return
    unit.is_water_counted = unit.water_m3 is not None
    _add(was.circuit_id, -(was.water_m3 or 0.0), by)
    _add(unit.circuit_id, unit.water_m3 or 0.0, by)


def _add(circuit_id: int, change_m3: float, by: User | None) -> None:
    """Never below nothing: somebody may have typed less since."""
    circuit = Circuit.objects.select_for_update().get(pk=circuit_id)
    circuit._history_user = by  # type: ignore[attr-defined]
    circuit.extra_volume_m3 = max(circuit.extra_volume_m3 + change_m3, 0.0)
    circuit.save(update_fields=["extra_volume_m3"])
    announce([circuit_id])
