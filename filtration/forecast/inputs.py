"""What happens to a water, hour by hour: meals, water, temperature, work and mishaps.

Hours count from the start of the forecast. `forcing` turns it all into the table that the step reads.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from enclosures.chemistry import ammonia_from_chloramine_mg_l, oxygen_saturation_mg_l
from filtration.forecast import layout as at
from filtration.forecast.circuit import Circuit
from filtration.forecast.constants import SMALLEST_VOLUME_SHARE
from filtration.forecast.water import at_temperature, carbon_dioxide_at
from husbandry.bioload import Load, meal_load
from refuge.errors import OutOfRange, checked, positive

Floats = NDArray[np.float64]
# Hours until the water standing in a bed has lost its oxygen. Common practice, no source.
BED_OXYGEN_HOURS = 1.5
# Share of the bacteria that a gentle rinse of one layer in the circuit's own water takes. Assumption.
RINSE_LOSS = 0.2


@dataclass(frozen=True)
class Source:
    """New water. mg/L, nitrogen as N; `chlorine` is total chlorine as Cl2 at the tap."""

    nitrate: float = 0.0
    alkalinity: float = 100.0
    ph: float = 7.6
    tan: float = 0.0
    chlorine: float = 0.0
    is_chloramine: bool = False

    @property
    def total_ammonia(self) -> float:
        """Ammonia it brings: its own, and that of the chloramine, which conditioners set free [mg N/L]."""
        return self.tan + (ammonia_from_chloramine_mg_l(self.chlorine) if self.is_chloramine else 0.0)


@dataclass(frozen=True)
class Meal:
    """Food eaten at `hour`: the ammonia [g N] and dry solids [g] it ends as."""

    hour: int
    eaten_tan_g: float
    eaten_solids_g: float

    def __post_init__(self) -> None:
        for name in ("eaten_tan_g", "eaten_solids_g"):
            checked(name, getattr(self, name), 0)

    def mark(self, table: Floats) -> None:
        row = table[self.hour]
        row[at.F_EATEN_NITROGEN] += self.eaten_tan_g
        row[at.F_EATEN_SOLIDS] += self.eaten_solids_g

    def scaled(self, factor: float) -> "Meal":
        """The meal times `factor` (0 or more)."""
        by = checked("factor", factor, 0)
        return Meal(self.hour, by * self.eaten_tan_g, by * self.eaten_solids_g)


def meal_of_food(hour: int, eaten_kg: float, protein_fraction: float, water_fraction: float) -> Meal:
    """A meal from kg of food and its composition as fed (0 to 1); see husbandry.bioload.meal_load."""
    eaten = meal_load(eaten_kg, 0, protein_fraction, water_fraction)
    return Meal(hour, eaten.tan_g, eaten.solids_g)


def meals_every(load: Load, hours: int, *, first: int, every_hours: int) -> tuple["Meal", ...]:
    """The same meal again and again, all of it eaten, within the next `hours`."""
    return tuple(Meal(hour, load.tan_g, load.solids_g) for hour in range(first, hours, every_hours))


@dataclass(frozen=True)
class WaterChange:
    """`volume_m3` swapped for new water at `hour`; `is_neutralised`: a conditioner took the chlorine."""

    hour: int
    volume_m3: float
    source: Source
    is_neutralised: bool = True

    def mark(self, table: Floats) -> None:
        _bring(table[self.hour], at.F_CHANGE, self.volume_m3, self.source, self.is_neutralised)


@dataclass(frozen=True)
class TopUp:
    """`volume_m3` of new water added at `hour`, nothing taken out."""

    hour: int
    volume_m3: float
    source: Source
    is_neutralised: bool = True

    def mark(self, table: Floats) -> None:
        _bring(table[self.hour], at.F_TOP_UP, self.volume_m3, self.source, self.is_neutralised)


def _bring(row: Floats, column: int, volume_m3: float, source: Source, is_neutralised: bool) -> None:
    """Add new water to an hour; what came before in the same hour is mixed with it."""
    volume = checked("volume_m3", volume_m3, 0)
    before = row[at.F_CHANGE] + row[at.F_TOP_UP]
    if before + volume <= 0:
        return
    celsius = row[at.F_CELSIUS]
    new = {
        at.F_NEW_TAN: source.total_ammonia,
        at.F_NEW_NITRATE: source.nitrate,
        at.F_NEW_ALKALINITY: source.alkalinity,
        at.F_NEW_OXYGEN: oxygen_saturation_mg_l(celsius),
        at.F_NEW_CARBON_DIOXIDE: carbon_dioxide_at(source.alkalinity, source.ph, celsius),
        at.F_NEW_CHLORINE: 0.0 if is_neutralised else source.chlorine,
    }
    for index, value in new.items():
        row[index] = (row[index] * before + value * volume) / (before + volume)
    row[column] += volume


@dataclass(frozen=True)
class PumpStop:
    """No flow through the filter for `hours` from `hour` on.

    share: of the media surface, and so of the flow, that stands still (above 0, up to 1). Where the rest goes on, what
    stands takes no part meanwhile; what it loses is a Damage. Two stops of the same hours each take of what the other
    leaves: filters that stand together are one stop of the sum of their shares (see forecasting.harms).
    """

    hour: int
    hours: int
    share: float = 1.0

    def mark(self, table: Floats) -> None:
        goes_on = 1 - positive("share", self.share, 1)
        stands = slice(self.hour, self.hour + self.hours)
        table[stands, at.F_FLOW] *= goes_on
        if goes_on > 0:
            table[stands, at.F_FILM] *= goes_on


@dataclass(frozen=True)
class Rinse:
    """One layer rinsed: bacteria lost and solids left, as shares (0 to 1) of the whole filter's."""

    hour: int
    bacteria_lost: float = RINSE_LOSS
    solids_left: float = 0.1

    def mark(self, table: Floats) -> None:
        lost = checked("bacteria_lost", self.bacteria_lost, 0, 1)
        table[self.hour, at.F_FILM_LEFT] *= 1 - lost
        table[self.hour, at.F_MEDIA_LEFT] *= checked("solids_left", self.solids_left, 0, 1)


@dataclass(frozen=True)
class Drain:
    """The void drained; `left` is the share (0 to 1) of the sediment that stays."""

    hour: int
    left: float = 0.1

    def mark(self, table: Floats) -> None:
        table[self.hour, at.F_VOID_LEFT] *= checked("left", self.left, 0, 1)


@dataclass(frozen=True)
class Damage:
    """Medication, drying, frost: the shares (0 to 1) of both groups of bacteria that live on, in the middle member.

    How hard it was is not known: each member takes that share to the power of its own parameter "harm".
    """

    hour: int
    ammonia_survival: float
    nitrite_survival: float

    def mark(self, table: Floats) -> None:
        ammonia = checked("ammonia_survival", self.ammonia_survival, 0, 1)
        nitrite = checked("nitrite_survival", self.nitrite_survival, 0, 1)
        table[self.hour, at.F_AMMONIA_HARM] += _dose(ammonia)
        table[self.hour, at.F_NITRITE_HARM] += _dose(nitrite)


def _dose(survival: float) -> float:
    """-ln of what lives on; of nothing at all one in a thousand million does."""
    return -math.log(max(survival, 1e-9))


@dataclass(frozen=True)
class Seeding:
    """Old media or sludge added: `share` (0 to 1) of a full film."""

    hour: int
    share: float

    def mark(self, table: Floats) -> None:
        table[self.hour, at.F_SEED] += checked("share", self.share, 0, 1)


@dataclass(frozen=True)
class AreaChange:
    """From `hour` on the media area is `factor` times as large. New stone comes bare; lost stone takes its film."""

    hour: int
    factor: float

    def mark(self, table: Floats) -> None:
        factor = checked("factor", self.factor, 0, 1e4)
        table[self.hour :, at.F_FILM] *= factor
        if factor > 1:
            table[self.hour, at.F_FILM_LEFT] /= factor


@dataclass(frozen=True)
class Buffer:
    """Alkalinity added at `hour` as bicarbonate [g as CaCO3]: 1.68 g of baking soda for each."""

    hour: int
    alkalinity_g: float

    def mark(self, table: Floats) -> None:
        table[self.hour, at.F_BUFFER] += checked("alkalinity_g", self.alkalinity_g, 0)


Event = Buffer | Meal | WaterChange | TopUp | PumpStop | Rinse | Drain | Damage | Seeding | AreaChange


@dataclass(frozen=True, eq=False)
class Inputs:
    """Everything that will happen. temperature_c: one value an hour, which also sets how many hours there are.

    evaporation_m3_day: water lost to the air, the same all the time.
    """

    temperature_c: Floats
    events: tuple[Event, ...] = field(default=())
    evaporation_m3_day: float = 0.0

    @property
    def hours(self) -> int:
        return len(self.temperature_c)

    def plus(self, *events: Event) -> "Inputs":
        return replace(self, events=self.events + events)

    def between(self, start: int, end: int) -> "Inputs":
        """The hours [start, end) as inputs of their own. A pump stop is cut at both ends."""
        moved = (_within(event, start, end) for event in self.events)
        return Inputs(
            self.temperature_c[start:end], tuple(event for event in moved if event), self.evaporation_m3_day
        )


def steady(hours: int, temperature_c: float, events: Sequence[Event] = ()) -> Inputs:
    """Inputs at one temperature."""
    return Inputs(np.full(hours, float(temperature_c)), tuple(events))


def _within(event: Event, start: int, end: int) -> Event | None:
    if isinstance(event, PumpStop):
        first, last = max(event.hour, start), min(event.hour + event.hours, end)
        return replace(event, hour=first - start, hours=last - first) if last > first else None
    return replace(event, hour=event.hour - start) if start <= event.hour < end else None


def forcing(circuit: Circuit, inputs: Inputs) -> Floats:
    """The table that the step reads, shape (hours, columns); see layout.FORCING_NAMES.

    Raises OutOfRange for an event outside the hours, or a temperature outside 0 to 40 C.
    """
    table = np.zeros((inputs.hours, len(at.FORCING_NAMES)))
    table[:, at.F_CELSIUS] = inputs.temperature_c
    table[:, at.F_RELEASE : at.F_AMMONIUM + 1] = at_temperature(table[:, at.F_CELSIUS], circuit.elevation_m)
    table[:, at.F_FILM] *= circuit.media_area_m2
    table[:, at.F_FLOW] = circuit.flow_m3_h * 24
    table[:, at.F_EVAPORATION] = checked("evaporation_m3_day", inputs.evaporation_m3_day, 0)
    table[:, at.F_LEAST_VOLUME] = SMALLEST_VOLUME_SHARE * circuit.volume_m3
    for column in (at.F_FILM_LEFT, at.F_VOID_LEFT, at.F_MEDIA_LEFT):
        table[:, column] = 1.0
    for event in inputs.events:
        checked("hour", event.hour, 0, inputs.hours - 1)
        event.mark(table)
    _air(circuit, table)
    return table


def _air(circuit: Circuit, table: Floats) -> None:
    """Oxygen through the surface and the falling return; a bed without flow runs out of it, also one that never had any."""
    fall = circuit.fall_recovery * table[:, at.F_FLOW] / circuit.volume_m3
    table[:, at.F_AIR] = circuit.surface_exchange_per_day + circuit.air_pump_per_day + fall
    standing = 0.0
    for row in table[(table[:, at.F_FLOW] <= 0).argmax() :] if (table[:, at.F_FLOW] <= 0).any() else ():
        standing = standing + 1 if row[at.F_FLOW] <= 0 else 0.0
        row[at.F_AIRLESS] = min(max(standing - BED_OXYGEN_HOURS, 0.0), 1.0)


def check_hours(inputs: Inputs, hours: int) -> None:
    """Refuse inputs that end before the forecast does."""
    if inputs.hours < hours:
        raise OutOfRange("temperature_c", inputs.hours, f"at least {hours} hours long")
