"""In which hour what happened and what was read counts, so that both keep their order within an hour.

The sums go by whole hours: what happens in one counts from its beginning, and a test is taken in before it. A change of
water at five past and a test at twenty to four of the same hour would so be turned round, and thin the water twice.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta
from math import inf

ONE_HOUR = timedelta(hours=1)
Hours = dict[datetime, int]


def hours_in_order(
    began: datetime, happened: Iterable[datetime], tests: Iterable[datetime]
) -> tuple[Hours, Hours]:
    """The hour (0 or more, counted from `began`) of each instant at which something happened, and of each test.

    Each keeps its own, but what came before a test of the same hour goes to the hour before, and so does a test before
    that. So nothing is put off beyond now, and nothing is out by more than an hour for each test within an hour. At one
    instant the test comes first: common practice, no source. What happened in the very first hour stays there.
    """
    of_events: Hours = {}
    of_tests: Hours = {}
    next_event, next_test = inf, inf
    both = [(at, False) for at in set(tests)] + [(at, True) for at in set(happened)]
    for at, is_event in sorted(both, reverse=True):
        own = (at - began) // ONE_HOUR
        if is_event:
            of_events[at] = max(int(min(own, next_test - 1)), min(own, 0))
            next_event = of_events[at]
        else:
            of_tests[at] = max(int(min(own, next_event)), 0)
            next_test = of_tests[at]
    return of_events, of_tests
