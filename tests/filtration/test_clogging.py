"""How far the stones may fill, and what a rinse of one layer takes out."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from filtration.clogging import (
    Build,
    Layers,
    bed_of,
    caught_shares,
    clogged_at_g_l,
    left_by_rinses,
)
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.blockage import calibrated, expected_flow_m3_h
from filtration.lying import carried_g
from filtration.rules import rinse, rinse_limit_g_l
from filtration.shares import Spell
from refuge.rounds.loaders import Moment, load_facts
from refuge.rules.facts import Fed
from refuge.rules.limits import LimitsFor
from tests.factories import EnclosureFactory, FeedingFactory, FilterUnitFactory, RefugeFactory
from tests.filtration.test_rules import BARREL, TODAY

COARSE, FINE = BedLayer("river_rock", 0.25), BedLayer("lava_rock", 0.35)
BUILD = Build("round", 0.57, None, 0.88, 0.2, (COARSE, FINE), 3.0, 2.6, 0.032, 0.05, 1.8)
DAY = date(2026, 6, 1)


class TestLimit:
    @pytest.mark.parametrize("share", [0.5, 0.7, 0.9])
    @pytest.mark.parametrize("layers", [(COARSE, FINE), (BedLayer("boulders", 0.25), FINE)])
    def test_with_so_much_between_the_stones_the_model_has_just_that_flow(self, layers, share):
        """By the whole filter with its pump, solved for the flow, which the limit itself does not do."""
        build = replace(BUILD, layers=layers)
        found = clogged_at_g_l(build, share)
        design = calibrated(_design(build), build.new_flow_m3_h)
        held_kg = found * design.pore_volume_m3
        assert expected_flow_m3_h(design, held_kg) == pytest.approx(share * build.new_flow_m3_h, rel=1e-3)

    def test_stones_that_never_slow_it_so_far_ask_before_they_are_full(self):
        bagged = replace(BUILD, layers=tuple(replace(each, is_bagged=True) for each in BUILD.layers))
        # 30 g/L in a full deposit, of which a twentieth of the room is left over.
        assert 0.9 * 28.8 < clogged_at_g_l(bagged, 0.7) < 28.6

    def test_without_pump_or_pipes_on_record_full_stones_are_the_limit(self):
        assert clogged_at_g_l(replace(BUILD, inlet_bore_m=None), 0.7) == pytest.approx(0.95 * 28.75, rel=0.01)
        assert (
            clogged_at_g_l(replace(BUILD, new_flow_m3_h=9.0), 0.7) is not None
        )  # more than its pump can move
        assert clogged_at_g_l(replace(BUILD, layers=()), 0.7) is None

    def test_a_managers_limit_is_the_most_that_is_waited_for(self):
        facts = replace(BARREL, clogged_g_l=25.0)
        assert rinse_limit_g_l(facts, LimitsFor({})) == 25.0
        for most, counts in ((12.0, 12.0), (60.0, 25.0)):
            own = LimitsFor({("filtration.rinse_solids_g_l", "site", 0): most})
            assert rinse_limit_g_l(facts, own) == counts
        assert rinse_limit_g_l(replace(facts, clogged_g_l=None), LimitsFor({})) == 27

    def test_due_before_the_stones_are_full(self):
        facts = replace(BARREL, clogged_g_l=25.0, carried_g=25.1 * 70, solids_g_day=10)
        due = [
            each for each in rinse(facts, LimitsFor({}), TODAY) if "Dry solids" in getattr(each, "reason", "")
        ]
        assert due[0].on <= TODAY
        assert "at 25.0 g/L 70% of its flow when new are left" in due[0].reason


def _design(build):
    from filtration.clogging import _design

    return _design(build)


class TestLayers:
    def test_what_each_layer_catches_sums_to_all(self):
        shares = caught_shares((COARSE, FINE))
        assert sum(shares) == pytest.approx(1)
        assert shares[1] > shares[0]  # finer and deeper

    def test_a_rinse_leaves_what_the_other_layers_caught(self):
        assert left_by_rinses([0.3, 0.7], [1]) == pytest.approx([0.3])
        assert left_by_rinses([0.3, 0.7], [1, 1]) == pytest.approx([0.3, 0.3])
        assert left_by_rinses([0.3, 0.7], [1, 0]) == pytest.approx([0.3, 0])

    def test_a_rinse_that_does_not_say_which_counts_as_one_of_them(self):
        assert left_by_rinses([0.3, 0.7], [None]) == pytest.approx([0.5])
        assert left_by_rinses([], [None]) == []

    def test_meals_before_a_rinse_stay_with_the_layers_it_did_not_wash(self):
        layers = Layers(
            [11, 12],
            [("river_rock", 0.25, None, None, False, None), ("lava_rock", 0.35, None, None, False, None)],
        )
        coarse, _ = layers.shares
        fed = [Fed(DAY + timedelta(days=n), DAY + timedelta(days=n + 1), 1, 20, 100) for n in range(10)]
        always = [Spell(None, None, 1.0)]
        by = list(zip(layers.keys, layers.shares, strict=True))
        full = carried_g(fed, always, [], by)
        one = carried_g(fed, always, [(DAY + timedelta(days=6), 12)], by)
        assert full == pytest.approx(300)
        assert one == pytest.approx(30 * (4 + 6 * coarse))
        both = carried_g(fed, always, [(DAY + timedelta(days=8), 11), (DAY + timedelta(days=6), 12)], by)
        assert both == pytest.approx(30 * (2 + 2 * (1 - coarse)))

    def test_stones_that_cannot_be_catch_evenly(self):
        odd = Layers([1, 2], [("lava_rock", 0.35, None, None, False, 99.0)] * 2)
        assert bed_of(tuple(odd.stones)) == ()
        assert odd.shares == [0.5, 0.5]


@pytest.mark.django_db
def test_rinsing_one_layer_leaves_what_lies_in_the_others():
    RefugeFactory()
    now = datetime(2027, 3, 10, 12, tzinfo=UTC)
    tank = EnclosureFactory()
    unit = FilterUnitFactory(circuit=tank.circuit, state_since=date(2026, 1, 1))
    for days in range(20, 60, 2):
        FeedingFactory(enclosure=tank, at=now - timedelta(days=days))
    moment = Moment(now=now, today=now.date(), zone=UTC)
    before = load_facts(None, moment).filter[unit.pk]
    coarse, fine = unit.layers.all()
    unit.maintenance.create(kind="rinse", layer=fine, at=now - timedelta(days=1))
    after = load_facts(None, moment).filter[unit.pk]
    shares = caught_shares(
        bed_of(tuple((x.medium, x.depth_m, None, None, False, None) for x in (coarse, fine)))
    )
    assert after.carried_g == pytest.approx(before.carried_g * shares[0])
    assert after.carried_g > 0
    assert before.clogged_g_l is not None
