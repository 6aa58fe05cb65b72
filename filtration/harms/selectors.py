"""What is left of a filter after something happened to it."""

from dataclasses import dataclass

from filtration.facts import filter_capacity
from filtration.harms.facts import mixed_mg_l
from filtration.harms.models import FilterHarm
from filtration.models import FilterUnit
from filtration.survival import Left, left_after
from refuge.rounds.loaders import Moment
from refuge.rules.facts import Facts


@dataclass(frozen=True, slots=True)
class Aftermath:
    """left: share of the bacteria when it was over. Capacities and load in g TAN a day.

    chlorine_mg_l: in the mixed water, where untreated water got in.
    """

    left: Left
    carries: float
    mature: float
    load: float
    chlorine_mg_l: float | None

    @property
    def is_grave(self) -> bool:
        return self.load > self.carries


def aftermath(harm: FilterHarm, facts: Facts, moment: Moment) -> Aftermath:
    """What is left, and what the filter carries today: no query beside the facts."""
    unit: FilterUnit = harm.filter
    water, own = facts.circuit[unit.circuit_id], facts.filter[unit.pk]
    chlorine = None
    if harm.source is not None:
        chlorine = mixed_mg_l(harm.volume_m3, harm.source.total_chlorine_mg_l, water.volume_m3)
    now, mature, _ = filter_capacity(own, moment)
    left = left_after(harm.kind, hours=harm.hours, chlorine_mg_l=chlorine)
    carries = 0.0 if own.stands else now  # whatever lives in it, nothing passes it
    return Aftermath(left, carries, mature, water.tan_g_day, chlorine)
