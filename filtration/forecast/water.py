"""What temperature does to the water and the living things in it, for whole arrays of hours.

Concentrations in mg/L, rates per day, constants of acids in mol/L, temperatures in degrees Celsius, 0 to 40.
The sums are those of enclosures.chemistry, husbandry.bioload and filtration; here they are tabulated once,
every 0.05 C, and read between the lines (error below 1e-6).
"""

import math
from functools import cache

import numpy as np
from numpy.typing import NDArray

from enclosures.chemistry import air_pressure_atm, ammonium_pka, oxygen_saturation_mg_l
from filtration.forecast.constants import CARBON_DIOXIDE
from filtration.nitrification import (
    AMMONIA_ENERGY,
    GAS_CONSTANT,
    LEVEL_ABOVE_C,
    NITRITE_ENERGY,
    areal_rate_g_m2_day,
)
from filtration.solids import DEFAULT_MODEL
from husbandry.bioload import mean_release_days
from refuge.errors import OutOfRange

Floats = NDArray[np.float64]
COLDEST_C, HOTTEST_C, GRID_C = 0.0, 40.0, 0.05
# Carbon dioxide in open air, mole fraction: about 420 ppm (recalled).
AIR_CARBON_DIOXIDE = 420e-6


def carbonate_constants(celsius: float) -> tuple[float, float, float, float]:
    """K1, K2 of carbonic acid and Kw of water [mol/L], and Henry's constant [mol/L/atm]; fresh water.

    Plummer & Busenberg 1982, Geochim. Cosmochim. Acta 46:1011 (coefficients recalled, not re-read; at 25 C
    they give the usual 6.35, 10.33 and 1.47). Water: 13.995 at 25 C, van 't Hoff with 55.8 kJ/mol (recalled).
    """
    kelvin = celsius + 273.15
    log10 = math.log10(kelvin)
    first = -356.3094 - 0.06091964 * kelvin + 21834.37 / kelvin + 126.8339 * log10 - 1684915 / kelvin**2
    second = -107.8871 - 0.03252849 * kelvin + 5151.79 / kelvin + 38.92561 * log10 - 563713.9 / kelvin**2
    henry = 108.3865 + 0.01985076 * kelvin - 6919.53 / kelvin - 40.45154 * log10 + 669365 / kelvin**2
    water = -13.995 + 55_800 / (GAS_CONSTANT * math.log(10)) * (1 / 298.15 - 1 / kelvin)
    return 10**first, 10**second, 10**water, 10**henry


def warmth(energy: float, celsius: float) -> float:
    """Growth relative to 20 C, level from 30 C: exp(Ea (T - Tref) / (R T Tref)). Vannecke & Volcke."""
    kelvin = min(celsius, LEVEL_ABOVE_C) + 273.15
    return math.exp(energy * (kelvin - 293.15) / (GAS_CONSTANT * kelvin * 293.15))


def _row(celsius: float) -> tuple[float, ...]:
    first, second, water, henry = carbonate_constants(celsius)
    return (
        2 / mean_release_days(celsius),
        areal_rate_g_m2_day(celsius),
        warmth(AMMONIA_ENERGY, celsius),
        warmth(NITRITE_ENERGY, celsius),
        DEFAULT_MODEL.decay_per_day(celsius),
        oxygen_saturation_mg_l(celsius),
        henry * AIR_CARBON_DIOXIDE * CARBON_DIOXIDE * 1e3,
        first,
        second,
        water,
        math.pow(10, -ammonium_pka(celsius)),
    )


@cache
def _table() -> tuple[Floats, Floats]:
    grid = np.linspace(COLDEST_C, HOTTEST_C, round((HOTTEST_C - COLDEST_C) / GRID_C) + 1)
    return grid, np.array([_row(celsius) for celsius in grid])


def at_temperature(celsius: Floats, elevation_m: float = 0.0) -> Floats:
    """The columns release_rate to ammonium of the forcing, shape (hours, 11); film_rate per m2.

    celsius: shape (hours,). Raises OutOfRange for a temperature outside 0 to 40 C or nan.
    """
    if not bool(np.all((celsius >= COLDEST_C) & (celsius <= HOTTEST_C))):
        raise OutOfRange("temperature_c", celsius, "from 0 to 40")
    grid, table = _table()
    columns = np.stack([np.interp(celsius, grid, column) for column in table.T], axis=1)
    if elevation_m:
        columns[:, 5] *= oxygen_saturation_mg_l(20, elevation_m) / oxygen_saturation_mg_l(20)
        columns[:, 6] *= air_pressure_atm(elevation_m)
    return columns


def carbon_dioxide_at(alkalinity_mg_l: float, ph: float, celsius: float) -> float:
    """Free CO2 [mg/L] of water with this alkalinity [mg CaCO3/L] and pH (5 to 10): the inverse of the pH sum."""
    first, second, water, _ = carbonate_constants(celsius)
    hydrogen = math.pow(10, -ph)
    charge = max(alkalinity_mg_l / 50043.5 + hydrogen - water / hydrogen, 1e-9)
    return charge * hydrogen / (first * (1 + 2 * second / hydrogen)) * CARBON_DIOXIDE * 1e3
