"""The filter as a whole: operating point, faults, what a bucket test says."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.blockage import calibrated, expected_flow_m3_h, explain_flow
from filtration.hydraulics.deposit import capacity_kg
from filtration.hydraulics.design import Container, Tank, round_drum
from filtration.hydraulics.faults import (
    back_siphon,
    clogging_factor_that_stops,
    days_to_dry_pump,
    overtopping,
)
from filtration.hydraulics.operating_point import (
    Fault,
    heads_at,
    monthly_cost,
    operating_point,
    water_power_w,
)
from filtration.hydraulics.pump import ParabolicCurve, PointCurve, Pump
from refuge.errors import OutOfRange
from tests.filtration.hydraulic_designs import BARREL, barrel

SOUND = barrel()
SECTION = math.pi / 4 * 0.57**2


class TestOperatingPoint:
    def test_pump_gives_what_the_filter_asks(self):
        point = operating_point(SOUND)
        assert point.lifts and point.known and point.short_by_m == 0
        assert SOUND.pump.curve.head_m(point.flow_m3_h) == pytest.approx(point.heads.total, abs=1e-6)

    def test_parts_of_the_head_are_those_of_their_makers(self):
        heads = operating_point(SOUND).heads
        parts = heads.static + heads.over_lip + heads.pipe.total_m + heads.grate + sum(heads.layer_losses)
        assert heads.total == pytest.approx(parts)
        assert heads.static == pytest.approx(0.72 - 0.3)

    @settings(max_examples=40)
    @given(st.floats(0, 1.5), st.floats(0, 1.5))
    def test_flow_falls_as_the_filter_stands_higher(self, a, b):
        low, high = (operating_point(barrel(floor_above_water_m=x)) for x in sorted((a, b)))
        assert high.flow_m3_h <= low.flow_m3_h + 1e-9

    @settings(max_examples=40)
    @given(st.floats(0.5, 30), st.floats(0.5, 30))
    def test_flow_falls_as_the_pipe_grows_longer(self, a, b):
        near, far = (
            operating_point(replace(SOUND, inlet=replace(SOUND.inlet, length_m=x))) for x in sorted((a, b))
        )
        assert far.flow_m3_h <= near.flow_m3_h + 1e-9

    @pytest.mark.parametrize("material", ["smooth_hose", "slimed_plastic", "ribbed_hose"])
    def test_rougher_pipe_carries_less(self, material):
        rough = replace(SOUND, inlet=replace(SOUND.inlet, material=material))
        assert operating_point(rough).flow_m3_h < operating_point(SOUND).flow_m3_h

    def test_pump_that_cannot_lift_says_by_how_much(self):
        point = operating_point(barrel(floor_above_water_m=2.0))
        assert not point.lifts
        assert point.flow_m3_h == 0
        assert point.short_by_m == pytest.approx(2.0 + 0.72 - 2.5)
        assert point.media_contact_s == math.inf

    def test_velocities_and_times_by_hand(self):
        point = operating_point(SOUND)
        flow = point.flow_m3_h / 3600
        assert point.void_velocity_m_s == pytest.approx(flow / SECTION)
        assert point.turnovers_per_hour == pytest.approx(point.flow_m3_h / 1.1)
        assert point.contact_s == pytest.approx((SECTION * 0.2 * 0.42 / flow, SECTION * 0.28 * 0.50 / flow))
        assert point.heads.layers[1].pore_velocity_m_s == pytest.approx(flow / SECTION / 0.5)

    def test_flow_beyond_the_data_sheet_is_marked(self):
        curve = PointCurve(((0, 2.5), (1, 2.4)))
        assert not operating_point(barrel(pump=Pump(curve))).known

    def test_water_takes_up_less_than_the_plate_says(self):
        assert 0 < water_power_w(operating_point(SOUND), 24) < 60

    def test_month_costs_by_hand(self):
        assert monthly_cost(SOUND, 0.30) == pytest.approx(0.060 * 24 * 365.25 / 12 * 0.30)
        assert monthly_cost(barrel(pump=Pump(ParabolicCurve(2.5, 4))), 0.30) is None

    def test_check_valve_costs_flow_once(self):
        guarded = replace(SOUND, guard="check_valve")
        named = replace(guarded, inlet=replace(SOUND.inlet, fittings=(("elbow_90", 3), ("check_valve", 1))))
        flows = [operating_point(x).flow_m3_h for x in (SOUND, guarded, named)]
        assert flows[0] > flows[1] == flows[2]

    def test_shut_return_passes_nothing(self):
        assert operating_point(SOUND, Fault(blocked_share=1.0)).flow_m3_h == 0


class TestOvertopping:
    @pytest.mark.parametrize("factor", [1, 100, 1e4, 1e6])
    def test_clogged_stones_never_overtop(self, factor):
        result = overtopping(SOUND, Fault(media_factor=factor))
        assert not result.overtops
        assert result.level_m <= overtopping(SOUND).level_m

    @settings(max_examples=30)
    @given(st.floats(0, 1), st.floats(0, 1))
    def test_more_blockage_stands_higher_and_spills_more(self, a, b):
        less, more = (overtopping(SOUND, Fault(blocked_share=x)) for x in sorted((a, b)))
        assert more.level_m >= less.level_m - 1e-9
        assert more.litres >= less.litres - 1e-6
        assert 0 <= more.level_m <= SOUND.freeboard_over_lip_m

    def test_shut_return_empties_the_tank_to_the_intake(self):
        result = overtopping(SOUND, Fault(blocked_share=1.0))
        assert result.overtops
        # What fills the drum from its running level to the rim stays in it; the rest of the 600 L goes over.
        filling = SECTION * (0.86 - 0.72 - operating_point(SOUND).heads.over_lip) * 1000
        assert filling > 15
        assert result.litres == pytest.approx(2.0 * 0.3 * 1000 - filling)
        # Never faster than at first; slower as the falling tank adds to the lift.
        assert result.hours_to_dry > result.litres / 1000 / result.spill_m3_h

    def test_a_rounding_above_the_rim_is_the_rim(self):
        drum = replace(BARREL, height_m=1.5325177156194811)
        assert overtopping(
            barrel(container=drum, overflow_height_m=0.3902985623557117), Fault(blocked_share=1.0)
        )

    def test_tank_too_small_to_fill_the_drum_runs_dry_without_a_spill(self):
        # 10 L over the intake, and the drum takes more than 15 L up to its rim.
        small = barrel(tank=Tank(0.3, 0.5, 0.02, 0.15))
        result = overtopping(small, Fault(blocked_share=1.0))
        assert not result.overtops and result.litres == 0
        before = operating_point(small).heads.over_lip
        assert result.level_m == pytest.approx(before + 0.010 / SECTION)
        assert 0 < result.hours_to_dry < 0.01

    def test_weak_pump_stops_at_the_level_it_can_reach(self):
        # Shut-off 0.10 m over the rim: once the tank has fallen so far, nothing spills any more.
        rim = SOUND.floor_above_water_m + BARREL.height_m
        result = overtopping(barrel(pump=Pump(ParabolicCurve(rim + 0.10, 4.0))), Fault(blocked_share=1.0))
        weak = barrel(pump=Pump(ParabolicCurve(rim + 0.10, 4.0)))
        filling = SECTION * (0.86 - 0.72 - operating_point(weak).heads.over_lip) * 1000
        assert result.litres == pytest.approx(2.0 * 0.10 * 1000 - filling, rel=0.01)
        assert result.hours_to_dry is None

    def test_pump_that_does_not_reach_the_rim_never_spills(self):
        rim = SOUND.floor_above_water_m + BARREL.height_m
        weak = barrel(pump=Pump(ParabolicCurve(rim - 0.02, 4.0)))
        assert not overtopping(weak, Fault(blocked_share=1.0)).overtops


class TestBackSiphon:
    def test_water_is_neither_made_nor_lost(self):
        result = back_siphon(SOUND)
        start = 0.72 + operating_point(SOUND).heads.over_lip
        gone = SOUND.water_below_m3(start) - SOUND.water_below_m3(result.level_m)
        assert result.litres == pytest.approx(gone * 1000)
        assert result.tank_rise_m * 2.0 == pytest.approx(gone)
        # It ends with both waters level.
        assert SOUND.floor_above_water_m + result.level_m == pytest.approx(result.tank_rise_m, abs=1e-6)
        assert result.bares_media

    def test_check_valve_keeps_the_filter_full(self):
        result = back_siphon(replace(SOUND, guard="check_valve"))
        assert result.level_m == pytest.approx(0.72)
        assert not result.bares_media
        valve = replace(SOUND, inlet=replace(SOUND.inlet, fittings=(("elbow_90", 3), ("check_valve", 1))))
        assert result.unguarded_litres == pytest.approx(back_siphon(valve).litres)

    def test_siphon_break_stops_at_its_hole(self):
        # The floor lies 0.3 m below the water: a hole 0.70 m over the floor is 0.40 m over the water.
        over = replace(
            SOUND,
            guard="siphon_break",
            guard_height_m=0.70,
            inlet_crest_above_water_m=0.7 + SOUND.floor_above_water_m,
        )
        assert back_siphon(over).level_m == pytest.approx(0.70)

    def test_a_siphon_break_above_the_pipe_stops_nothing(self):
        through_the_wall = replace(SOUND, guard="siphon_break", guard_height_m=0.70)
        assert through_the_wall.siphon_break_over_pipe_m == pytest.approx(0.4)
        assert back_siphon(through_the_wall) == back_siphon(SOUND)

    def test_small_tank_overflows(self):
        small = barrel(tank=Tank(0.3, 0.5, 0.2, 0.05))
        assert back_siphon(small).tank_overflows

    def test_barrel_high_above_empties_to_the_inlet(self):
        high = barrel(floor_above_water_m=0.2, inlet_mouth_height_m=0.05)
        assert back_siphon(high).level_m == pytest.approx(0.05)


class TestBucketTest:
    @settings(max_examples=30)
    @given(st.floats(0, 0.99), st.floats(0, 0.99))
    def test_flow_falls_with_solids_in_the_stones(self, a, b):
        most = capacity_kg(SOUND.layers, SOUND.section_m2)
        clean, fouled = (expected_flow_m3_h(SOUND, x * most) for x in sorted((a, b)))
        assert fouled <= clean + 1e-9

    @pytest.mark.parametrize("flow", [1.2, 2.0, 2.6, 3.0])
    def test_calibrated_filter_has_the_flow_it_was_measured_at(self, flow):
        assert operating_point(calibrated(SOUND, flow)).flow_m3_h == pytest.approx(flow, rel=1e-6)

    def test_each_explanation_gives_the_measured_flow(self):
        why, new = explain_flow(SOUND, 1.3, 1.9), calibrated(SOUND, 1.9)
        assert why.missing_head_m > 0 and why.share_of_new == pytest.approx(1.3 / 1.9)
        by_solids = operating_point(new, Fault(held_kg=why.held_kg))
        fouled = replace(new.inlet, extra_k=new.inlet.extra_k + why.strainer_k)
        by_strainer = operating_point(replace(new, inlet=fouled))
        by_pump = operating_point(new, Fault(pump_share=why.pump_share))
        for point in (by_solids, by_strainer, by_pump):
            assert point.flow_m3_h == pytest.approx(1.3, rel=1e-3)

    def test_unchanged_flow_needs_no_explanation(self):
        why = explain_flow(SOUND, 1.9, 1.9)
        assert why.missing_head_m < 1e-9
        assert why.pump_share == pytest.approx(1)
        assert why.held_kg == pytest.approx(0, abs=0.05)

    def test_flow_beyond_the_pump_is_refused(self):
        with pytest.raises(OutOfRange, match="greatest flow"):
            explain_flow(SOUND, 4.5, 1.9)

    def test_clogging_that_halves_the_flow(self):
        flow = operating_point(SOUND).flow_m3_h / 2
        factor = clogging_factor_that_stops(SOUND, flow)
        assert operating_point(SOUND, Fault(media_factor=factor)).flow_m3_h == pytest.approx(flow, rel=1e-4)


class TestDesign:
    def test_water_in_the_barrel_by_hand(self):
        assert SOUND.water_below_m3(0.1) == pytest.approx(SECTION * 0.1)
        assert SOUND.water_below_m3(0.4) == pytest.approx(SECTION * (0.2 + 0.2 * 0.42))
        assert SOUND.water_below_m3(0.72) == pytest.approx(SECTION * (0.2 + 0.084 + 0.14 + 0.04))
        assert SOUND.pore_volume_m3 == pytest.approx(SECTION * (0.084 + 0.14))

    def test_drum_by_volume(self):
        drum = round_drum("208 L", 208, 0.57)
        assert drum.volume_m3 == pytest.approx(0.208)

    @pytest.mark.parametrize(
        "changes",
        [
            {"void_height_m": 0},
            {"overflow_height_m": math.nan},
            {"temperature_c": 50},
            {"guard": "luck"},
            {"grate_open_share": 0},
            {"inlet_mouth_height_m": 2},
            {"guard": "siphon_break"},
        ],
    )
    def test_sizes_that_cannot_be_are_refused(self, changes):
        with pytest.raises(OutOfRange):
            barrel(**changes)

    def test_oval_and_rectangle_have_their_own_section(self):
        crate = Container("crate", "rectangle", 1.2, 0.9, 0.8)
        assert barrel(container=crate).section_m2 == pytest.approx(0.96)

    def test_evaporation_by_hand(self):
        # 25 kg/h per m2 and unit of humidity ratio, from 24 C water into air at 22 C and half saturation.
        from filtration.hydraulics.evaporation import humidity_ratio

        daily = 25 * 2.0 * (humidity_ratio(24, 1) - humidity_ratio(22, 0.5)) * 24 / 1000
        assert days_to_dry_pump(SOUND) == pytest.approx(0.3 * 2.0 / daily)

    def test_a_pond_in_a_dry_wind_loses_many_times_more(self):
        """Engineering ToolBox, Evaporation from water surfaces: (25 + 19 v) kg/h per m2. Beside a class A pan's 5 to 15 mm
        a day in warm months (recalled) the wind that is reckoned with is a hard case, not an impossible one."""
        from filtration.hydraulics.evaporation import DRY_WIND, daily_evaporation_m3, humidity_ratio

        pond = barrel(tank=replace(SOUND.tank, is_outdoor=True))
        daily = (25 + 19 * 2.0) * 2.0 * (humidity_ratio(24, 1) - humidity_ratio(24, 0.3)) * 24 / 1000
        assert days_to_dry_pump(pond) == pytest.approx(0.3 * 2.0 / daily)
        assert days_to_dry_pump(SOUND) > 3 * days_to_dry_pump(pond)
        assert 0.010 < daily_evaporation_m3(1, 24, DRY_WIND) < 0.025

    def test_all_surfaces_lose_water_and_the_level_falls_where_the_pump_stands(self):
        sump = barrel(tank=replace(SOUND.tank, surface_m2=0.5, open_surface_m2=2.0))
        assert days_to_dry_pump(sump) == pytest.approx(days_to_dry_pump(SOUND) / 4)

    def test_heads_without_stones(self):
        bare = barrel(layers=())
        assert heads_at(bare, 2.0).media == 0
        assert operating_point(bare).lift_margin == math.inf

    def test_measured_values_of_a_layer_win(self):
        layer = BedLayer("lava_rock", 0.3, void_fraction=0.4, specific_surface_m2_m3=200)
        assert (layer.porosity, layer.surface_m2_m3) == (0.4, 200)
