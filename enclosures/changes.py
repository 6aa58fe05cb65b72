"""What a partial water change must do: nitrate and alkalinity today, and the volume that sets them right.

Concentrations in mg/L, nitrogen as N, alkalinity as CaCO3; volumes in m3.
"""

from datetime import date, timedelta

from enclosures.chemistry import (
    ALKALINITY_PER_NITROGEN,
    ammonia_from_chloramine_mg_l,
    change_fraction_to_reach,
    sodium_bicarbonate_g,
    thiosulfate_g,
)
from refuge.rules.facts import CircuitFacts, CourseFacts, Reading
from refuge.rules.limits import LimitsFor
from refuge.rules.words import amount

# A change aims beyond the least alkalinity, so that the next is not due at once: common practice, no source.
ALKALINITY_MARGIN = 1.25


def nitrogen_rise_mg_l_day(facts: CircuitFacts) -> float:
    """How fast nitrate rises if all ammonia is nitrified [mg N/L a day]."""
    return facts.tan_g_day / facts.volume_m3


def nitrate_now(facts: CircuitFacts, reading: Reading) -> float:
    """Nitrate today [mg N/L]: the last reading, thinned by changes since, plus the meals recorded since."""
    kept = reading.value * (1 - facts.changed_since_nitrate_share)
    brought = facts.source_nitrate * facts.changed_since_nitrate_share
    return kept + brought + facts.fed_since_nitrate_tan_g / facts.volume_m3


def alkalinity_now(facts: CircuitFacts, reading: Reading) -> float:
    """Alkalinity today [mg CaCO3/L]: the last reading, changes since, less what the meals since used up."""
    source = facts.source_alkalinity if facts.source_alkalinity is not None else reading.value
    mixed = reading.value + (source - reading.value) * facts.changed_since_alkalinity_share
    used = ALKALINITY_PER_NITROGEN * facts.fed_since_alkalinity_tan_g / facts.volume_m3
    return max(mixed - used, 0.0)


def seen_ahead(facts: CircuitFacts, name: str, today: date) -> CourseFacts | None:
    """Where today's forecast sees 'nitrate' or 'alkalinity' go: it knows kits, losses to the air and what sediment gives.

    None without a forecast of today that knows the last test: then the sums above have to do.
    """
    forecast = facts.forecast
    last = facts.tests[0].on if facts.tests else date.min
    if forecast is None or forecast.made_on != today or (forecast.tested_on or date.min) < last:
        return None
    found: CourseFacts | None = getattr(forecast, name)
    return found


def change_share(facts: CircuitFacts, limits: LimitsFor) -> float:
    """Share of the volume to change, 0 to 1: what nitrate and alkalinity ask for, within the usual and the most."""
    usual, most = limits["water.change_share"], limits["water.change_most_share"]
    asked = max(usual, _share_for_nitrate(facts, limits), _share_for_alkalinity(facts, limits))
    return min(asked, max(usual, most))


def change_volume_m3(facts: CircuitFacts, limits: LimitsFor) -> float:
    """Volume to change [m3]."""
    return change_share(facts, limits) * facts.volume_m3


def _share_for_nitrate(facts: CircuitFacts, limits: LimitsFor) -> float:
    """Down to half the limit, where the source allows it."""
    if facts.nitrate is None:
        return 0.0
    now, target = nitrate_now(facts, facts.nitrate), limits["water.nitrate_mg_l"] / 2
    return (
        change_fraction_to_reach(now, target, facts.source_nitrate) if target > facts.source_nitrate else 0.0
    )


def _share_for_alkalinity(facts: CircuitFacts, limits: LimitsFor) -> float:
    """Up to the least wanted and some more, where the source has that much; the most at once where it has not."""
    if facts.alkalinity is None:
        return 0.0
    now, floor = alkalinity_now(facts, facts.alkalinity), limits["water.alkalinity_mg_l"]
    source, target = facts.source_alkalinity, floor * ALKALINITY_MARGIN
    if source is None or now > floor or source <= now:
        return 0.0
    return (target - now) / (source - now) if source > target else 1.0


def change_help(facts: CircuitFacts, limits: LimitsFor) -> tuple[str, dict[str, float]]:
    """What to do, in words, and what a form is filled in with."""
    share = change_share(facts, limits)
    volume = share * facts.volume_m3
    words, grams = conditioner_words(facts, volume)
    parts = [
        f"Change {amount(volume, 'volume')} ({share:.0%} of {amount(facts.volume_m3, 'volume')}).",
        words,
        bicarbonate_words(facts, limits, share),
    ]
    return " ".join(filter(None, parts)), {"volume_m3": round(volume, 4), "conditioner_g": round(grams, 2)}


def bicarbonate_words(facts: CircuitFacts, limits: LimitsFor, share: float) -> str:
    """What alkalinity still lacks once `share` of the water is changed, as baking soda; nothing if nothing is."""
    source, floor = facts.source_alkalinity, limits["water.alkalinity_mg_l"]
    if facts.alkalinity is None or (source is None and share > 0):
        return ""
    now = alkalinity_now(facts, facts.alkalinity)
    after = now if source is None else now + (source - now) * share
    if now > floor or after >= floor:
        return ""
    grams = sodium_bicarbonate_g(facts.volume_m3 * 1000, floor * ALKALINITY_MARGIN - after)
    so_far = f"That brings alkalinity to about {after:.0f} mg/L only. " if share > 0 else ""
    lacking = "the rest" if share > 0 else "the alkalinity that lacks"
    return (
        f"{so_far}{grams:.0f} g of sodium bicarbonate, dissolved first and added over two days, would bring "
        f"{lacking}: it also lifts pH, and with it the share of ammonia that harms, so test before and after."
    )


def conditioner_words(facts: CircuitFacts, volume_m3: float) -> tuple[str, float]:
    """What the source water needs before animals meet it, in words, and grams of thiosulfate for the volume."""
    if facts.source_disinfectant == "none":
        return f"{facts.source_name} carries no disinfectant: no conditioner.", 0.0
    grams = thiosulfate_g(volume_m3 * 1000, facts.source_chlorine_mg_l)
    words = (
        f"{facts.source_name}: {facts.source_chlorine_mg_l:.1f} mg/L total chlorine; "
        f"{grams:.1f} g sodium thiosulfate (pentahydrate) takes it out. Go by the label of what you use."
    )
    if facts.source_disinfectant == "chloramine":
        words += (
            f" It is chloramine: standing does not remove it, and {ammonia_brought(facts):.2f} mg/L of ammonia nitrogen "
            "is left behind, so test after."
        )
    return words, grams


def ammonia_brought(facts: CircuitFacts) -> float:
    """Ammonia [mg N/L] in new water: what its chloramine leaves behind once the chlorine is taken out."""
    if facts.source_disinfectant != "chloramine":
        return 0.0
    return ammonia_from_chloramine_mg_l(facts.source_chlorine_mg_l)


def filled_on(facts: CircuitFacts) -> date | None:
    """The day on which a new water was filled: when its first filter began to run, unless it was a water before."""
    since = facts.cycling_since if facts.is_cycling else None
    was_before = since and any(test.on < since for test in facts.tests)
    return None if was_before else since


def is_fresh(facts: CircuitFacts, limits: LimitsFor, today: date) -> bool:
    """Whether a new water was filled so lately that it is still much like its source; its test is asked for anyway."""
    filled = filled_on(facts)
    return filled is not None and today < filled + timedelta(days=int(limits["water.panel_days"]))
