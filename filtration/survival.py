"""How many bacteria of a filter live on after something happened to it. Shares 0 to 1, hours, mg/L, degrees Celsius.

Both groups are taken alike: no source read tells them apart well enough, though the second, which eats nitrite, is the
slower to come back (see filtration.nitrification). "Read" means the abstract was read.
"""

import math
from dataclasses import dataclass

from filtration.nitrification import SEED_NEW, grown_from
from refuge.errors import OutOfRange, checked

# Standing water in a bed: hours until its oxygen is gone, and what is lost a day from then on: median and spread of its
# logarithm. "About a third left after a day": common practice, no source. The forecast uses the same.
BED_OXYGEN_HOURS = 1.5
AIRLESS_LOSS, AIRLESS_SPREAD = 1.2, 0.5
# Loss per mg/L of total chlorine in the mixed water, median and spread of its logarithm: assumption; the forecast uses
# the same. Compare: chloramine killed Nitrosomonas europaea at 0.00024 (pH 9) to 0.0025 L/mg a minute (pH 7), counted
# by living cells (Oldenburg, Regan, Harrington & Noguera 2002, J. AWWA 94(10):100, read): in a day 0.35 to 3.6 per mg/L.
CHLORINE_HARM, CHLORINE_SPREAD = 1.0, 0.7
# Without water but still damp: nothing lost for some hours, then so much a day. Assumption, held against the
# little that came through real drying: 10 % or less (Vogelsang and others 1999, Process Biochem., gel beads, read).
DAMP_HOURS = 4.0
DRYING_LOSS, DRYING_SPREAD = 2.0, 0.7
# How hard a medicine, frost, heat or drying hit a film: spread of the logarithm of the power to which its middle is
# taken, so that nine in ten members keep 0.11 to 0.89 where the middle is 0.6. Assumption; the forecast uses the same.
HARM_SPREAD = 0.9
NEARLY_ALL = 0.999
NINETY_PERCENT = 1.645  # standard deviations to either side that hold 90 % of a normal distribution


@dataclass(frozen=True, slots=True)
class Left:
    """Share (0 to 1) of the bacteria that live on: the middle, and 90 % range about it. how: where it comes from."""

    low: float
    middle: float
    high: float
    how: str


_STANDING = (
    "Oxygen in the bed lasts about an hour and a half; after that about a third is left a day later. "
    "Common practice, no source."
)
_CHLORINE = (
    "Loss by the chlorine in the mixed water, assumption. A day of chloramine at pH 7 to 9 killed as much in the "
    "laboratory (Oldenburg and others 2002)."
)
_DRYING = (
    "Damp stones keep their film for some hours, then lose it within days: assumption. Dried right through, a tenth or "
    "less worked again (Vogelsang and others 1999)."
)
FROZEN = Left(
    0.1,
    0.6,
    0.9,
    "60 % of the work was left after freezing in the laboratory (Vogelsang and others 1999, gel beads); how much in a bed "
    "of stone is not known: assumption.",
)
OVERHEATED = Left(
    0.05, 0.4, 0.9, "Above 40 °C the bacteria of filters die; how fast is not known: assumption."
)
MEDICATED = Left(
    0.05,
    0.6,
    1.0,
    "It depends on the medicine. In filters of fish farms formalin left the work alone at 167 mg/L and harmed it at 300, "
    "benzalkonium chloride took 18 to 63 %, hydrogen peroxide nearly all for a day (Schwartz and others 2000); "
    "oxytetracycline at 50 mg/L stopped it within a week (Klaver & Matthews 1994). The middle is an assumption.",
)


def stood_still(hours: float) -> Left:
    """After so many hours without flow (0 or more): the water in the bed runs out of oxygen."""
    airless = max(checked("hours", hours, 0) - BED_OXYGEN_HOURS, 0.0)
    return _decayed(airless / 24, AIRLESS_LOSS, AIRLESS_SPREAD, _STANDING)


def fell_dry(hours: float) -> Left:
    """After so many hours (0 or more) without water over the media."""
    drying = max(checked("hours", hours, 0) - DAMP_HOURS, 0.0)
    return _decayed(drying / 24, DRYING_LOSS, DRYING_SPREAD, _DRYING)


def chlorinated(mixed_mg_l: float) -> Left:
    """After total chlorine of so many mg/L (0 or more) in the water once it is mixed."""
    return _decayed(checked("mixed_mg_l", mixed_mg_l, 0), CHLORINE_HARM, CHLORINE_SPREAD, _CHLORINE)


def _decayed(dose: float, rate: float, spread: float, how: str) -> Left:
    """exp(-rate x dose), with a rate known to within a lognormal spread."""
    fast, slow = (rate * math.exp(side * NINETY_PERCENT * spread) for side in (1, -1))
    return Left(math.exp(-fast * dose), math.exp(-rate * dose), math.exp(-slow * dose), how)


def left_after(kind: str, *, hours: float | None = None, chlorine_mg_l: float | None = None) -> Left:
    """What is left after a kind of harm: 'no_flow' and 'dry' by their hours, 'chlorine' by mg/L in the mixed water.

    Raises OutOfRange for another kind than these and 'medicine', 'frost', 'heat'.
    """
    if kind == "no_flow":
        return stood_still(hours or 0.0)
    if kind == "dry":
        return fell_dry(hours or 0.0)
    if kind == "chlorine":
        return chlorinated(chlorine_mg_l or 0.0)
    fixed = {"medicine": MEDICATED, "frost": FROZEN, "heat": OVERHEATED}
    if kind not in fixed:
        raise OutOfRange("kind", kind, "one of no_flow, dry, chlorine, " + ", ".join(fixed))
    return fixed[kind]


def regrown(left: float, days: float, temperature_c: float) -> float:
    """Share (0 to 1) of a full film `days` after only `left` of it was alive, by the slower group; 0 to 40 C.

    It grows back as a new filter grows; from nothing, as from new stone.
    """
    share = checked("left", left, 0, 1)
    if share > NEARLY_ALL:
        return 1.0
    grown = grown_from(max(share, SEED_NEW), days, temperature_c)
    return max(share, min(grown.ammonia_oxidizers, grown.nitrite_oxidizers))


def carried_after_harm(ready: float, state: str, left: float | None) -> float:
    """Share of its mature capacity that a filter carries: `ready` by its state, and `left` of its bacteria after harm.

    left: None where nothing is known to have happened. A disturbed filter is taken by what happened instead of by the
    share that a disturbed one usually carries.
    """
    if left is None:
        return ready
    return left if state == "disturbed" else ready * left
