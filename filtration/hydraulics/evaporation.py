"""Water lost to the air, and how long the pump has until its sump runs dry."""

import math
from dataclasses import dataclass

from enclosures.chemistry import vapour_pressure_atm
from refuge.errors import checked, positive

VAPOUR_TO_AIR = 0.621945  # molar mass of water over that of dry air


@dataclass(frozen=True)
class Air:
    """The air over a water: relative humidity [-], its speed [m/s] and warmth [C]; None: as warm as the water."""

    relative_humidity: float
    speed_m_s: float
    air_c: float | None = None


# A room with its windows shut, and a dry spell with wind day and night. Both: assumption. The wind is a light breeze
# as it is felt near the water (1.6 to 3.3 m/s on the scale of the World Meteorological Organization, recalled).
ROOM = Air(0.5, 0.0, 22.0)
DRY_WIND = Air(0.3, 2.0)


def humidity_ratio(temperature_c: float, relative_humidity: float) -> float:
    """kg of vapour in a kg of dry air at one atmosphere; 0 to 40 C, a relative humidity of 0 to 1."""
    share = checked("relative_humidity", relative_humidity, 0, 1)
    vapour = share * vapour_pressure_atm(temperature_c)
    return VAPOUR_TO_AIR * vapour / (1 - vapour)


def evaporation_kg_h(surface_m2: float, air_m_s: float, at_water: float, in_air: float) -> float:
    """Water lost [kg/h] from a surface; humidity ratios [kg/kg] saturated at the water's warmth, and of the air.

    g = (25 + 19 v) A (xs - x): Engineering ToolBox, Evaporation from water surfaces (empirical). Never below 0.
    """
    rate = 25 + 19 * checked("air_m_s", air_m_s, 0, 40)
    dryness = max(0.0, checked("at_water", at_water, 0, 1) - checked("in_air", in_air, 0, 1))
    return rate * checked("surface_m2", surface_m2, 0) * dryness


def daily_evaporation_m3(
    surface_m2: float,
    water_c: float,
    air: Air = ROOM,
) -> float:
    """Water lost in a day [m3] from an open surface of this warmth [C] into such air."""
    held = humidity_ratio(water_c if air.air_c is None else air.air_c, air.relative_humidity)
    return evaporation_kg_h(surface_m2, air.speed_m_s, humidity_ratio(water_c, 1.0), held) * 24 / 1000


def days_until_dry(depth_m: float, sump_surface_m2: float, daily_loss_m3: float) -> float:
    """Days until the sump has fallen by `depth_m`, the water over the pump's intake. Infinity with no loss."""
    water = checked("depth_m", depth_m, 0) * positive("sump_surface_m2", sump_surface_m2)
    loss = checked("daily_loss_m3", daily_loss_m3, 0)
    return water / loss if loss else math.inf
