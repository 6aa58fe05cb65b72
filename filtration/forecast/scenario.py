"""What if: the same forecast with something changed. Every change gives a new scenario and leaves the old one be."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from filtration.forecast import layout as at
from filtration.forecast.bands import TWO_WEEKS, Forecast, Limit, forecast
from filtration.forecast.circuit import Circuit
from filtration.forecast.ensemble import Ensemble
from filtration.forecast.inputs import AreaChange, Event, Inputs, Meal, PumpStop, Rinse
from refuge.errors import OutOfRange, checked, positive

# Everything a water holds that is shared out by volume; films and what lies in the filter stay with the filter.
IN_THE_WATER = [
    at.TAN,
    at.NITRITE,
    at.NITRATE,
    at.ALKALINITY,
    at.OXYGEN,
    at.CARBON_DIOXIDE,
    at.SUSPENDED,
]
IN_THE_ANIMALS = [at.GUT, at.EXCRETA, at.GUT_SOLIDS]
COUNTS = [at.GAS, at.REMOVED, at.ADDED]
FILMS = [at.AMMONIA_OXIDIZERS, at.NITRITE_OXIDIZERS]


@dataclass(frozen=True, eq=False)
class Scenario:
    """A circuit, what will happen to it, and its members at the start."""

    circuit: Circuit
    inputs: Inputs
    start: Ensemble

    def forecast(self, limits: Sequence[Limit] = (), *, hours: int = TWO_WEEKS, every: int = 1) -> Forecast:
        return forecast(self.circuit, self.inputs, self.start, limits=limits, hours=hours, every=every)

    def with_events(self, *events: Event) -> "Scenario":
        """Anything more: meals of a newcomer, a water change, medication, seeding."""
        return replace(self, inputs=self.inputs.plus(*events))

    def with_meals(self, meals: Sequence[Meal]) -> "Scenario":
        """These meals in place of the planned ones."""
        others = tuple(event for event in self.inputs.events if not isinstance(event, Meal))
        return replace(self, inputs=replace(self.inputs, events=others + tuple(meals)))

    def fed_times(self, factor: float) -> "Scenario":
        """All planned meals times `factor` (0 or more)."""
        meals = [event.scaled(factor) for event in self.inputs.events if isinstance(event, Meal)]
        return self.with_meals(meals)

    def warmer(self, degrees: float) -> "Scenario":
        """The water so many degrees Celsius warmer (colder if negative), held between 0 and 40."""
        change = checked("degrees", degrees, -40, 40)
        celsius = np.clip(self.inputs.temperature_c + change, 0.0, 40.0)
        return replace(self, inputs=replace(self.inputs, temperature_c=celsius))

    def without_filter_share(self, share: float, hour: int = 0) -> "Scenario":
        """A filter lost that held `share` (0 to 1) of the media area, from `hour` on."""
        return self.with_events(AreaChange(hour, 1 - checked("share", share, 0, 1)))

    def rinsed(self, hour: int, bacteria_lost: float) -> "Scenario":
        return self.with_events(Rinse(hour, bacteria_lost))

    def pump_stopped(self, hour: int, hours: int) -> "Scenario":
        return self.with_events(PumpStop(hour, hours))

    def merged_with(self, other: "Scenario") -> "Scenario":
        """Both waters as one from the start: their members in pairs, their events together.

        Both must have as many members and hours. The parameters stay those of this scenario; temperatures are
        mixed by volume.
        """
        if self.start.members != other.start.members:
            raise OutOfRange("other", other.start.members, f"{self.start.members} members as well")
        if self.inputs.hours != other.inputs.hours:
            raise OutOfRange("other", other.inputs.hours, f"{self.inputs.hours} hours as well")
        return Scenario(
            _both(self.circuit, other.circuit),
            _both_inputs(self, other),
            replace(self.start, states=_both_states(self, other)),
        )

    def split(self, volume_share: float, area_share: float, animal_share: float) -> "Scenario":
        """The part of the water that keeps these shares (0 to 1) of volume, media area and food."""
        volume = positive("volume_share", volume_share, 1)
        area = checked("area_share", area_share, 0, 1)
        animals = checked("animal_share", animal_share, 0, 1)
        states = self.start.states.copy()
        states[:, [*IN_THE_WATER, *COUNTS, at.VOLUME]] *= volume
        states[:, IN_THE_ANIMALS] *= animals
        states[:, [at.EASY, at.INERT, at.MEDIA]] *= area
        circuit = replace(
            self.circuit,
            volume_m3=self.circuit.volume_m3 * volume,
            media_area_m2=self.circuit.media_area_m2 * area,
            flow_m3_h=self.circuit.flow_m3_h * area,
        )
        return Scenario(circuit, self.inputs, replace(self.start, states=states)).fed_times(animals)


def _both(one: Circuit, two: Circuit) -> Circuit:
    """Sizes add up; exchange with the air is weighed by volume."""
    volume = one.volume_m3 + two.volume_m3
    weight = one.volume_m3 / volume

    def mean(name: str) -> float:
        return weight * float(getattr(one, name)) + (1 - weight) * float(getattr(two, name))

    return Circuit(
        volume,
        one.media_area_m2 + two.media_area_m2,
        one.flow_m3_h + two.flow_m3_h,
        mean("surface_exchange_per_day"),
        mean("air_pump_per_day"),
        mean("fall_recovery"),
        mean("elevation_m"),
    )


def _both_inputs(one: Scenario, two: Scenario) -> Inputs:
    weight = one.circuit.volume_m3 / (one.circuit.volume_m3 + two.circuit.volume_m3)
    celsius = weight * one.inputs.temperature_c + (1 - weight) * two.inputs.temperature_c
    evaporation = one.inputs.evaporation_m3_day + two.inputs.evaporation_m3_day
    return Inputs(celsius, one.inputs.events + two.inputs.events, evaporation)


def _both_states(one: Scenario, two: Scenario) -> np.ndarray:
    """Amounts add up; films are shares, so they are weighed by area."""
    states = one.start.states + two.start.states
    area = one.circuit.media_area_m2 + two.circuit.media_area_m2
    weight = one.circuit.media_area_m2 / area if area else 0.5
    films = weight * one.start.states[:, FILMS] + (1 - weight) * two.start.states[:, FILMS]
    states[:, FILMS] = films
    return states
