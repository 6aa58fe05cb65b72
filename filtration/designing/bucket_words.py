"""What a measured flow may mean, in words: see filtration.hydraulics.blockage."""

from collections.abc import Iterator

from filtration.designing.findings import NOTE, WARN, Finding
from filtration.designing.words import length, percent
from filtration.hydraulics.blockage import FlowLoss
from filtration.hydraulics.piping import open_share_for
from refuge.rules.words import amount

STEADY = 0.05  # what a bucket and a watch cannot tell apart (common practice, no source)
SERIOUS = 0.7  # share of the flow when new at which a rinse is due (common practice, no source)


def flow_findings(loss: FlowLoss) -> tuple[Finding, ...]:
    """What a bucket test says of pump, strainer and stones; the first finding sums it up."""
    if abs(loss.share_of_new - 1) <= STEADY:
        return (
            Finding(
                "flow_steady", NOTE, f"The flow is {percent(loss.share_of_new)} of what it was when new."
            ),
        )
    if loss.share_of_new > 1:
        return (
            Finding(
                "flow_higher",
                NOTE,
                f"The flow is {percent(loss.share_of_new)} of what it was when new. Filters do not gain flow by themselves.",
                "Measure again; if it stands, look for water that bypasses the stones, and for another pump or valve setting.",
            ),
        )
    return (_slower(loss), *_causes(loss))


def first_flow_findings(measured_m3_h: float, planned_m3_h: float) -> tuple[Finding, ...]:
    """What a first flow [m3/h] that was not taken as the flow when new says beside the plan's (above 0)."""
    share = measured_m3_h / planned_m3_h
    return (
        Finding(
            "first_flow_off",
            WARN,
            f"The flow is {percent(share)} of the plan, {amount(planned_m3_h, 'flow')}. It is not taken as the flow when new.",
            "Look at the valve, the strainer and the pump, and for air in the pipe; then measure again. If all is as it "
            "should be, say at the next bucket test that this is its flow when new."
            if share < 1
            else "Measure again with a larger bucket; if it stands, say at the bucket test that this is its flow when new.",
        ),
    )


def _slower(loss: FlowLoss) -> Finding:
    return Finding(
        "flow_lower",
        WARN if loss.share_of_new < SERIOUS else NOTE,
        f"The flow is {percent(loss.share_of_new)} of what it was when new: something takes {length(loss.missing_head_m)} "
        "of head that was free then. One flow cannot tell the stones from the strainer or the pump.",
        "Clean the strainer and the pump first and measure again. If the flow is back it was they; if not, rinse a layer.",
    )


def _as_a_valve(k: float) -> str:
    """A loss coefficient as a ball valve that everybody has turned."""
    share = open_share_for("ball", k)
    if share is not None:
        return f"a ball valve turned {percent(1 - share)} shut"
    return "a ball valve turned more than two thirds shut" if k > 1 else "an open ball valve"


def _causes(loss: FlowLoss) -> Iterator[Finding]:
    yield Finding(
        "maybe_strainer",
        NOTE,
        f"A fouled strainer or a slimed inlet would do it, if it holds back as much as {_as_a_valve(loss.strainer_k)}.",
    )
    yield Finding(
        "maybe_pump",
        NOTE,
        f"So would a worn or fouled pump with {percent(loss.pump_share)} of its head left.",
    )
    if loss.held_kg is None:
        words = "Stones alone would not: even with full pores they take less head than that."
    else:
        words = (
            f"So would about {amount(loss.held_kg, 'mass', 1)} of dry solids between the stones. They hold little water "
            "back until they are nearly full, and then much."
        )
    yield Finding("maybe_stones", NOTE, words)
