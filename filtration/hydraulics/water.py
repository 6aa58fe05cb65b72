"""Properties of fresh water at about one atmosphere, 0 to 40 C."""

import math

from refuge.errors import checked

GRAVITY = 9.80665  # m/s2, standard acceleration of free fall (3rd CGPM, 1901)

# (coefficient, exponent) of viscosity in uPa s over T/300 K: IAPWS Supplementary Release SR6-08; Patek et al.
# 2009, J. Phys. Chem. Ref. Data 38, 21 (recalled; checked against the 20 C standard value 1.0016 mPa s).
_VISCOSITY_TERMS = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))


def density_kg_m3(temperature_c: float) -> float:
    """Density [kg/m3] of air-free water; 0 to 40 C.

    Source: Tanaka et al. 2001, Metrologia 38, 301 (the CIPM formula; recalled, checked against table cells).
    """
    t = checked("temperature_c", temperature_c, 0, 40)
    return 999.974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def viscosity_pa_s(temperature_c: float) -> float:
    """Dynamic viscosity [Pa s]; 0 to 40 C. Source: beside the coefficients."""
    scaled = (checked("temperature_c", temperature_c, 0, 40) + 273.15) / 300
    return 1e-6 * sum(factor * math.pow(scaled, power) for factor, power in _VISCOSITY_TERMS)


def velocity_m_s(flow_m3_h: float, area_m2: float) -> float:
    """Mean velocity [m/s] of a flow [m3/h] through a section [m2]."""
    return flow_m3_h / 3600 / area_m2


def reynolds(velocity: float, length_m: float, temperature_c: float) -> float:
    """Reynolds number [-] of a velocity [m/s] over a length [m]."""
    return density_kg_m3(temperature_c) * velocity * length_m / viscosity_pa_s(temperature_c)


def velocity_head_m(velocity: float) -> float:
    """v2/2g [m] of a velocity [m/s]."""
    return velocity**2 / (2 * GRAVITY)


def head_m(pressure_pa: float, temperature_c: float) -> float:
    """A pressure [Pa] as metres of this water."""
    return pressure_pa / (density_kg_m3(temperature_c) * GRAVITY)
