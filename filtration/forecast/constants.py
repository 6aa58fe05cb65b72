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
# Alkalinity at which ammonia oxidisers run at half speed: 0.1 mol HCO3/m3, which Activated Sludge Model 2 has where
# it only keeps bicarbonate from being used up (recalled, not re-read). Its 0.5 for nitrifiers stands in for pH there.
ALKALINITY_HALF = 0.1 * CALCIUM_CARBONATE / 2
# Acid water: both steps run at half speed at this pH, by 1 / (1 + H / K), relative to REFERENCE_PH. Chosen to lie
# along 2.35^(pH - 7.2), Ekama's design notes (read in a program made after them), within 0.12 from 5.5 to 7.2, and
# next to nothing at pH 5, where ammonia oxidation was found to stop (river water, Ecohydrology & Hydrobiology 19:54,
# 2019, abstract read).
ACID_HALF_PH, REFERENCE_PH = 6.4, 7.5
# Un-ionized ammonia [mg N/L] that halves the speed of each step: 46 and 290-1600 micromol/L, of which the middle,
# Park & Bae 2009, Process Biochem. 44:631 (abstract read, its copy prints mM: taken as a slip for micromol). Within
# 0.1-1.0 and 10-150 mg/L where inhibition begins, Anthonisen et al. 1976 (recalled). The plain form, rate times
# K / (K + S), is that of the nitrite step in Hiatt & Grady 2008, Water Environ. Res. 80:2145 (read in a program).
UNIONIZED_HALF_NITRITE = 0.64
UNIONIZED_HALF_AMMONIA = 9.5
# The design areal rate holds at 1-2 mg/L TAN: the film's rate with plenty of ammonia is higher by this.
REFERENCE_TAN = 1.5
# Oxygen at which the digestion of organic matter runs at half speed: 0.2 g/m3, Activated Sludge Models
# (recalled, not re-read).
ORGANIC_OXYGEN_HALF = 0.2
# Nitrogen that solids set free as they are digested, g a g dry: droppings of fish hold a few hundredths (recalled,
# not re-read), bacteria 0.114 (CH1.8O0.5N0.2). It keeps the bacteria of a water that is not fed alive. Assumption.
SOLIDS_NITROGEN = 0.05
# Break-down of fine solids afloat, at 20 C. Aerobic 0.05-0.12 (recalled, not re-read).
SUSPENDED_DECAY = 0.08
# Carbon dioxide crosses the surface a little slower than oxygen: square root of the diffusivities,
# 1.92 and 2.10 x 1e-9 m2/s at 25 C (recalled, not re-read).
CARBON_DIOXIDE_EXCHANGE = 0.956
# Evaporation is followed down to this share of the usual volume: by then the pump has run dry. Assumption.
SMALLEST_VOLUME_SHARE = 0.5

__all__ = [
    "ACID_HALF_PH",
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
    "REFERENCE_PH",
    "REFERENCE_TAN",
    "SMALLEST_VOLUME_SHARE",
    "SOLIDS_NITROGEN",
    "SUSPENDED_DECAY",
    "UNIONIZED_HALF_AMMONIA",
    "UNIONIZED_HALF_NITRITE",
]
