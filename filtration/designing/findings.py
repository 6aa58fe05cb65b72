"""What is wrong with a design, what to watch, and what would do: small checks on an assessment."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from filtration.designing.assessment import Assessment

STOP, WARN, NOTE = "stop", "warn", "note"
SEVERITIES = (STOP, WARN, NOTE)


@dataclass(frozen=True)
class Finding:
    """One thing found. stop: do not build it so. warn: it works, but not well or not safely. note: know it.

    words, would_do: sentences with marks for refuge.units.spoken.
    """

    key: str
    severity: str
    words: str
    would_do: str = ""


Check = Callable[[Assessment], Iterator[Finding]]
_CHECKS: list[Check] = []


def check(function: Check) -> Check:
    """Registers a check; they run in the order in which they are written."""
    _CHECKS.append(function)
    return function


def findings(assessment: Assessment) -> tuple[Finding, ...]:
    """All findings on a design, the gravest first."""
    found = [finding for each in _CHECKS for finding in each(assessment)]
    return tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))
