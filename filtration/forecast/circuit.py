"""The water that is forecast: its sizes, and what is believed about it at the start."""

import math
from dataclasses import dataclass

from enclosures.chemistry import oxygen_saturation_mg_l
from filtration.nitrification import (
    AMMONIA_GROWTH,
    LOSS,
    MATURE_SHARE,
    NITRITE_GROWTH,
    RESTING_SHARE,
    SEED_MOVED,
    SEED_NEW,
    WORKING_SHARE,
    areal_rate_g_m2_day,
)
from husbandry.bioload import mean_release_days
from refuge.errors import checked, positive

LARGEST_M3 = 1e5
# Of what no test of a water has read yet: nine in ten within a factor of 7. Assumption.
UNREAD_SPREAD = 1.2
# Spread of the films' log-odds where the load keeps them full, and where it does not: what is left of fatter times is
# not known. Assumption.
FULL_FILM_SPREAD, SPARE_FILM_SPREAD = 0.7, 1.2


@dataclass(frozen=True)
class Circuit:
    """One shared body of water and its filters together.

    volume_m3: all water that goes round. media_area_m2: surface for bacteria, all running filters.
    flow_m3_h: through the filters. surface_exchange_per_day: oxygen through the surface [1/day], about the
    transfer velocity (1 m/day in still rooms, assumption) over the depth. air_pump_per_day: as much again for
    air stones. fall_recovery: share of the missing oxygen that the falling return makes up in one pass
    (assumption). elevation_m: height of the site.
    """

    volume_m3: float
    media_area_m2: float
    flow_m3_h: float
    surface_exchange_per_day: float = 1.5
    air_pump_per_day: float = 0.0
    fall_recovery: float = 0.3
    elevation_m: float = 0.0

    def __post_init__(self) -> None:
        positive("volume_m3", self.volume_m3, LARGEST_M3)
        checked("media_area_m2", self.media_area_m2, 0, 1e7)
        checked("flow_m3_h", self.flow_m3_h, 0, 1e5)
        checked("surface_exchange_per_day", self.surface_exchange_per_day, 0, 500)
        checked("air_pump_per_day", self.air_pump_per_day, 0, 500)
        checked("fall_recovery", self.fall_recovery, 0, 1)
        checked("elevation_m", self.elevation_m, -500, 6000)


@dataclass(frozen=True)
class Beginning:
    """What is believed at the start, and how loosely. Concentrations in mg/L, nitrogen as N.

    Bacteria as shares of a full film (0 to 1). `oxygen` None: in balance with the air. The spreads are standard
    deviations of logarithms (0.5: two times out of three within a factor of 1.65), for the films of log-odds.
    unread: names of tan, nitrite, nitrate, alkalinity and ph that nobody ever read here; they vary by UNREAD_SPREAD.
    """

    temperature_c: float = 24.0
    tan: float = 0.1
    nitrite: float = 0.1
    nitrate: float = 10.0
    alkalinity: float = 120.0
    ph: float = 7.6
    oxygen: float | None = None
    ammonia_oxidizers: float = 0.5
    nitrite_oxidizers: float = 0.5
    gut_nitrogen_g: float = 0.0
    excreta_nitrogen_g: float = 0.0
    gut_solids_g: float = 0.0
    suspended: float = 0.0
    easy_sediment_g: float = 0.0
    inert_sediment_g: float = 0.0
    media_solids_g: float = 0.0
    concentration_spread: float = 0.5
    film_spread: float = FULL_FILM_SPREAD
    solids_spread: float = 0.3
    unread: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        checked("temperature_c", self.temperature_c, 0, 40)
        for name in ("tan", "nitrite", "nitrate", "alkalinity", "gut_nitrogen_g", "excreta_nitrogen_g"):
            checked(name, getattr(self, name), 0)
        for name in ("suspended", "easy_sediment_g", "inert_sediment_g", "media_solids_g", "gut_solids_g"):
            checked(name, getattr(self, name), 0)
        for name in ("ammonia_oxidizers", "nitrite_oxidizers"):
            checked(name, getattr(self, name), 0, 1)
        for name in ("concentration_spread", "film_spread", "solids_spread"):
            checked(name, getattr(self, name), 0, 5)
        checked("ph", self.ph, 4, 10)

    def spread_of(self, name: str) -> float:
        """How loosely a concentration is believed."""
        return UNREAD_SPREAD if name in self.unread else self.concentration_spread

    @property
    def oxygen_mg_l(self) -> float:
        return oxygen_saturation_mg_l(self.temperature_c) if self.oxygen is None else self.oxygen


def new_filter(temperature_c: float = 24.0, *, seeded: bool = False, alkalinity: float = 150.0) -> Beginning:
    """Clean water over new stone, or over stone and sludge moved from a mature filter."""
    seed = SEED_MOVED if seeded else SEED_NEW
    return Beginning(
        temperature_c=temperature_c,
        tan=0.02,
        nitrite=0.01,
        nitrate=2.0,
        alkalinity=alkalinity,
        ammonia_oxidizers=seed,
        nitrite_oxidizers=seed,
    )


def settled(
    circuit: Circuit,
    tan_g_day: float,
    temperature_c: float,
    *,
    nitrate: float = 20.0,
    alkalinity: float = 120.0,
) -> Beginning:
    """A mature water that has carried `tan_g_day` for months: bacteria as many as that load feeds.

    In balance each group grows as fast as it is lost; from that follows the share of its full speed it works at. A film
    is not taken as fuller than what counts as mature.
    """
    load = checked("tan_g_day", tan_g_day, 0)
    full = max(circuit.media_area_m2 * areal_rate_g_m2_day(temperature_c), 1e-9)
    waiting = load * mean_release_days(temperature_c) / 2
    first, second = (_film_for(load / full, growth) for growth in (AMMONIA_GROWTH, NITRITE_GROWTH))
    return Beginning(
        temperature_c=temperature_c,
        tan=0.2,
        nitrite=0.1,
        nitrate=nitrate,
        alkalinity=alkalinity,
        ammonia_oxidizers=first,
        nitrite_oxidizers=second,
        film_spread=FULL_FILM_SPREAD if min(first, second) >= MATURE_SHARE else SPARE_FILM_SPREAD,
        gut_nitrogen_g=waiting,
        excreta_nitrogen_g=waiting,
    )


def _film_for(load_share: float, growth: float) -> float:
    speed = RESTING_SHARE * LOSS / (growth - WORKING_SHARE * LOSS)
    return min(max(load_share / speed, 0.02), MATURE_SHARE)


def log_odds(share: float) -> float:
    """ln(x / (1 - x)) of a share strictly between 0 and 1, which it is held to."""
    held = min(max(share, 1e-6), 1 - 1e-6)
    return math.log(held / (1 - held))
