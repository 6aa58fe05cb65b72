"""Registers who looks ahead for an arrival, without the weight of the forecast until a page asks."""

from collections.abc import Sequence

from husbandry.arrivals.ahead import Foresight, foreseer
from husbandry.arrivals.newcomer import Newcomer, Place
from refuge.rounds.loaders import Moment
from refuge.rules.facts import Facts


@foreseer
def foresee(newcomer: Newcomer, places: Sequence[Place], facts: Facts, moment: Moment) -> Foresight:
    from filtration.what_if import prospects  # heavy: a command or a worker may never need it

    return prospects.foresee(newcomer, places, facts, moment)
