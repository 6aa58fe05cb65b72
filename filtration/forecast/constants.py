"""Fixed numbers of the forecast's equations. Masses in g, concentrations in mg/L, rates per day.

What differs from one water to the next, or is not known well, is a parameter with a spread: see priors.py.
"Recalled, not re-read" marks a value from memory that has not been compared with its source again.
"""

from enclosures.chemistry import ALKALINITY_PER_NITROGEN, CALCIUM_CARBONATE

# Oxygen per g N with growth taken off: 3.22 to nitrite and 1.11 to nitrate. Gujer & Jenkins 1974, as quoted.
OXYGEN_TO_NITRITE, OXYGEN_TO_NITRATE = 3.22, 1.11
# One equivalent of alkalinity a mole of N: set free when urea turns into ammonium, and when nitrate turns
# into gas. Half of the two equivalents that nitrification uses.
ALKALINITY_PER_EQUIVALENT = ALKALINITY_PER_NITROGEN / 2
# Each equivalent of bicarbonate used up leaves one mole of carbon dioxide: g CO2 per g CaCO3.
CARBON_DIOXIDE = 44.009
CARBON_DIOXIDE_PER_ALKALINITY = 2 * CARBON_DIOXIDE / CALCIUM_CARBONATE
# One mole of CO2 for each mole of O2 that organic matter takes (respiratory quotient 1, assumption).
CARBON_DIOXIDE_PER_OXYGEN = CARBON_DIOXIDE / 31.998
# Alkalinity at which nitrifiers run at half speed: 0.5 mol HCO3/m3, Activated Sludge Models 2 and 3
# (recalled, not re-read).
ALKALINITY_HALF = 0.5 * CALCIUM_CARBONATE / 2
# The design areal rate holds at 1-2 mg/L TAN: the film's rate with plenty of ammonia is higher by this.
REFERENCE_TAN = 1.5
# Oxygen at which the digestion of organic matter runs at half speed: 0.2 g/m3, Activated Sludge Models
# (recalled, not re-read).
ORGANIC_OXYGEN_HALF = 0.2
# Break-down of fine solids afloat, at 20 C. Aerobic 0.05-0.12 (recalled, not re-read).
SUSPENDED_DECAY = 0.08
# Carbon dioxide crosses the surface a little slower than oxygen: square root of the diffusivities,
# 1.92 and 2.10 x 1e-9 m2/s at 25 C (recalled, not re-read).
CARBON_DIOXIDE_EXCHANGE = 0.956
# Evaporation is followed down to this share of the usual volume: by then the pump has run dry. Assumption.
SMALLEST_VOLUME_SHARE = 0.5

__all__ = [
    "ALKALINITY_HALF",
    "ALKALINITY_PER_EQUIVALENT",
    "ALKALINITY_PER_NITROGEN",
    "CARBON_DIOXIDE",
    "CARBON_DIOXIDE_EXCHANGE",
    "CARBON_DIOXIDE_PER_ALKALINITY",
    "CARBON_DIOXIDE_PER_OXYGEN",
    "ORGANIC_OXYGEN_HALF",
    "OXYGEN_TO_NITRATE",
    "OXYGEN_TO_NITRITE",
    "REFERENCE_TAN",
    "SMALLEST_VOLUME_SHARE",
    "SUSPENDED_DECAY",
]
