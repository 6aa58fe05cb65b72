"""Sediment in the void of an upflow filter. Dry matter in g, settled sediment in litres, time in days.

Two parts: one that bacteria digest slowly in the airless void, and one that stays until it is drained.
Of both a share is still loose: what has just settled holds the most water, and packs under what follows.
The numbers below are assumptions within the ranges named; what is seen at each drain corrects them.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from husbandry.bioload import DIGESTIBLE_SHARE
from refuge.errors import checked, positive

LONGEST_PROJECTION_DAYS = 3652.5
SMALLEST_FACTOR, LARGEST_FACTOR = 0.25, 4.0
# Water that goes with each litre of sediment until it runs clear: assumption, as by emptying a void whose sediment
# fills a third of it. It counts like so many drains of a filter's own.
USUAL_LET_OUT_RATIO, USUAL_RATIO_COUNTS = 3.0, 2
# Part of a surprise that is taken over from a depth, and from litres let out, whose ratio to the sediment varies by
# half from one drain to the next (assumption).
DEPTH_WEIGHT, LET_OUT_WEIGHT = 0.5, 0.25


@dataclass(frozen=True)
class SedimentModel:
    """Constants of the void; a refuge may override any of them.

    capture_share: of the solids that reach the filter, the part that settles in the void. Assumption: whole
      faeces sink at 0.7-6 cm/s (read, fish farms), far faster than water rises in a barrel (about 0.2 cm/s),
      but what breaks up does not settle. The rest goes into the media. One figure for every filter, although
      `filtration.hydraulics.settling` has a share by each one's speed of rise (0.79 at 1 mm/s, 0.60 at 4), because
      - the size of the waste is assumed there as well, and leaves more doubt (0.27 to 0.92 at 4 mm/s) than lies
        between one filter and the next;
      - what each drain showed is kept as a factor on this figure: another would correct a second time what the
        factor holds already, and the forecast takes its members' capture over this one;
      - a flow that falls as the stones clog would, at its next bucket test, rewrite what settled weeks before.
      It could be used once records of drains name the share they were predicted with.
    inert_share: the part that is not digested within months (see DIGESTIBLE_SHARE).
    decay_per_day_20c: digestion of the other part. Aerobic 0.05-0.12 (recalled, not re-read); the void is
      short of oxygen, taken as about a third.
    theta: change of that rate per degree, as in QUAL2E (1.047).
    fresh_dry_share, packed_dry_share: fish sludge in a settling chamber holds 1-5 % dry matter, up to 10 % thickened
      (recalled, not re-read). Assumptions: 1.5 % where it has just settled, 3 % once packed. Not more, although
      sludge that is left alone packs to 4-6 %: here the inflow stirs it, and a large, lightly loaded void, known to
      run about three years (common practice, no source), would take six.
    packing_per_day: of what is loose, the part that packs each day. Assumption: half of it in two weeks. Only water
      is pressed out: the dry matter stays.
    solids_density: 1050-1190 kg/m3 (read, salmon waste solids).
    """

    capture_share: float = 0.70
    inert_share: float = 1 - DIGESTIBLE_SHARE
    decay_per_day_20c: float = 0.03
    theta: float = 1.047
    fresh_dry_share: float = 0.015
    packed_dry_share: float = 0.03
    packing_per_day: float = 0.05
    solids_density: float = 1100.0

    def __post_init__(self) -> None:
        checked("capture_share", self.capture_share, 0, 1)
        checked("inert_share", self.inert_share, 0, 1)
        positive("decay_per_day_20c", self.decay_per_day_20c, 1)
        checked("theta", self.theta, 1, 1.2)
        positive("packed_dry_share", self.packed_dry_share, 1)
        positive("fresh_dry_share", self.fresh_dry_share, self.packed_dry_share)
        checked("packing_per_day", self.packing_per_day, 0, 1)
        checked("solids_density", self.solids_density, 1000, 3000)

    @property
    def packed_l_per_g(self) -> float:
        """Litres that a gram of dry matter takes up once it is packed."""
        return self._l_per_g(self.packed_dry_share)

    @property
    def loose_l_per_g(self) -> float:
        """Litres more that it takes up while it is loose."""
        return self._l_per_g(self.fresh_dry_share) - self.packed_l_per_g

    def _l_per_g(self, share: float) -> float:
        return ((1 - share) / 1.0 + share / (self.solids_density / 1000)) / share / 1000

    def decay_per_day(self, temperature_c: float) -> float:
        """Digestion rate of the easy part [1/day]; 0 to 40 C."""
        return self.decay_per_day_20c * math.pow(
            self.theta, checked("temperature_c", temperature_c, 0, 40) - 20
        )


DEFAULT_MODEL = SedimentModel()


ROUNDING_G = 1e-12  # of sums of amounts too small to be told from nothing


@dataclass(frozen=True)
class Sediment:
    """Dry matter lying in the void [g]: the part still being digested and the part that stays.

    loose_easy_g, loose_inert_g: how much of each is not packed yet.
    """

    easy_g: float = 0.0
    inert_g: float = 0.0
    loose_easy_g: float = 0.0
    loose_inert_g: float = 0.0

    def __post_init__(self) -> None:
        checked("easy_g", self.easy_g, 0)
        checked("inert_g", self.inert_g, 0)
        checked("loose_easy_g", self.loose_easy_g, 0, self.easy_g * (1 + 1e-9) + ROUNDING_G)
        checked("loose_inert_g", self.loose_inert_g, 0, self.inert_g * (1 + 1e-9) + ROUNDING_G)

    @property
    def dry_g(self) -> float:
        return self.easy_g + self.inert_g

    @property
    def loose_g(self) -> float:
        return self.loose_easy_g + self.loose_inert_g

    def litres(self, model: SedimentModel = DEFAULT_MODEL) -> float:
        """Settled volume [L], water in its pores included."""
        return self.dry_g * model.packed_l_per_g + self.loose_g * model.loose_l_per_g

    def aged(self, days: float, temperature_c: float, model: SedimentModel = DEFAULT_MODEL) -> "Sediment":
        """The sediment after `days` without anything new."""
        left = math.exp(-model.decay_per_day(temperature_c) * checked("days", days, 0))
        loose = math.exp(-model.packing_per_day * days)
        return Sediment(
            self.easy_g * left, self.inert_g, self.loose_easy_g * left * loose, self.loose_inert_g * loose
        )

    def times(self, share: float) -> "Sediment":
        """A share of it."""
        parts = (self.easy_g, self.inert_g, self.loose_easy_g, self.loose_inert_g)
        return Sediment(*(checked("share", share, 0) * part for part in parts))

    def __add__(self, other: "Sediment") -> "Sediment":
        return Sediment(
            self.easy_g + other.easy_g,
            self.inert_g + other.inert_g,
            self.loose_easy_g + other.loose_easy_g,
            self.loose_inert_g + other.loose_inert_g,
        )

    def plus(self, settled_g: float, model: SedimentModel = DEFAULT_MODEL) -> "Sediment":
        """The sediment with `settled_g` of fresh dry solids on it (already captured: see `captured_g`)."""
        inert = checked("settled_g", settled_g, 0) * model.inert_share
        easy = settled_g - inert
        return self + Sediment(easy, inert, easy, inert)


def captured_g(solids_g: float, capture_share: float = DEFAULT_MODEL.capture_share) -> float:
    """Dry solids [g] that settle in the void, of those that reach the filter."""
    return checked("solids_g", solids_g, 0) * checked("capture_share", capture_share, 0, 1)


def carried_over_g(solids_g: float, capture_share: float = DEFAULT_MODEL.capture_share) -> float:
    """Dry solids [g] carried past the void into the media: all the rest (cautious, some passes on)."""
    return checked("solids_g", solids_g, 0) - captured_g(solids_g, capture_share)


def fresh_litres(dry_g: float, model: SedimentModel = DEFAULT_MODEL) -> float:
    """Settled volume [L] of dry matter that has just come to lie."""
    return Sediment().plus(dry_g, model).litres(model)


def lain(
    settled: Iterable[tuple[float, float]], temperature_c: float, model: SedimentModel = DEFAULT_MODEL
) -> Sediment:
    """What is left in the void of (dry solids [g], days since they settled there)."""
    decay, packing = model.decay_per_day(temperature_c), model.packing_per_day
    easy = inert = loose_easy = loose_inert = 0.0
    for grams, days in settled:
        loose, left = math.exp(-packing * days), math.exp(-decay * days) * grams
        easy, loose_easy = easy + left, loose_easy + left * loose
        inert, loose_inert = inert + grams, loose_inert + grams * loose
    stays, goes = model.inert_share, 1 - model.inert_share
    return Sediment(easy * goes, inert * stays, loose_easy * goes, loose_inert * stays)


def after(
    days: float,
    sediment: Sediment,
    daily_solids_g: float,
    temperature_c: float,
    model: SedimentModel = DEFAULT_MODEL,
) -> Sediment:
    """What lies in the void after `days` of a steady `daily_solids_g` settling there (closed form)."""
    time, fresh = checked("days", days, 0), checked("daily_solids_g", daily_solids_g, 0)
    decay, packing = model.decay_per_day(temperature_c), model.packing_per_day
    easy, inert = fresh * (1 - model.inert_share), fresh * model.inert_share
    return Sediment(
        _course(time, sediment.easy_g, easy, decay),
        _course(time, sediment.inert_g, inert, 0.0),
        _course(time, sediment.loose_easy_g, easy, decay + packing),
        _course(time, sediment.loose_inert_g, inert, packing),
    )


def _course(days: float, start: float, daily: float, rate: float) -> float:
    """What is there after `days` of so much each day, when a share `rate` of it goes each day."""
    left = math.exp(-rate * days)
    return start * left + (daily * (1 - left) / rate if rate else daily * days)


def dry_g_after(
    days: float,
    sediment: Sediment,
    daily_solids_g: float,
    temperature_c: float,
    model: SedimentModel = DEFAULT_MODEL,
) -> float:
    """Dry matter [g] in the void after `days` of a steady `daily_solids_g` settling there."""
    return after(days, sediment, daily_solids_g, temperature_c, model).dry_g


def project_days_until(
    limit_litres: float,
    sediment: Sediment,
    daily_solids_g: float,
    temperature_c: float,
    model: SedimentModel = DEFAULT_MODEL,
) -> float | None:
    """Days until the sediment reaches `limit_litres`; 0 if it has, None if not within ten years.

    `daily_solids_g` is what settles in the void each day: pass solids through `captured_g` first.
    It may fall first, as what lies is digested and packs. Looked for in steps that double, so that the first rise over
    the limit is found, then by bisection on the closed form to a thousandth of a day.
    """
    limit = positive("limit_litres", limit_litres)

    def reached(days: float) -> bool:
        return after(days, sediment, daily_solids_g, temperature_c, model).litres(model) >= limit

    if reached(0):
        return 0.0
    low, high = 0.0, 1.0
    while not reached(high):
        if high >= LONGEST_PROJECTION_DAYS:
            return None
        low, high = high, min(2 * high, LONGEST_PROJECTION_DAYS)
    while high - low > 0.001:
        middle = (low + high) / 2
        low, high = (low, middle) if reached(middle) else (middle, high)
    return high


def corrected(
    predicted_litres: float, observed_litres: float, current_factor: float = 1.0, weight: float = DEPTH_WEIGHT
) -> float:
    """New correction factor (0.25 to 4) after a drain showed `observed_litres`.

    `predicted_litres` is what was expected with `current_factor` applied. A part of each surprise (weight: half) is
    taken over, on a ratio scale, so repeated drains settle on the truth and one odd one does no great harm: a
    single observation counts as at most four times too many or too few, and the factor stays in bounds.
    """
    expected = positive("predicted_litres", predicted_litres)
    factor = checked("current_factor", current_factor, SMALLEST_FACTOR, LARGEST_FACTOR)
    surprise = _bounded(checked("observed_litres", observed_litres, 0) / expected)
    return _bounded(factor * math.pow(surprise, checked("weight", weight, 0, 1)))


def let_out_ratio(drains: Iterable[tuple[float, float]]) -> float:
    """How many litres are let out for each litre of sediment, until the water runs clear; 1 or more.

    drains: (let out, sediment by its depth) [L] of one filter's drains that say both. Their mean on a ratio scale, in
    which the usual ratio counts as so many drains more.
    """
    ratios = [positive("let_out", out) / positive("sediment", lay) for out, lay in drains]
    known = sum(math.log(max(ratio, 1.0)) for ratio in ratios)
    counted = USUAL_RATIO_COUNTS * math.log(USUAL_LET_OUT_RATIO)
    return math.exp((known + counted) / (len(ratios) + USUAL_RATIO_COUNTS))


def _bounded(factor: float) -> float:
    return min(max(factor, SMALLEST_FACTOR), LARGEST_FACTOR)


def depth_from_litres(litres: float, cross_section_m2: float) -> float:
    """Depth [m] of sediment spread evenly over the floor of the void."""
    return checked("litres", litres, 0) / 1000 / positive("cross_section_m2", cross_section_m2)


def litres_from_depth(depth_m: float, cross_section_m2: float) -> float:
    """Sediment [L] from its depth [m], for what is seen through a wall or felt with a stick."""
    return checked("depth_m", depth_m, 0) * positive("cross_section_m2", cross_section_m2) * 1000
