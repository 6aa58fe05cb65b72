"""One filter of the story: what settles in its void, what clogs its stones, and how much water still passes."""

from dataclasses import dataclass, field

from filtration.clogging import caught_shares
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.deposit import deposit_m3
from filtration.solids import (
    Sediment,
    captured_g,
    carried_over_g,
    corrected,
    fresh_litres,
)
from refuge.demo.plans import FilterPlan

CLOG_LOSS = 0.44  # share of the flow lost per share of the stones' room filled (assumption)
STRAINER_LOSS_PER_DAY, MOST_STRAINER_LOSS = 0.0028, 0.5
LEAST_FLOW_SHARE = 0.3


@dataclass(slots=True)
class Barrel:
    """The sediment is kept as the sums have it; what truly lies there is `sediment_factor` times as much."""

    plan: FilterPlan
    sediment: Sediment = field(default_factory=Sediment)
    clogging: Sediment = field(default_factory=Sediment)
    caught: dict[int, float] = field(default_factory=dict)  # dry solids in each layer of stones [g]
    correction: float = 1.0
    days_since_pump_clean: float = 10.0

    def take(self, solids_g: float) -> None:
        """Solids that arrive: most settle while there is room, the rest goes into the stones."""
        settled = min(captured_g(solids_g), self._room_g())
        self.sediment = self.sediment.plus(settled)
        self.clogging = self.clogging.plus(carried_over_g(solids_g) + captured_g(solids_g) - settled)
        for layer, share in enumerate(caught_shares(self._bed)):
            self.caught[layer] = self.caught.get(layer, 0.0) + share * carried_over_g(solids_g)

    def pass_day(self, temperature_c: float) -> None:
        self.sediment = self.sediment.aged(1, temperature_c)
        self.clogging = self.clogging.aged(1, temperature_c)
        self.days_since_pump_clean += 1

    @property
    def caught_g(self) -> float:
        """Dry solids between all stones."""
        return sum(self.caught.values())

    @property
    def _bed(self) -> tuple[BedLayer, ...]:
        return tuple(BedLayer(each.medium, each.depth_m, each.is_bagged) for each in self.plan.layers)

    @property
    def expected_l(self) -> float:
        """Sediment as the keepers reckon it, with what earlier drains have taught them."""
        return self.sediment.litres() * self.correction

    @property
    def true_l(self) -> float:
        return self.sediment.litres() * self.plan.sediment_factor

    @property
    def flow_m3_h(self) -> float:
        filled = 1000 * deposit_m3(self.clogging.dry_g / 1000) / self.plan.media_void_l
        strainer = min(MOST_STRAINER_LOSS, STRAINER_LOSS_PER_DAY * self.days_since_pump_clean)
        share = (1 - CLOG_LOSS * filled) * (1 - strainer)
        return self.plan.flow_m3_h * max(LEAST_FLOW_SHARE, share)

    def drain(self, seen_l: float) -> tuple[float, float]:
        """Empty the void; returns the litres expected and the factor in them, and learns from what was seen."""
        expected, factor = self.expected_l, self.correction
        if expected > 0:
            self.correction = corrected(expected, seen_l, self.correction)
        self.sediment = Sediment()
        return expected, factor

    def rinse(self, layer: int, share: float) -> None:
        """Wash out one layer, and with it this share of what clogs the stones."""
        left, self.caught[layer] = 1 - share, 0.0
        self.clogging = self.clogging.times(left)

    def _room_g(self) -> float:
        room_l = self.plan.void_l / self.plan.sediment_factor - self.sediment.litres()
        return max(0.0, room_l / fresh_litres(1.0))
