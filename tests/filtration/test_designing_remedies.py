"""The sizes that the build planner names as remedies do what it says."""

from dataclasses import replace

import pytest

from filtration.designing.remedies import (
    inlet_that_is_slow_enough,
    return_that_holds,
    return_words,
    valve_for_flow,
)
from filtration.hydraulics.faults import overtopping
from filtration.hydraulics.operating_point import Fault, operating_point
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import STANDARD_BORES_M, Pipe, Valve
from filtration.hydraulics.pump import ParabolicCurve, Pump
from tests.filtration.hydraulic_designs import barrel


class TestRemedies:
    @pytest.mark.parametrize("bore", [0.021, 0.030, 0.041])
    def test_the_return_it_names_holds_and_the_next_narrower_does_not(self, bore):
        design = barrel(back=Return(Pipe(bore, 1.0)))
        better, count = return_that_holds(design)
        assert count == 1
        assert not _half_blocked(design, better).overtops
        narrower = max(x for x in (bore, *STANDARD_BORES_M) if x < better)
        assert _half_blocked(design, narrower).overtops

    def test_no_return_fits_above_a_lip_at_the_rim(self):
        high = barrel(overflow_height_m=0.855, back=Return(Pipe(0.021, 1.0)))
        assert return_that_holds(high) is None
        assert "set the lip lower" in return_words(high)

    def test_the_inlet_it_names_is_slow_enough(self):
        design = barrel(inlet=Pipe(0.0209, 2.5))
        bore = inlet_that_is_slow_enough(design, 1.5)
        assert operating_point(replace(design, inlet=Pipe(bore, 2.5))).inlet_velocity_m_s <= 1.5
        narrower = max(x for x in STANDARD_BORES_M if x < bore)
        assert operating_point(replace(design, inlet=Pipe(narrower, 2.5))).inlet_velocity_m_s > 1.5

    @pytest.mark.parametrize("wanted", [1.0, 1.5, 2.5])
    def test_the_valve_set_as_it_says_gives_the_flow(self, wanted):
        design = barrel()
        valve = Valve("ball", valve_for_flow(design, wanted))
        throttled = replace(design, inlet=replace(design.inlet, valve=valve))
        assert operating_point(throttled).flow_m3_h == pytest.approx(wanted, rel=1e-6)

    def test_what_a_valve_cannot_do_it_is_not_said_to(self):
        assert valve_for_flow(barrel(), 0.5) is None  # more closed than the table knows
        assert valve_for_flow(barrel(), 3.5) is None
        assert valve_for_flow(barrel(), 5.0) is None
        assert valve_for_flow(barrel(inlet=Pipe(0.0266, 2.5)), 1.0) is None

    def test_a_flood_through_one_pipe_is_no_inlet(self):
        huge = barrel(
            pump=Pump(ParabolicCurve(60, 900)), inlet=Pipe(0.05, 1), back=Return(Pipe(0.3, 1.0), count=20)
        )
        assert inlet_that_is_slow_enough(huge, 1.5) is None


def _half_blocked(design, bore):
    pipe = replace(design.back.pipe, bore_m=bore)
    return overtopping(replace(design, back=replace(design.back, pipe=pipe)), Fault(blocked_share=0.5))
