"""One call for the planner's screen: a design's numbers and what they mean."""

from dataclasses import dataclass

# Imported for what they register.
from filtration.designing import checks_of_build, checks_of_run, checks_of_water  # noqa: F401
from filtration.designing.assessment import NO_OTHERS, Assessment, Others, appraise
from filtration.designing.findings import STOP, WARN, Finding, findings
from filtration.hydraulics.design import Design


@dataclass(frozen=True)
class Verdict:
    """A design's numbers and findings, gravest first."""

    numbers: Assessment
    findings: tuple[Finding, ...]

    @property
    def can_be_built(self) -> bool:
        return not any(finding.severity == STOP for finding in self.findings)

    @property
    def warnings(self) -> int:
        return sum(finding.severity == WARN for finding in self.findings)


def assess(
    design: Design,
    *,
    tan_g_day: float | None = None,
    price_per_kwh: float | None = None,
    side_by_side: int = 1,
    others: Others = NO_OTHERS,
    newcomer_tan_g_day: float = 0.0,
) -> Verdict:
    """Judges a design for a load [g TAN a day, None if not known] and a price of electricity (any money).

    side_by_side: how many of it share the tank; the load is on one of them. others: the water's other filters, whose part
    of the load is not in it. newcomer_tan_g_day: the part of the whole load that arrivals bring, fed once a week.
    """
    numbers = appraise(
        design,
        tan_g_day=tan_g_day,
        price_per_kwh=price_per_kwh,
        side_by_side=side_by_side,
        others=others,
        newcomer_tan_g_day=newcomer_tan_g_day,
    )
    return Verdict(numbers, findings(numbers))
