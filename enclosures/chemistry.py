"""Chemistry of one water. Concentrations in mg/L, temperatures in degrees Celsius, heights in metres.

Every function refuses nan, infinity and values outside its stated range with OutOfRange.
"Recalled, not re-read" marks a value from memory that has not been compared with its source again.
"""

import math
from typing import Literal

from refuge.errors import OutOfRange, checked, positive

Species = Literal["ammonia", "ammonium", "nitrite", "nitrate"]

# Standard atomic weights [g/mol].
HYDROGEN, NITROGEN, OXYGEN = 1.008, 14.007, 15.999
CALCIUM_CARBONATE, CHLORINE_GAS = 100.087, 70.906

MOLAR_MASS: dict[Species, float] = {
    "ammonia": NITROGEN + 3 * HYDROGEN,
    "ammonium": NITROGEN + 4 * HYDROGEN,
    "nitrite": NITROGEN + 2 * OXYGEN,
    "nitrate": NITROGEN + 3 * OXYGEN,
}

# Two equivalents of alkalinity per mole of nitrogen oxidised to nitrate, growth neglected: 7.1459 g/g.
ALKALINITY_PER_NITROGEN = CALCIUM_CARBONATE / NITROGEN
# Monochloramine carries one N for each Cl2 that the total-chlorine test reports.
NITROGEN_PER_CHLORINE = NITROGEN / CHLORINE_GAS
# Sodium thiosulfate pentahydrate, tetrathionate reaction: 2 x 248.18 / 70.906, instrument-maker note TE213.
THIOSULFATE_PER_CHLORINE = 7.0

BICARBONATE_PER_ALKALINITY = 84.007 / 50.0435  # NaHCO3 per CaCO3, by equivalents


def ammonium_pka(temperature_c: float) -> float:
    """pKa of ammonium in fresh water, 0 to 50 C. Emerson et al. 1975, J. Fish. Res. Board Can. 32:2379."""
    return 0.09018 + 2729.92 / (checked("temperature_c", temperature_c, 0, 50) + 273.15)


def unionized_fraction(temperature_c: float, ph: float) -> float:
    """Share of total ammonia that is un-ionized NH3 (0 to 1); fresh water, 0 to 50 C, pH 0 to 14."""
    return 1 / (1 + 10 ** (ammonium_pka(temperature_c) - checked("ph", ph, 0, 14)))


def unionized_ammonia_mg_l(tan_mg_l: float, temperature_c: float, ph: float) -> float:
    """Un-ionized ammonia as nitrogen [mg N/L] from total ammonia nitrogen [mg N/L]."""
    return checked("tan_mg_l", tan_mg_l, 0) * unionized_fraction(temperature_c, ph)


def nitrogen_from_ion(species: Species, mg_l: float) -> float:
    """mg/L of the species (as its whole molecule) to mg/L as nitrogen: 30 mg/L nitrate is 6.78 mg N/L."""
    return checked("mg_l", mg_l, 0) * NITROGEN / _molar_mass(species)


def ion_from_nitrogen(species: Species, nitrogen_mg_l: float) -> float:
    """mg/L as nitrogen to mg/L of the species as its whole molecule."""
    return checked("nitrogen_mg_l", nitrogen_mg_l, 0) * _molar_mass(species) / NITROGEN


def _molar_mass(species: Species) -> float:
    try:
        return MOLAR_MASS[species]
    except KeyError:
        raise OutOfRange("species", species, "one of " + ", ".join(MOLAR_MASS)) from None


def alkalinity_used_mg(nitrogen_mg: float) -> float:
    """Alkalinity [mg as CaCO3] that nitrifying `nitrogen_mg` of ammonia nitrogen to nitrate uses up."""
    return checked("nitrogen_mg", nitrogen_mg, 0) * ALKALINITY_PER_NITROGEN


def air_pressure_atm(elevation_m: float) -> float:
    """Mean air pressure [atm] at a height; US Standard Atmosphere 1976, -500 to 6000 m."""
    return math.pow(1 - 2.25577e-5 * checked("elevation_m", elevation_m, -500, 6000), 5.25588)


def vapour_pressure_atm(temperature_c: float) -> float:
    """Vapour pressure of water [atm], 0 to 40 C; the APHA 4500-O formula (recalled, not re-read)."""
    kelvin = checked("temperature_c", temperature_c, 0, 40) + 273.15
    return math.exp(11.8571 - 3840.70 / kelvin - 216961 / kelvin**2)


def oxygen_saturation_mg_l(temperature_c: float, elevation_m: float = 0) -> float:
    """Oxygen that fresh water holds in balance with air [mg/L], 0 to 40 C, -500 to 6000 m.

    At one atmosphere: APHA 1985 after Benson & Krause, the basis of the EN 25814 (ISO 5814) table.
    Height: the APHA 4500-O pressure correction (vapour pressure and theta terms recalled, not re-read).
    """
    celsius = checked("temperature_c", temperature_c, 0, 40)
    kelvin = celsius + 273.15
    sea_level = math.exp(
        -139.34411
        + 1.575701e5 / kelvin
        - 6.642308e7 / kelvin**2
        + 1.2438e10 / kelvin**3
        - 8.621949e11 / kelvin**4
    )
    return sea_level * _pressure_factor(celsius, air_pressure_atm(elevation_m))


def _pressure_factor(celsius: float, pressure_atm: float) -> float:
    vapour = vapour_pressure_atm(celsius)
    theta = 0.000975 - 1.426e-5 * celsius + 6.436e-8 * celsius**2
    return (pressure_atm - vapour) * (1 - theta * pressure_atm) / ((1 - vapour) * (1 - theta))


def mixed(current: float, source: float, fraction: float) -> float:
    """Concentration after `fraction` (0 to 1) of the volume is replaced by source water in one go."""
    now = checked("current", current, 0)
    return now + (checked("source", source, 0) - now) * checked("fraction", fraction, 0, 1)


def change_fraction_to_reach(current: float, target: float, source: float) -> float:
    """Fraction of the volume to change in one go so that the mix comes down to `target`.

    0 when the water is at or below the target already. OutOfRange when the source water holds as much as
    the target or more, since no single change can then get there. All three in the same unit.
    """
    now, goal = checked("current", current, 0), checked("target", target, 0)
    incoming = checked("source", source, 0)
    if now <= goal:
        return 0.0
    if incoming >= goal:
        raise OutOfRange("source", source, f"below the target of {goal:g}")
    return (now - goal) / (now - incoming)


def fraction_renewed_by_batches(fraction: float, times: int) -> float:
    """Share of new water after `times` changes of `fraction` each: 1 - (1 - f)^n."""
    share = checked("fraction", fraction, 0, 1)
    return 1 - math.pow(1 - share, checked("times", times, 0))


def fraction_renewed_continuously(flow: float, time: float, volume: float) -> float:
    """Share of new water after a steady flow through a mixed volume (units that cancel, e.g. L/min, min, L).

    1 - exp(-flow x time / volume): Kraul et al. 1985, Prog. Fish-Cult. 47:69, after Sprague 1969.
    """
    passed = checked("flow", flow, 0) * checked("time", time, 0)
    return -math.expm1(-passed / positive("volume", volume))


def thiosulfate_g(volume_l: float, total_chlorine_mg_l: float) -> float:
    """Sodium thiosulfate pentahydrate [g] that removes the chlorine from `volume_l` litres; no surplus."""
    chlorine_mg = checked("volume_l", volume_l, 0) * checked("total_chlorine_mg_l", total_chlorine_mg_l, 0)
    return chlorine_mg * THIOSULFATE_PER_CHLORINE / 1000


def sodium_bicarbonate_g(volume_l: float, rise_mg_l: float) -> float:
    """Sodium bicarbonate [g] that lifts the alkalinity of `volume_l` litres by `rise_mg_l` as CaCO3.

    Stoichiometric: 84.007 g NaHCO3 carry as much as 50.0435 g CaCO3. A rule of thumb in SRAC 4502 is 17 % less.
    """
    rise = checked("rise_mg_l", rise_mg_l, 0)
    return checked("volume_l", volume_l, 0) * rise * BICARBONATE_PER_ALKALINITY / 1000


def ammonia_from_chloramine_mg_l(total_chlorine_mg_l: float) -> float:
    """Ammonia nitrogen [mg N/L] set free when monochloramine, tested as mg/L Cl2, is broken up."""
    return checked("total_chlorine_mg_l", total_chlorine_mg_l, 0) * NITROGEN_PER_CHLORINE


def hypochlorite_ppm(product_percent: float, product_ml: float, final_ml: float) -> float:
    """Hypochlorite [ppm, w/v] when `product_ml` of bleach is made up to `final_ml` in all.

    `product_percent` is the strength on the bottle, above 0 and up to 20 %; it falls with age.
    """
    final = positive("final_ml", final_ml)
    product = checked("product_ml", product_ml, 0, final)
    return positive("product_percent", product_percent, 20) * 1e4 * product / final


def product_ml_for(ppm: float, product_percent: float, final_ml: float) -> float:
    """Bleach [mL] to make `final_ml` of `ppm` hypochlorite; OutOfRange if the product is not that strong."""
    strength = positive("product_percent", product_percent, 20) * 1e4
    return checked("ppm", ppm, 0, strength) / strength * positive("final_ml", final_ml)


def epa_2013_acute_tan_mg_l(
    ph: float, temperature_c: float, *, mussels: bool = False, salmonids: bool = False
) -> float:
    """One-hour criterion for total ammonia [mg N/L], unrounded. EPA 822-R-13-001; pH 6 to 10, 0 to 40 C.

    Formulas as read in a state agency's assessment code. With salmonids the mussel term applies as well.
    A criterion for wild freshwater life; none is published for turtles, so it is an orientation here.
    """
    bracket = 0.7249 * _ph_bracket(ph, 7.204, 0.0114, 1.6181)
    warm = 10 ** (0.036 * (20 - checked("temperature_c", temperature_c, 0, 40)))
    if salmonids:
        return min(_ph_bracket(ph, 7.204, 0.275, 39.0), bracket * 23.12 * warm)
    return bracket * min(51.93, (23.12 if mussels else 62.15) * warm)


def epa_2013_chronic_tan_mg_l(
    ph: float, temperature_c: float, mussels: bool = False, early_life: bool = False
) -> float:
    """Thirty-day mean criterion for total ammonia [mg N/L], unrounded. EPA 822-R-13-001; pH 6 to 10, 0 to 40 C.

    The highest four-day mean within the thirty days must not exceed 2.5 times this value.
    """
    bracket = _ph_bracket(ph, 7.688, 0.0278, 1.1994)
    celsius = checked("temperature_c", temperature_c, 0, 40)
    floor = 10 ** (0.028 * (20 - max(celsius, 7)))
    if mussels:
        return 0.8876 * bracket * 2.126 * floor
    if early_life:
        return 0.9405 * bracket * min(6.920, 7.547 * 10 ** (0.028 * (20 - celsius)))
    return 0.9405 * bracket * 7.547 * floor


def _ph_bracket(ph: float, middle: float, low: float, high: float) -> float:
    value = checked("ph", ph, 6, 10)
    return low / (1 + 10 ** (middle - value)) + high / (1 + 10 ** (value - middle))
