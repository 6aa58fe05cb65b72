"""What people who build such filters see. Each is common practice, no source."""

from dataclasses import replace

import pytest

from filtration.designing.assess import assess
from filtration.hydraulics.blockage import expected_flow_m3_h
from filtration.hydraulics.deposit import capacity_kg
from filtration.hydraulics.operating_point import Fault, operating_point
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import Pipe
from filtration.hydraulics.pump import ParabolicCurve, Pump
from filtration.hydraulics.settling import capture
from filtration.solids import DEFAULT_MODEL
from tests.filtration.hydraulic_designs import ONE_INCH, TWO_INCH, barrel

BARREL = barrel(guard="check_valve", grate_open_share=0.4)


@pytest.mark.parametrize(("most", "head"), [(2.5, 2.0), (3.0, 2.2), (4.0, 2.5), (4.5, 3.0)])
def test_barrel_runs_at_a_few_cubic_metres_without_overtopping(most, head):
    """A 0.2 m void under river rock and lava rock in a food-grade drum, 1 in inlet, 2 in return."""
    verdict = assess(replace(BARREL, pump=Pump(ParabolicCurve(head, most), 60)))
    assert 1.0 < verdict.numbers.point.flow_m3_h < 4.0
    assert not verdict.numbers.running.overtops
    assert verdict.can_be_built


def test_a_pond_pump_on_a_barrel_runs_over_and_it_says_why():
    pond = replace(BARREL, pump=Pump(ParabolicCurve(6.0, 14.0), 400), inlet=Pipe(TWO_INCH, 2.5))
    verdict = assess(pond)
    assert not verdict.can_be_built
    reasons = {finding.key: finding for finding in verdict.findings}
    assert "the return cannot carry the pump's flow" in reasons["overtops"].words
    assert "2 returns" in reasons["overtops"].would_do and "smaller pump" in reasons["overtops"].would_do


def test_a_return_no_wider_than_the_inlet_runs_over():
    verdict = assess(replace(BARREL, back=Return(Pipe(ONE_INCH, 1.0))))
    assert verdict.numbers.running.overtops


def test_clean_stones_hardly_hold_the_water_back():
    heads = operating_point(BARREL).heads
    assert heads.media < 0.01 * heads.total


def test_bagged_lava_rock_lets_some_water_by():
    loose = BARREL.layers[1]
    bagged = replace(BARREL, layers=(BARREL.layers[0], replace(loose, is_bagged=True)))
    assert 0.1 < operating_point(bagged).heads.layers[1].bypass_share < 0.5


def test_a_neglected_filter_slows_late_and_then_fast():
    """Flow tells little while the stones fill, then falls within the last fifth."""
    most, clean = capacity_kg(BARREL.layers, BARREL.section_m2), operating_point(BARREL).flow_m3_h
    assert expected_flow_m3_h(BARREL, 0.5 * most) > 0.95 * clean
    assert expected_flow_m3_h(BARREL, 0.98 * most) < 0.7 * clean


def test_void_keeps_about_as_much_as_its_sediment_is_reckoned_with():
    kept = capture(operating_point(BARREL).void_velocity_m_s, 24)
    assert kept.low < DEFAULT_MODEL.capture_share < kept.high
    assert kept.share == pytest.approx(DEFAULT_MODEL.capture_share, abs=0.15)


def test_a_pump_that_stops_drains_an_unguarded_barrel_through_its_inlet():
    numbers = assess(barrel()).numbers
    assert numbers.back_siphon.litres > 30
    assert assess(BARREL).numbers.back_siphon.litres < 20


def test_a_mat_of_leaves_over_the_overflow_is_the_way_barrels_flood():
    """Clogged stones do not: they starve the overflow."""
    shut = assess(BARREL).numbers.shut
    assert shut.overtops and shut.litres > 100
    clogged = operating_point(BARREL, Fault(media_factor=1e5))
    assert clogged.heads.over_lip < operating_point(BARREL).heads.over_lip
