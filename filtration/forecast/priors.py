"""What is not known about a water, and how far it may be off: the prior of every parameter.

Each member of the ensemble carries one standard score z per parameter (normal, mean 0, spread 1). The natural
value is median x exp(spread z) on the log scale, the logistic of logit(median) + spread z for shares, and
median + spread z on the plain scale. Days is the time over which what was learned about it fades.
"Recalled" marks values from memory; "assumption" has no source.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from filtration.forecast.layout import PARAMETER_NAMES
from filtration.nitrification import AMMONIA_GROWTH, LOSS, NITRITE_GROWTH
from filtration.solids import DEFAULT_MODEL
from filtration.survival import HARM_SPREAD

Scale = Literal["log", "share", "plain"]
Floats = NDArray[np.float64]
NEVER = float("inf")


@dataclass(frozen=True)
class Prior:
    """Median and spread of one parameter, why, and the days over which knowledge of it fades."""

    name: str
    scale: Scale
    median: float
    spread: float
    days: float
    source: str


_ECOSIM = "Reichert, ecosim, after River Water Quality Model No. 1; spread: assumption"

_HALF = (
    "0.5 in ecosim; published values lie farther apart than by a third: 1.0 in Activated Sludge Model No. 1; 0.15-0.47 "
    "at pH 7.5-8 and 24 C from 0.0075 mg/L of un-ionized ammonia in Hiatt & Grady 2008. Spread: assumption"
)

PRIORS: tuple[Prior, ...] = (
    Prior("excretion", "log", 1.0, 0.30, 120, "0.092 x protein is for fish; spread for turtles: assumption"),
    Prior("volume", "log", 1.0, 0.04, NEVER, "a tape measure is off by a few per cent: assumption"),
    Prior(
        "film",
        "log",
        1.0,
        0.35,
        180,
        "areal rates 0.2-0.6 g/m2/day, Eding et al. 2006; Timmons & Ebeling (recalled)",
    ),
    Prior("ammonia_growth", "log", AMMONIA_GROWTH, 0.15, NEVER, _ECOSIM),
    Prior("nitrite_growth", "log", NITRITE_GROWTH, 0.15, NEVER, _ECOSIM),
    Prior(
        "loss", "log", LOSS, 0.25, 180, f"{_ECOSIM}; a quarter of it at rest: see filtration.nitrification"
    ),
    Prior("ammonia_half", "log", 0.5, 0.6, NEVER, _HALF),
    Prior("nitrite_half", "log", 0.5, 0.6, NEVER, _HALF),
    Prior(
        "oxygen_half",
        "log",
        1.5,
        0.25,
        NEVER,
        "fits 1 - exp(-0.6 DO) of QUAL2E within 3 % from 2 to 8 mg/L; spread: assumption",
    ),
    Prior(
        "nitrite_ratio",
        "log",
        1.3,
        0.25,
        NEVER,
        "a mature film keeps nitrite low, so its second step is the faster one: assumption",
    ),
    Prior("release", "log", 1.0, 0.30, 60, "fish passes a warm turtle in two to three days: common practice"),
    Prior("air", "log", 1.0, 0.35, 90, "surface and falling return: assumption"),
    Prior(
        "air_carbon_dioxide",
        "log",
        2.0,
        0.70,
        60,
        "420 ppm outdoors, 800 to 1500 in closed rooms (common practice, no source), less where algae take it. Wide, "
        "so that pH readings move the water and not only the meter's error",
    ),
    Prior(
        "hydrolysis_alkalinity",
        "share",
        0.5,
        0.8,
        120,
        "how much of the nitrogen is urea, which gives alkalinity as it turns into ammonia: not known",
    ),
    Prior("denitrification", "log", 0.004, 0.6, 120, "share of nitrate lost a day: assumption"),
    Prior(
        "mess", "share", 0.25, 0.35, 60, "share of a meal's solids that clouds the water at once: assumption"
    ),
    Prior(
        "clearing", "share", 0.12, 0.4, 60, "fine solids caught in one pass through the filter: assumption"
    ),
    Prior("capture", "share", DEFAULT_MODEL.capture_share, 0.35, 180, "see filtration.solids"),
    Prior("digestion", "log", 1.0, 0.40, 180, "see filtration.solids"),
    Prior(
        "airless_loss",
        "log",
        1.2,
        0.5,
        NEVER,
        "about a third of the bacteria left after a day without flow: common practice, no source",
    ),
    Prior("chlorine_harm", "log", 1.0, 0.7, NEVER, "per mg/L of chlorine in the mixed water: assumption"),
    Prior(
        "harm",
        "log",
        1.0,
        HARM_SPREAD,
        NEVER,
        "how hard medicine, frost, heat or drying hit the film, as a power of what is left in the middle; see "
        "filtration.survival",
    ),
    Prior("tan_bias", "log", 1.0, 0.10, 365, "one bottle of reagent reads high or low: assumption"),
    Prior("nitrite_bias", "log", 1.0, 0.10, 365, "as tan_bias"),
    Prior("nitrate_bias", "log", 1.0, 0.12, 365, "as tan_bias"),
    Prior("alkalinity_bias", "log", 1.0, 0.05, 365, "a titration is better than a colour: assumption"),
    Prior("ph_bias", "plain", 0.0, 0.12, 365, "a meter between calibrations: assumption"),
)
assert tuple(prior.name for prior in PRIORS) == PARAMETER_NAMES

_MEDIANS = np.array([prior.median for prior in PRIORS])
_SPREADS = np.array([prior.spread for prior in PRIORS])
_DAYS = np.array([prior.days for prior in PRIORS])
_SHARES = np.array([prior.scale == "share" for prior in PRIORS])
_PLAIN = np.array([prior.scale == "plain" for prior in PRIORS])
_LOGITS = np.log(_MEDIANS[_SHARES] / (1 - _MEDIANS[_SHARES]))
_LOG_MEDIANS = np.log(np.where(_PLAIN, 1.0, _MEDIANS))


def natural(scores: Floats) -> Floats:
    """Parameters in their own units from standard scores; shape (..., parameters) in and out."""
    moved = _SPREADS * scores
    values: Floats = np.exp(_LOG_MEDIANS + moved)
    values[..., _SHARES] = 1 / (1 + np.exp(-(_LOGITS + moved[..., _SHARES])))
    values[..., _PLAIN] = _MEDIANS[_PLAIN] + moved[..., _PLAIN]
    return values


def medians() -> Floats:
    """The parameters of the middle member, shape (parameters,)."""
    return natural(np.zeros(len(PRIORS)))


def drifted(scores: Floats, days: float, noise: Floats) -> Floats:
    """Scores `days` later: what was learned fades towards the prior (mean-reverting walk).

    scores, noise: shape (members, parameters); noise is standard normal.
    """
    kept = np.exp(-days / _DAYS)
    return np.asarray(kept * scores + np.sqrt(1 - kept**2) * noise)
