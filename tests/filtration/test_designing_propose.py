"""Designs that the build planner proposes for a load."""

from itertools import pairwise

import pytest

import filtration.rules  # noqa: F401 - its limits
from filtration.designing.assess import assess
from filtration.designing.assessment import Others
from filtration.designing.findings import WARN
from filtration.designing.propose import CONTAINERS, PUMPS, propose
from filtration.designing.words import mass, percent
from filtration.hydraulics.design import Container, Tank
from refuge.errors import OutOfRange
from refuge.rules.limits import limits
from refuge.units import US, spoken
from tests.filtration.hydraulic_designs import barrel


def _said(verdict, key):
    return next(finding.words for finding in verdict.findings if finding.key == key)


class TestPropose:
    TANK = Tank(1.1, 2.0, 0.3, 0.15)

    @pytest.mark.parametrize("load", [0.5, 4.0, 12.0])
    def test_the_best_one_does_what_was_asked(self, load):
        best = propose(load, 24, self.TANK, floor_above_water_m=-0.3)[0]
        numbers = best.verdict.numbers
        assert best.verdict.can_be_built
        assert best.count * best.each_tan_g_day == pytest.approx(load)
        assert best.count * numbers.carries_tan_g_day >= load
        assert best.count * numbers.point.flow_m3_h >= self.TANK.volume_m3
        assert not numbers.half_blocked.overtops
        assert best.design.media_top_m <= best.design.overflow_height_m

    @pytest.mark.parametrize("load", [4.0, 12.0])
    def test_ranked_by_what_it_says(self, load):
        ranked = propose(load, 24, self.TANK, floor_above_water_m=-0.3)
        order = [(p.count, p.verdict.warnings, p.verdict.numbers.capture.share < 0.6) for p in ranked]
        assert order == sorted(order)
        assert ranked[0].order.startswith("First, since it takes one filter; ")
        assert percent(ranked[0].verdict.numbers.capture.share) in ranked[0].order
        for before, each in pairwise(ranked):
            assert each.order.startswith("After the one before: ")
            if each.count != before.count:
                assert f"{each.count} filters against" in each.order
        assert len({p.design.container.name for p in ranked}) == len(ranked)

    @pytest.mark.parametrize("floor", [-0.9, -0.5, -0.2])
    @pytest.mark.parametrize("tank", [TANK, Tank(30, 25, 0.3, 0.12), Tank(0.4, 0.9, 0.3, 0.05)])
    def test_nothing_is_advised_and_forbidden_at_once(self, floor, tank):
        for found in propose(4.0, 24, tank, floor_above_water_m=floor):
            keys = {finding.key for finding in found.verdict.findings}
            assert found.verdict.can_be_built
            assert not keys & {"lip_under_water", "lip_low", "lip_under_rim"}
            assert found.design.floor_above_water_m == pytest.approx(floor + found.stand_m)
            assert bool(found.cautions) == (found.stand_m > 0)

    def test_a_low_container_is_proposed_on_the_stand_it_needs(self):
        stock = CONTAINERS[4]
        [found] = propose(4.0, 24, self.TANK, floor_above_water_m=-0.5, containers=[stock])
        numbers = found.verdict.numbers
        assert found.stand_m >= 0.05 and numbers.lip_above_rim_m >= 0
        assert mass(numbers.filled_kg) in found.cautions[0]
        assert "tips it over" in found.cautions[0]
        assert propose(4.0, 24, self.TANK, floor_above_water_m=-2.5, containers=[stock]) == []

    @pytest.mark.parametrize("load", [0.5, 4.0, 12.0])
    def test_what_is_wanted_still_flows_when_a_rinse_falls_due(self, load):
        limit = limits["filtration.rinse_flow_share"]
        for each in propose(load, 24, self.TANK, floor_above_water_m=-0.3):
            at_rinse = each.count * each.verdict.numbers.point.flow_m3_h * limit.default
            assert at_rinse >= max(self.TANK.volume_m3, load / 24)

    @pytest.mark.parametrize(
        "tank", [TANK, Tank(1.1, 2.0, 0.4, 0.15, is_outdoor=True), Tank(0.4, 0.9, 0.1, 0.05)]
    )
    def test_no_margin_of_the_intake_is_given_away_in_silence(self, tank):
        for each in propose(4.0, 24, tank, floor_above_water_m=-0.3):
            keys = {finding.key for finding in each.verdict.findings if finding.severity == WARN}
            depth, days = each.design.tank.over_intake_m, each.verdict.numbers.days_to_dry
            assert depth == tank.over_intake_m or (depth >= 0.15 and days >= 14)
            assert ("shallow_intake" in keys) == (depth < 0.15)
            lost = each.verdict.numbers.shut.litres / 1000 > 0.1 * tank.volume_m3
            assert ("return_shut" in keys) == lost

    def test_a_shut_return_loses_little_by_the_intake_that_is_proposed(self):
        deep = Tank(4.0, 2.0, 0.4, 0.15)
        best = propose(4.0, 24, deep, floor_above_water_m=-0.3)[0]
        assert 0.15 <= best.design.tank.over_intake_m < deep.over_intake_m
        assert best.verdict.numbers.shut.litres <= 0.1 * 4000 + 1e-6
        assert "strainer" in " ".join(best.why)
        assert "return_shut" not in {f.key for f in best.verdict.findings if f.severity == WARN}

    def test_beside_a_filter_that_runs_a_smaller_one_does(self):
        tank = Tank(3.0, 3.0, 0.3, 0.15)
        whole = propose(8.0, 24, tank, floor_above_water_m=-0.3)[0]
        rest = propose(0.5, 24, tank, floor_above_water_m=-0.3, others=Others(7.5, 2.5))[0]
        assert rest.verdict.numbers.point.flow_m3_h < whole.verdict.numbers.point.flow_m3_h
        assert rest.verdict.numbers.turnovers_per_hour >= 1
        assert rest.design.media_volume_m3 <= whole.design.media_volume_m3

    def test_warm_water_needs_no_more_stones_than_cold(self):
        drum = CONTAINERS[1]
        warm, cold = (propose(4.0, t, self.TANK, containers=[drum])[0] for t in (28, 16))
        warm_m3, cold_m3 = (p.count * p.design.media_volume_m3 for p in (warm, cold))
        assert warm_m3 <= cold_m3

    def test_too_much_for_one_drum_takes_several(self):
        several = propose(12.0, 24, self.TANK, containers=[CONTAINERS[1]])[0]
        assert several.count > 1
        assert "side by side" in several.why[0]

    def test_a_pond_that_no_one_pump_turns_over_takes_several(self):
        # Common practice, no source: a pond's water once in two hours; 100 m3 want 50 m3/h in all.
        pond = Tank(100, 90, 0.3, 0.15)
        best = propose(2.0, 20, pond)[0]
        assert best.count > 1 and best.verdict.can_be_built
        flows = best.count * best.verdict.numbers.point.flow_m3_h
        assert 50 <= flows < 100
        assert "turnover" not in {finding.key for finding in best.verdict.findings}
        assert "For a pond once in two hours" in _said(assess(barrel(tank=pond)), "turnover")
        assert ". Once is the usual least" in _said(assess(barrel(tank=Tank(10, 9, 0.3, 0.15))), "turnover")

    def test_why_speaks_both_systems(self):
        for proposal in propose(4.0, 24, self.TANK):
            text = spoken(" ".join(proposal.why), US)
            assert "{" not in text and "gal" in text

    def test_no_pump_that_lifts_means_no_proposal(self):
        assert propose(4.0, 24, self.TANK, floor_above_water_m=2.0, pumps=PUMPS[:1]) == []

    def test_container_without_room_for_stones_is_left_out(self):
        low = Container("dish", "round", 1.0, 0.4)
        assert propose(4.0, 24, self.TANK, containers=[low]) == []

    def test_no_load_is_refused(self):
        with pytest.raises(OutOfRange, match="tan_g_day"):
            propose(0, 24, self.TANK)

    def test_pumps_are_tried_from_the_smallest(self):
        powers = [pump.power_w for pump in PUMPS]
        assert powers == sorted(powers)
