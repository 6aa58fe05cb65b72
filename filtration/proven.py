"""What water tests prove of one filter: only those made since it runs so, and with something for it to clear.

Plain Python; days are local days, mg/L with nitrogen as N.
"""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from itertools import takewhile

from enclosures.rules import quiet_in_a_row
from refuge.rules.facts import Fed, FilterFacts, TestFacts

# Food of so many days before a test is what it shows to be cleared: large turtles eat once or twice a week and their
# food becomes ammonia over days (common practice, no source).
LOADED_DAYS = 7
# Filters that clean by what was said of them; one that is cycling itself proves nothing for another.
KNOWN_TO_CARRY = frozenset({"mature", "disturbed"})


def proving_tests(
    tests: Sequence[TestFacts], since: date, fed: Sequence[Fed], volume_m3: float, near_zero: float
) -> int:
    """Near-zero tests in a row after `since` that were made under load. Tests and meals: newest first.

    Under load: the food recorded since then, in the days before the test, would by itself have raised ammonia above
    near zero; or ammonia or nitrite was read above it in those days. A quiet test without counts for nothing, and
    one that is not quiet ends the row in any case.
    """
    later = [test for test in tests if test.on > since]
    counted = [
        test
        for number, test in enumerate(later)
        if _is_loud(test, near_zero)
        or _was_fed(test.on, since, fed, volume_m3, near_zero)
        or _was_loud(later[number + 1 :], test.on, near_zero)
    ]
    return quiet_in_a_row(tuple(counted), near_zero)


def _is_loud(test: TestFacts, near_zero: float) -> bool:
    return max(test.tan or 0.0, test.nitrite or 0.0) > near_zero


def _was_loud(earlier: Iterable[TestFacts], on: date, near_zero: float) -> bool:
    return any(_is_loud(test, near_zero) and (on - test.on).days <= LOADED_DAYS for test in earlier)


def _was_fed(on: date, since: date, fed: Sequence[Fed], volume_m3: float, near_zero: float) -> bool:
    first = max(since, on - timedelta(days=LOADED_DAYS))
    spans = takewhile(lambda span: span.to_on > first, fed)  # newest first
    return sum(_of_span(span, first, on) for span in spans) > near_zero * volume_m3  # g/m3 is mg/L


def _of_span(span: Fed, first: date, last: date) -> float:
    """The ammonia nitrogen [g] of a span of meals in the days from first to the day before last."""
    days = (min(span.to_on, last) - max(span.from_on, first)).days
    return span.tan_g * days / (span.to_on - span.from_on).days if days > 0 else 0.0


def carried_without(
    unit: FilterFacts, others: Iterable[FilterFacts], carried: dict[int, float], load: float
) -> str:
    """The other filters of a water, by name, if they carry its load [g TAN/day] without this one; else ''.

    carried: what each carries today [g TAN/day].
    """
    known = [each for each in others if each.id != unit.id and each.state in KNOWN_TO_CARRY]
    if not known or sum(carried[each.id] for each in known) < load:
        return ""
    return " and ".join(each.label for each in known)
