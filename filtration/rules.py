"""When a filter is drained, rinsed, cleaned and tested. Litres, g of dry solids, m3/h."""

from collections.abc import Iterator
from datetime import date, timedelta

from filtration import start_rules
from filtration.harms import rules as harm_rules  # noqa: F401 (they register themselves)
from filtration.nitrification import within_range
from filtration.solids import Sediment, captured_g, fresh_litres, project_days_until
from refuge.errors import ClearmereError
from refuge.rules import triggers
from refuge.rules.facts import RUNNING, CircuitFacts, FilterFacts
from refuge.rules.limits import LimitsFor, LimitSpec, limits
from refuge.rules.registry import rules
from refuge.rules.triggers import Due, Trigger, Unknown, day_text, days_text
from refuge.rules.words import amount, litres

EACH = ("site", "circuit", "filter")

for spec in (
    LimitSpec(
        "filtration.drain_share", "Drain when sediment fills", 0.30, "of the void", 0.05, 0.9, scopes=EACH
    ),
    LimitSpec("filtration.drain_days", "Drain, longest interval", 1095, "days", 14, 1825, scopes=EACH),
    LimitSpec(
        "filtration.rinse_flow_share",
        "Rinse when flow falls to",
        0.70,
        "of flow when new",
        0.2,
        0.95,
        scopes=EACH,
    ),
    LimitSpec(
        "filtration.rinse_solids_g_l",
        "Rinse when media hold at most",
        27,
        "g dry solids/L",
        1,
        200,
        scopes=EACH,
    ),
    LimitSpec("filtration.rinse_days", "Media rinse, longest interval", 1460, "days", 30, 3650, scopes=EACH),
    LimitSpec("filtration.pump_clean_days", "Pump and strainer clean", 30, "days", 3, 180, scopes=EACH),
    LimitSpec("filtration.bucket_days", "Bucket test", 30, "days", 3, 180, scopes=EACH),
    LimitSpec(
        "filtration.bucket_after_days",
        "Bucket test after a drain or rinse, within",
        1,
        "days",
        0,
        14,
        scopes=EACH,
    ),
    LimitSpec(
        "filtration.protection_days", "Residual-current (ground-fault) test", 30, "days", 7, 92, scopes=EACH
    ),
    LimitSpec("filtration.inspection_days", "Look over the whole filter", 90, "days", 7, 365, scopes=EACH),
    LimitSpec(
        "filtration.disturbed_share",
        "A disturbed filter still carries",
        0.5,
        "of capacity",
        0,
        1,
        scopes=EACH,
    ),
):
    limits.define(spec)


@rules.register(
    "filtration.drain",
    kind="filter",
    title="Drain the sediment",
    recorder="drain",
    role="staff",
    cautions=("unplug", "lifting", "slips", "hands"),
    rest_days=14,
)
def drain(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """Sediment as a share of the void, corrected by what earlier drains showed, or the longest interval."""
    if facts.state not in RUNNING:
        return
    limit_l = facts.void_l * limits["filtration.drain_share"]
    yield _by_sediment(facts, limit_l, limits["filtration.drain_share"], today)
    yield triggers.elapsed(
        last=facts.last_drain_on,
        every_days=limits["filtration.drain_days"],
        today=today,
        what="Drain",
        since=facts.state_since,
    )


def _by_sediment(facts: FilterFacts, limit_l: float, share: float, today: date) -> Due | None:
    days = days_to_sediment(facts, limit_l)
    if days is None:
        return None
    seen = ""
    if facts.last_drain_seen_l is not None:
        seen = f"; the last drain showed {litres(facts.last_drain_seen_l)}"
        if facts.last_drain_modelled_l is not None:
            seen += f" where {litres(facts.last_drain_modelled_l)} was expected"
    reason = (
        f"About {litres(facts.sediment_l)} of sediment in a void of {litres(facts.void_l)}; "
        f"{share:.0%} ({litres(limit_l)}) {'is reached' if days <= 0 else 'in ' + days_text(days)}{seen}"
    )
    settling = facts.correction * fresh_litres(captured_g(facts.solids_g_day))
    if days <= 0:
        return Due(triggers.passed_on(facts.sediment_l - limit_l, settling, today), reason, "accumulating")
    return Due(today + timedelta(days=int(days)), reason, "accumulating")


def days_to_sediment(facts: FilterFacts, limit_l: float) -> float | None:
    """Days until corrected sediment reaches `limit_l`; None if not within ten years."""
    if facts.sediment_l >= limit_l:
        return 0.0
    return project_days_until(
        limit_l / facts.correction,
        Sediment(facts.easy_g, facts.inert_g, facts.loose_easy_g, facts.loose_inert_g),
        captured_g(facts.solids_g_day),
        within_range(facts.temperature_c),
    )


@rules.register(
    "filtration.rinse",
    kind="filter",
    title="Rinse one media layer",
    recorder="rinse",
    role="staff",
    cautions=("unplug", "one_layer", "lifting", "slips", "hands"),
    rest_days=14,
)
def rinse(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """Flow fallen, solids caught in the media, or the longest interval."""
    if facts.state not in RUNNING:
        return
    if not facts.has_layers:
        yield Unknown("its media layers", "Enter them on the filter's page")
        return
    yield _by_flow(facts, limits, today)
    yield triggers.accumulating(
        amount=facts.carried_g / facts.media_void_l,
        limit=rinse_limit_g_l(facts, limits),
        rate_per_day=(facts.solids_g_day - captured_g(facts.solids_g_day)) / facts.media_void_l,
        today=today,
        what=f"Dry solids caught between the stones{_why_so_many(facts, limits)}:",
        unit="g/L",
        digits=1,
    )
    yield triggers.elapsed(
        last=facts.last_rinse_on,
        every_days=limits["filtration.rinse_days"],
        today=today,
        what="Media rinse",
        since=facts.state_since,
    )


def rinse_limit_g_l(facts: FilterFacts, limits: LimitsFor) -> float:
    """What the stones may hold: as far as the flow allows by its own stones and pump, and never more than the limit."""
    most = limits["filtration.rinse_solids_g_l"]
    return most if facts.clogged_g_l is None else min(most, facts.clogged_g_l)


def _why_so_many(facts: FilterFacts, limits: LimitsFor) -> str:
    if rinse_limit_g_l(facts, limits) == limits["filtration.rinse_solids_g_l"]:
        return ""
    share = f"{limits['filtration.rinse_flow_share']:.0%} of its flow when new"
    return f" (at {rinse_limit_g_l(facts, limits):.1f} g/L {share} are left, or the stones are full)"


def _by_flow(facts: FilterFacts, limits: LimitsFor, today: date) -> Trigger | None:
    if facts.flow is None:
        return None  # the bucket test itself is due, and says so
    if facts.commissioning_flow_m3_h is None:
        # One built by a plan is measured again until its flow fits that: the bucket test says so.
        asks = Unknown("the flow when it was new", "Enter it on the filter's page")
        return asks if facts.lip_l is None else None
    if facts.last_rinse_at is not None and not facts.flow_measured_since(facts.last_rinse_at):
        return None  # measured before the last rinse
    share = facts.flow.value / facts.commissioning_flow_m3_h
    least = limits["filtration.rinse_flow_share"]
    if share > least:
        return None
    return Due(
        facts.flow.on,
        f"Flow {amount(facts.flow.value, 'flow')} on {day_text(facts.flow.on)} is {share:.0%} of the "
        f"{amount(facts.commissioning_flow_m3_h, 'flow')} when new; {least:.0%} asks for a rinse",
        "reading",
    )


@rules.register(
    "filtration.pump_clean",
    kind="filter",
    title="Clean the pump and strainer",
    recorder="pump_clean",
    cautions=("unplug", "hands"),
    rest_days=7,
)
def pump_clean(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    if facts.state in RUNNING and facts.has_pump:
        yield triggers.elapsed(
            last=facts.last_pump_clean_on,
            every_days=limits["filtration.pump_clean_days"],
            today=today,
            what="Pump and strainer",
            since=facts.state_since,
        )


@rules.register(
    "filtration.bucket_test",
    kind="filter",
    title="Bucket test of the flow",
    recorder="bucket_test",
    cautions=("lifting", "hands"),
    rest_days=7,
)
def bucket_test(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """On the first day it runs, at intervals, and after every drain and rinse."""
    if facts.state not in RUNNING:
        return
    yield start_rules.first_flow(facts)
    yield triggers.elapsed(
        last=facts.last_bucket_on,
        every_days=limits["filtration.bucket_days"],
        today=today,
        what="Flow",
        since=facts.state_since,
    )
    for done_at, words in ((facts.last_drain_at, "Drained"), (facts.last_rinse_at, "Media rinsed")):
        if done_at is not None and not facts.flow_measured_since(done_at):
            yield triggers.after_event(
                happened_on=done_at.date(),
                days_after=int(limits["filtration.bucket_after_days"]),
                reason=f"{words} on {day_text(done_at.date())}: measure the flow again",
            )


@rules.register(
    "filtration.protection_test",
    kind="filter",
    title="Test the residual-current (ground-fault) device",
    recorder="protection_test",
    role="staff",
    cautions=("electricity",),
    rest_days=3,
)
def protection_test(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    if not facts.has_pump or facts.state not in {*RUNNING, "leak_tested"}:
        return
    yield start_rules.never_tripped(facts)
    if facts.protection_passed is False and facts.last_protection_on is not None:
        reason = f"It did not trip on {day_text(facts.last_protection_on)}: keep the pump unplugged, call an electrician"
        yield Due(facts.last_protection_on, reason, "reading")
    if facts.last_protection_on is not None:
        yield triggers.elapsed(
            last=facts.last_protection_on,
            every_days=limits["filtration.protection_days"],
            today=today,
            what="Protection",
        )


@rules.register(
    "filtration.inspection",
    kind="filter",
    title="Look over the filter",
    recorder="inspection",
    cautions=("electricity", "slips", "hands"),
    rest_days=7,
)
def inspection(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """Rim, bulkheads, hoses, cable, overflow: what a walk past does not show."""
    if facts.state in RUNNING:
        yield triggers.elapsed(
            last=facts.last_inspection_on,
            every_days=limits["filtration.inspection_days"],
            today=today,
            what="Looked over",
            since=facts.state_since,
        )


class ForecastBroke(ClearmereError):
    """The forecast of a water could not be made. Raised by its rule, so that managers see it like any rule."""


@rules.register(
    "filtration.forecast",
    kind="circuit",
    title="Forecast of the water",
    recorder="water_test",
    role="manager",
)
def forecast_stands(facts: CircuitFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """Asks for nothing: it says when the forecast broke, while the tests fall back on the interval by load."""
    if facts.forecast is not None and facts.forecast.failure:
        raise ForecastBroke(facts.forecast.failure)
    yield None
