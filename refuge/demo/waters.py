"""One water of the story: a mass balance of nitrogen and alkalinity. mg/L (= g/m3), days, degrees Celsius.

The loads, their timing, the capacity of the filter and the arithmetic of water changes are those of the
program; what is added here is how a film slows down as the water gets cleaner (Monod).
"""

import math
from dataclasses import dataclass, field

from enclosures.chemistry import (
    alkalinity_used_mg,
    ammonia_from_chloramine_mg_l,
    mixed,
    oxygen_saturation_mg_l,
)
from husbandry.bioload import mean_release_days
from refuge.demo.place import ELEVATION_M, SourcePlan

HALF_SATURATION = 0.3  # mg/L as N, both steps; assumption within the usual 0.2 to 1
DESIGN_TAN = 1.5  # mg/L at which a film removes its design rate
PEAK = (DESIGN_TAN + HALF_SATURATION) / DESIGN_TAN
NITRITE_STEP_SPARE = 1.3  # the second step of a mature film keeps ahead of the first (assumption)
LOW_ALKALINITY = 12.0  # mg/L at which nitrification runs at half speed (assumption)
# Shell grit and limestone among the stones give alkalinity back to soft water (assumption).
GRIT_LEVEL, GRIT_PER_DAY = 130.0, 0.03
PK_CARBONIC, CARBON_DIOXIDE_MASS = 6.36, 44.01


@dataclass(slots=True)
class Waste:
    """Nitrogen on its way from meals into the water, in two equal steps, as `bioload.release_share` has it."""

    gut_g: float = 0.0
    loose_g: float = 0.0

    def released_g(self, days: float, temperature_c: float) -> float:
        """What reaches the water as TAN during `days`; it is taken off what is on its way."""
        rate = 2 / mean_release_days(temperature_c)
        left = math.exp(-rate * days)
        before = self.gut_g + self.loose_g
        self.loose_g = (self.loose_g + self.gut_g * rate * days) * left
        self.gut_g *= left
        return before - self.gut_g - self.loose_g


@dataclass(slots=True)
class Water:
    """The state of one circuit's water."""

    volume_m3: float
    tan: float = 0.05
    nitrite: float = 0.02
    nitrate: float = 12.0
    alkalinity: float = 120.0
    waste: Waste = field(default_factory=Waste)

    def pass_time(
        self,
        days: float,
        temperature_c: float,
        tan_capacity_g_day: float,
        nitrite_capacity_g_day: float,
        uptake_per_day: float,
    ) -> None:
        """One short step (a quarter of a day or so): release, both oxidations, loss of nitrate, grit."""
        brake = self.alkalinity / (self.alkalinity + LOW_ALKALINITY)
        scale = brake * PEAK * days / self.volume_m3
        gained = self.waste.released_g(days, temperature_c) / self.volume_m3
        tan = _eaten_down(self.tan + gained, tan_capacity_g_day * scale)
        oxidised = self.tan + gained - tan
        nitrite = _eaten_down(self.nitrite + oxidised, nitrite_capacity_g_day * NITRITE_STEP_SPARE * scale)
        self.nitrate += self.nitrite + oxidised - nitrite
        self.tan, self.nitrite = tan, nitrite
        self.nitrate *= math.exp(-uptake_per_day * days)
        grit = GRIT_PER_DAY * max(0.0, GRIT_LEVEL - self.alkalinity) * days
        self.alkalinity = max(3.0, self.alkalinity - alkalinity_used_mg(oxidised) + grit)

    def renew(self, volume_m3: float, source: SourcePlan) -> None:
        """Replace a volume by source water, made safe with a conditioner that leaves its ammonia."""
        share = min(1.0, volume_m3 / self.volume_m3)
        ammonia = (
            ammonia_from_chloramine_mg_l(source.total_chlorine_mg_l)
            if source.disinfectant == "chloramine"
            else 0.0
        )
        self.tan = mixed(self.tan, ammonia, share)
        self.nitrite = mixed(self.nitrite, 0.0, share)
        self.nitrate = mixed(self.nitrate, source.nitrate_n_mg_l, share)
        self.alkalinity = mixed(self.alkalinity, source.alkalinity_mg_l, share)

    def top_up(self, volume_m3: float, source: SourcePlan) -> None:
        """Replace what evaporated: the salts of the new water stay behind with the old."""
        share = volume_m3 / self.volume_m3
        self.nitrate += share * source.nitrate_n_mg_l
        self.alkalinity += share * source.alkalinity_mg_l

    def ph(self, load_share: float) -> float:
        """pH from alkalinity and the carbon dioxide of a busier or calmer water."""
        carbon_dioxide = (4.0 + 4.0 * min(load_share, 1.6)) / CARBON_DIOXIDE_MASS
        bicarbonate = self.alkalinity / 50.04
        return PK_CARBONIC + math.log10(bicarbonate / carbon_dioxide)


def oxygen_mg_l(temperature_c: float, load_share: float) -> float:
    """Dissolved oxygen of a water with a busy return: near saturation, less under load (assumption)."""
    return oxygen_saturation_mg_l(temperature_c, ELEVATION_M) * (0.95 - 0.14 * min(load_share, 1.6))


def _eaten_down(concentration: float, most: float) -> float:
    """What is left when a film takes up to `most` at Monod's rate during the step (implicit, so stable)."""
    gap = HALF_SATURATION + most - concentration
    left = (math.sqrt(gap * gap + 4 * concentration * HALF_SATURATION) - gap) / 2
    return min(left, concentration)  # rounding must not make nitrogen
