"""What the bacteria of a filter can carry. Areas in m2, volumes in m3, loads in g TAN per day, time in days.

"Recalled, not re-read" marks a value from memory that has not been compared with its source again.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from refuge.errors import OutOfRange, checked, positive

# Typical design value at 1-2 mg/L TAN (range 0.2-0.6): Eding et al. 2006; Timmons & Ebeling (recalled,
# not re-read). Read for comparison: 0.285 on plastic chips at a moderate load (Harwanto et al. 2011).
AREAL_RATE_22C = 0.3
# A film is limited by diffusion as well as growth: between no effect from 15 to 20 C (organic-matter and
# biofilter study, Aquacult. Eng. 2005) and 1.047 per degree (QUAL2E, nitrite step). Assumption within.
FILM_THETA = 1.04
# 1 - exp(-0.6 DO) as in QUAL2E/SWAT, scaled to 1 at the oxygen of a well-run system (assumption).
REFERENCE_OXYGEN_MG_L = 6.0
# Above this nothing published here supports a further rise, and warm water holds less oxygen: held level.
LEVEL_ABOVE_C = 30.0
COLDEST_C, WARMEST_C = 0.0, 40.0

# Two-step growth. Rates at 20 C [1/day]: maximum growth 0.8 and 1.1, respiration 0.10 plus death 0.10 for
# both (Reichert, ecosim, after River Water Quality Model No. 1).
AMMONIA_GROWTH, NITRITE_GROWTH, LOSS = 0.8, 1.1, 0.2
# Bacteria without food turn themselves down: their loss falls with their speed, to this share of it at rest. So
# 0.05 a day at 20 C, the decay of autotrophs in Activated Sludge Model No. 1 (read; 0.04 in the design notes of
# Ekama, read in a program made after them). Starved cultures lose even less: Nitrosomonas europaea oxidised
# ammonia almost as well after 342 days without any, Nitrosospira briensis only a little slower after ten (Bollmann et
# al. 2005, Appl. Environ. Microbiol. 71:1276), lake nitrifiers recovered after two months (French & Bollmann 2015,
# Life 5:1396; abstracts read).
RESTING_SHARE = 0.25
# Activation energies [J/mol] (Vannecke & Volcke, appendix), used for the losses too (assumption).
AMMONIA_ENERGY, NITRITE_ENERGY, GAS_CONSTANT = 68_000.0, 44_000.0, 8.31
# Growth at start-up: half saturation 0.5 mg/L for nitrogen and oxygen (same source), at about 1 mg N/L and
# 6 mg O2/L (assumption): 0.667 x 0.923.
START_UP_LIMITATION = (1.0 / 1.5) * (6.0 / 6.5)
# What of the loss goes with the speed, per unit of speed, so that all of LOSS is lost at the start-up's speed.
WORKING_SHARE = (1 - RESTING_SHARE) / START_UP_LIMITATION
# Share of the final population on day 0. New stone, or stone and sludge moved from a mature filter.
# Assumption, chosen so that a new filter at 22-25 C takes four to six weeks (FAO 589: one to six weeks).
SEED_NEW, SEED_MOVED = 0.001, 0.1
MATURE_SHARE = 0.9


@dataclass(frozen=True)
class Medium:
    """A filter medium: specific surface [m2/m3 of bed] and void fraction of the bed."""

    key: str
    name: str
    specific_surface_m2_m3: float
    void_fraction: float
    source: str
    how_known: str


_SUPPLIER = "Water-garden supplier's media list, read at second hand"
_TRICKLING = "Trickling-filter handbooks (recalled, not re-read)"
_FAO = "Somerville et al. 2014, FAO 589, media table (recalled, not re-read)"

MEDIA: tuple[Medium, ...] = (
    Medium(
        "boulders",
        "Boulders, 100-600 mm",
        13,
        0.45,
        f"{_SUPPLIER}; void: {_TRICKLING}",
        "read; void recalled",
    ),
    Medium(
        "river_rock",
        "River rock, 25-75 mm",
        55,
        0.42,
        f"40-70 m2/m3, void 0.40-0.45: {_TRICKLING}",
        "recalled",
    ),
    Medium(
        "gravel", "Gravel, 10-13 mm", 236, 0.40, f"{_SUPPLIER}; void: {_TRICKLING}", "read; void recalled"
    ),
    Medium(
        "lava_rock",
        "Lava rock",
        282,
        0.50,
        f"{_SUPPLIER} (void there 0.20); void: {_TRICKLING}",
        "read; void recalled",
    ),
    Medium(
        "pumice",
        "Pumice",
        250,
        0.50,
        f"200-300 m2/m3: {_FAO}; void taken as for lava rock",
        "recalled; void assumed",
    ),
    Medium(
        "expanded_clay",
        "Expanded clay",
        275,
        0.45,
        f"250-300 m2/m3: {_FAO}; void assumed",
        "recalled; void assumed",
    ),
    Medium("ceramic", "Ceramic saddles", 465, 0.68, f"{_SUPPLIER}: 465-750 m2/m3, low end", "read"),
    Medium("plastic_balls", "Plastic balls", 328, 0.50, f"{_SUPPLIER}: 328-525 m2/m3, low end", "read"),
    Medium("plastic_chips", "Plastic chips, moving bed", 735, 0.90, _SUPPLIER, "read"),
)


def medium(key: str) -> Medium:
    """The medium with this key; OutOfRange if there is none."""
    for entry in MEDIA:
        if entry.key == key:
            return entry
    raise OutOfRange("key", key, "one of " + ", ".join(entry.key for entry in MEDIA))


def media_area_m2(layers: Iterable[tuple[float, float]]) -> float:
    """Surface for bacteria [m2] of layers given as (bed volume in m3, specific surface in m2/m3)."""
    return sum(
        checked("volume_m3", volume, 0) * checked("specific_surface_m2_m3", surface, 0)
        for volume, surface in layers
    )


def oxygen_factor(oxygen_mg_l: float) -> float:
    """How oxygen limits the rate: (1 - exp(-0.6 DO)), scaled to 1 at 6 mg/L. 0 to 30 mg/L."""
    return math.expm1(-0.6 * checked("oxygen_mg_l", oxygen_mg_l, 0, 30)) / math.expm1(
        -0.6 * REFERENCE_OXYGEN_MG_L
    )


def within_range(temperature_c: float) -> float:
    """A water temperature as the sums take it, 0 to 40 C. Under ice or in a heat wave their end values hold."""
    return min(max(temperature_c, COLDEST_C), WARMEST_C)


def areal_rate_g_m2_day(temperature_c: float, oxygen_mg_l: float | None = None) -> float:
    """TAN that a mature film takes up [g/m2/day]; 0 to 40 C, level from 30 C upwards.

    Without an oxygen reading the water is taken as well aerated (6 mg/L).
    """
    effective = min(checked("temperature_c", temperature_c, COLDEST_C, WARMEST_C), LEVEL_ABOVE_C)
    rate = AREAL_RATE_22C * math.pow(FILM_THETA, effective - 22)
    return rate if oxygen_mg_l is None else rate * oxygen_factor(oxygen_mg_l)


def capacity_tan_g_day(
    area_m2: float, temperature_c: float, maturity: float = 1.0, oxygen_mg_l: float | None = None
) -> float:
    """TAN that a filter can carry [g/day]: area x areal rate x maturity (0 to 1)."""
    ready = checked("maturity", maturity, 0, 1)
    return checked("area_m2", area_m2, 0) * areal_rate_g_m2_day(temperature_c, oxygen_mg_l) * ready


def load_share(tan_g_day: float, capacity_g_day: float) -> float:
    """Load over capacity; above 1 the filter cannot carry it. Infinity for some load on no capacity."""
    load, capacity = checked("tan_g_day", tan_g_day, 0), checked("capacity_g_day", capacity_g_day, 0)
    if capacity == 0:
        return math.inf if load else 0.0
    return load / capacity


@dataclass(frozen=True)
class StartUp:
    """Shares (0 to 1) of the final bacteria of each step. Nitrite piles up while the second lags behind."""

    ammonia_oxidizers: float
    nitrite_oxidizers: float


def start_up(days_running: float, temperature_c: float, seeded: bool = False) -> StartUp:
    """Both groups of bacteria `days_running` after ammonia first reached the filter; 0 to 40 C.

    Ammonia oxidizers grow logistically. Nitrite oxidizers do so in step with the nitrite that reaches them:
    d(logit n)/dt = r_n a(t), which has a closed form. Rates and assumptions: see the constants.
    """
    return grown_from(
        SEED_MOVED if seeded else SEED_NEW, checked("days_running", days_running, 0), temperature_c
    )


def grown_from(share: float, days: float, temperature_c: float) -> StartUp:
    """Both groups `days` after each was `share` (above 0, below 1) of its final number; 0 to 40 C."""
    seed, after = positive("share", share, 1 - 1e-9), checked("days", days, 0)
    rate_a, rate_n = _growth_rates(temperature_c)
    fed_days = _log_sum(math.log(1 - seed), math.log(seed) + rate_a * after) / rate_a
    return StartUp(_logistic(seed, rate_a * after), _logistic(seed, rate_n * fed_days))


def maturity(days_running: float, temperature_c: float, seeded: bool = False) -> float:
    """Share (0 to 1) of its capacity that a new filter can carry all the way to nitrate: the slower step."""
    state = start_up(days_running, temperature_c, seeded)
    return min(state.ammonia_oxidizers, state.nitrite_oxidizers)


def carrying_share(
    state: str, days_in_state: float, temperature_c: float, *, seeded: bool, disturbed_share: float
) -> float:
    """Share (0 to 1) of its mature capacity that a filter carries today, by its state and the days in it.

    disturbed_share: the least that a disturbed one still carries. 0 for one that does not run.
    """
    if state not in {"cycling", "mature", "disturbed"}:
        return 0.0
    if state == "mature":
        return 1.0
    grown = maturity(days_in_state, temperature_c, seeded)
    return max(grown, disturbed_share) if state == "disturbed" else grown


def days_to_mature(temperature_c: float, seeded: bool = False, share: float = MATURE_SHARE) -> float:
    """Days until `maturity` reaches `share` (above 0, at most 0.999); 0 when it begins there."""
    return days_until_grown(SEED_MOVED if seeded else SEED_NEW, temperature_c, share)


def days_until_grown(seed: float, temperature_c: float, share: float = MATURE_SHARE) -> float:
    """The same from `seed` (above 0) of both final numbers of bacteria on day 0."""
    seed, goal = positive("seed", seed, 1), positive("share", share, 0.999)
    if goal <= seed:
        return 0.0
    rate_a, rate_n = _growth_rates(temperature_c)
    distance = math.log(goal / (1 - goal)) - math.log(seed / (1 - seed))
    fed_days = distance / rate_n
    nitrite_days = math.log((math.exp(rate_a * fed_days) - 1 + seed) / seed) / rate_a
    return max(distance / rate_a, nitrite_days)


def _growth_rates(temperature_c: float) -> tuple[float, float]:
    celsius = min(checked("temperature_c", temperature_c, COLDEST_C, WARMEST_C), LEVEL_ABOVE_C)
    return (
        (AMMONIA_GROWTH * START_UP_LIMITATION - LOSS) * _arrhenius(AMMONIA_ENERGY, celsius),
        (NITRITE_GROWTH * START_UP_LIMITATION - LOSS) * _arrhenius(NITRITE_ENERGY, celsius),
    )


def _arrhenius(energy: float, celsius: float) -> float:
    """Rate relative to 20 C: exp(Ea (T - Tref) / (R T Tref)), temperatures in kelvin."""
    kelvin = celsius + 273.15
    return math.exp(energy * (celsius - 20) / (GAS_CONSTANT * kelvin * 293.15))


def _logistic(start: float, growth: float) -> float:
    return 1 / (1 + (1 - start) / start * math.exp(-growth))


def _log_sum(a: float, b: float) -> float:
    """log(exp a + exp b) without overflow."""
    return max(a, b) + math.log1p(math.exp(-abs(a - b)))
