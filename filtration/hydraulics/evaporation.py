"""Water lost to the air, and how long the pump has until its sump runs dry."""

import math

from enclosures.chemistry import vapour_pressure_atm
from refuge.errors import checked, positive

VAPOUR_TO_AIR = 0.621945  # molar mass of water over that of dry air


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
    air_c: float = 22.0,
    relative_humidity: float = 0.5,
    air_m_s: float = 0.0,
) -> float:
    """Water lost in a day [m3] from an open surface. Defaults: a still room at 22 C and half saturation."""
    saturated = humidity_ratio(water_c, 1.0)
    return (
        evaporation_kg_h(surface_m2, air_m_s, saturated, humidity_ratio(air_c, relative_humidity)) * 24 / 1000
    )


def days_until_dry(depth_m: float, sump_surface_m2: float, daily_loss_m3: float) -> float:
    """Days until the sump has fallen by `depth_m`, the water over the pump's intake. Infinity with no loss."""
    water = checked("depth_m", depth_m, 0) * positive("sump_surface_m2", sump_surface_m2)
    loss = checked("daily_loss_m3", daily_loss_m3, 0)
    return water / loss if loss else math.inf
