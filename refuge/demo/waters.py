"""One water of the story: a mass balance of nitrogen and alkalinity. mg/L (= g/m3), days, degrees Celsius.

The loads, their timing, the capacity of the filter and the arithmetic of water changes are those of the program;
what is added here is how a film slows down as the water gets cleaner (Monod), and carbon dioxide. No water is like
another: each has a nature that nobody measures, and the program has to find out. It is told on purpose by other,
simpler sums than the forecast's, so that the forecast can be held against it.
"""

import math
import random
from dataclasses import dataclass, field

from enclosures.chemistry import (
    ALKALINITY_PER_NITROGEN,
    alkalinity_used_mg,
    ammonia_from_chloramine_mg_l,
    mixed,
    oxygen_saturation_mg_l,
)
from husbandry.bioload import mean_release_days
from refuge.demo.place import ELEVATION_M
from refuge.demo.plans import SourcePlan

DESIGN_TAN = 1.5  # mg/L at which a film removes its design rate
LOW_ALKALINITY = 12.0  # mg/L at which nitrification runs at half speed (assumption)
# Shell grit and limestone among the stones give alkalinity back to soft water (assumption).
GRIT_LEVEL, GRIT_PER_DAY = 130.0, 0.015
# Hard water sheds chalk (assumption).
CHALK_LEVEL, CHALK_PER_DAY = 150.0, 0.03
# Exchange with the air through the surface, and share of the difference gone when the return falls in (assumptions).
SURFACE_PER_DAY, FALL_SHARE = 1.2, 0.3
PK_CARBONIC, CARBON_DIOXIDE_MASS = 6.36, 44.01
# Carbon dioxide for each mg/L of nitrogen: two moles a mole oxidised; what is digested of the food it came in
# (about 4 g of oxygen a g of nitrogen, assumption).
CO2_OXIDISED, CO2_DIGESTED = 2 * CARBON_DIOXIDE_MASS / 14.007, 4 * CARBON_DIOXIDE_MASS / 31.998


@dataclass(frozen=True, slots=True)
class Nature:
    """What is true of one water and unknown to its keepers. The ranges are assumptions, the same for every water.

    excretion, surface: what the animals give off and the living surface, over what the sums say. half_ammonia,
    half_nitrite: mg/L as N at which a film works at half speed (usual: 0.2 to 1). spare: the second step over the first.
    urea: share of the nitrogen that comes as urea, which gives alkalinity. room_co2: mg/L in balance with the air of
    the room. aeration: exchange with the air, over what surface and return let expect.
    """

    excretion: float = 1.0
    surface: float = 1.0
    half_ammonia: float = 0.4
    half_nitrite: float = 0.4
    spare: float = 1.3
    urea: float = 0.5
    room_co2: float = 2.2
    aeration: float = 1.0

    @classmethod
    def drawn(cls, rng: random.Random) -> "Nature":
        return cls(
            excretion=rng.lognormvariate(0, 0.15),
            surface=rng.lognormvariate(0, 0.2),
            half_ammonia=0.4 * rng.lognormvariate(0, 0.4),
            half_nitrite=0.4 * rng.lognormvariate(0, 0.4),
            spare=1.3 * rng.lognormvariate(0, 0.15),
            urea=rng.uniform(0.3, 0.8),
            room_co2=2.2 * rng.lognormvariate(0, 0.3),
            aeration=rng.lognormvariate(0, 0.3),
        )


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
    carbon_dioxide: float = 2.0
    flow_m3_day: float = 0.0
    waste: Waste = field(default_factory=Waste)
    nature: Nature = Nature()

    def feed(self, tan_g: float) -> None:
        """Food eaten, by the ammonia [g N] that the program expects from it."""
        self.waste.gut_g += tan_g * self.nature.excretion

    def pass_time(
        self,
        days: float,
        temperature_c: float,
        tan_capacity_g_day: float,
        nitrite_capacity_g_day: float,
        uptake_per_day: float,
    ) -> None:
        """One short step (a quarter of a day or so): release, both oxidations, loss of nitrate, alkalinity, CO2."""
        own = self.nature
        brake = self.alkalinity / (self.alkalinity + LOW_ALKALINITY)
        scale = own.surface * brake * days / self.volume_m3
        gained = self.waste.released_g(days, temperature_c) / self.volume_m3
        tan = _eaten_down(self.tan + gained, tan_capacity_g_day * scale, own.half_ammonia)
        oxidised = self.tan + gained - tan
        most = nitrite_capacity_g_day * own.spare * scale
        nitrite = _eaten_down(self.nitrite + oxidised, most, own.half_nitrite)
        self.nitrate += self.nitrite + oxidised - nitrite
        self.tan, self.nitrite = tan, nitrite
        self.nitrate *= math.exp(-uptake_per_day * days)
        given = GRIT_PER_DAY * max(0.0, GRIT_LEVEL - self.alkalinity) * days
        given -= CHALK_PER_DAY * max(0.0, self.alkalinity - CHALK_LEVEL) * days
        given += own.urea * gained * ALKALINITY_PER_NITROGEN / 2  # one equivalent of the two that a mole uses
        self.alkalinity = max(3.0, self.alkalinity - alkalinity_used_mg(oxidised) + given)
        self._breathe(days, CO2_OXIDISED * oxidised + CO2_DIGESTED * gained)

    def _breathe(self, days: float, made: float) -> None:
        """Carbon dioxide [mg/L] made evenly through the step, and exchanged with the air."""
        own = self.nature
        rate = own.aeration * (SURFACE_PER_DAY + FALL_SHARE * self.flow_m3_day / self.volume_m3)
        balance = own.room_co2 + made / days / rate
        self.carbon_dioxide = balance + (self.carbon_dioxide - balance) * math.exp(-rate * days)

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

    @property
    def ph(self) -> float:
        """pH from alkalinity and free carbon dioxide."""
        bicarbonate = self.alkalinity / 50.04
        return PK_CARBONIC + math.log10(bicarbonate * CARBON_DIOXIDE_MASS / self.carbon_dioxide)


def oxygen_mg_l(temperature_c: float, load_share: float) -> float:
    """Dissolved oxygen of a water with a busy return: near saturation, less under load (assumption)."""
    return oxygen_saturation_mg_l(temperature_c, ELEVATION_M) * (0.95 - 0.14 * min(load_share, 1.6))


def _eaten_down(concentration: float, design: float, half: float) -> float:
    """What is left when a film that takes `design` mg/L at its design concentration works at Monod's rate during the
    step (implicit, so stable)."""
    gap = half + design * (DESIGN_TAN + half) / DESIGN_TAN - concentration
    left = (math.sqrt(gap * gap + 4 * concentration * half) - gap) / 2
    return min(left, concentration)  # rounding must not make nitrogen
