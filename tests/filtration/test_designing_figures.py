"""The numbers of a design, how the build planner shows them, and its words for time and speed."""

import math

import pytest

from filtration.designing.assess import assess
from filtration.designing.figures import figures
from filtration.designing.words import duration, speed
from filtration.hydraulics.deposit import capacity_kg
from filtration.hydraulics.faults import back_siphon, overtopping
from filtration.hydraulics.operating_point import Fault, operating_point
from filtration.nitrification import capacity_tan_g_day
from refuge.units import US, spoken
from tests.filtration.hydraulic_designs import barrel


class TestNumbers:
    def test_they_are_those_of_the_hydraulics(self):
        design = barrel()
        numbers = assess(design, tan_g_day=2.0).numbers
        assert numbers.point == operating_point(design)
        assert numbers.half_blocked == overtopping(design, Fault(blocked_share=0.5))
        assert numbers.back_siphon == back_siphon(design)
        assert numbers.carries_tan_g_day == capacity_tan_g_day(design.media_surface_m2, 24)

    def test_supply_by_hand(self):
        numbers = assess(barrel(), tan_g_day=7.2).numbers
        daily_m3 = numbers.point.flow_m3_h * 24
        assert numbers.supply.least_tan_mg_l == pytest.approx(7.2 / daily_m3)
        # 8.42 mg/L at 24 C (EN 25814 table), 85 % of it in the tank, 2 mg/L kept; 4.57 g a gram of TAN.
        assert numbers.supply.oxygen_share == pytest.approx(
            7.2 * 4.57 / daily_m3 / (0.85 * 8.42 - 2), rel=0.005
        )

    def test_nothing_is_said_of_a_load_that_is_not_known(self):
        numbers = assess(barrel()).numbers
        assert numbers.load is None and numbers.supply is None and numbers.month_cost is None

    def test_two_side_by_side_pass_the_tank_twice_as_often(self):
        one, two = (assess(barrel(), side_by_side=n).numbers for n in (1, 2))
        assert two.turnovers_per_hour == pytest.approx(2 * one.turnovers_per_hour)

    def test_weight_is_stones_and_water(self):
        numbers = assess(barrel()).numbers
        assert numbers.filled_kg == pytest.approx(numbers.stone_kg + 1000 * numbers.water_m3)


class TestFigures:
    def test_two_designs_have_the_same_figures_to_compare(self):
        one, two = (
            {f.key: f for f in figures(assess(barrel(void_height_m=x), tan_g_day=2, price_per_kwh=0.3))}
            for x in (0.2, 0.15)
        )
        assert list(one) == list(two)

    def test_each_says_what_how_and_whose_in_both_systems(self):
        for figure in figures(assess(barrel(), tan_g_day=2, price_per_kwh=0.3, newcomer_tan_g_day=1)):
            assert figure.said and figure.how and figure.source
            assert "\u00a0cm" not in spoken(figure.said + figure.how, US)

    def test_what_the_load_does_to_the_water_is_the_same_number_as_in_its_finding(self):
        verdict = assess(barrel(), tan_g_day=6, newcomer_tan_g_day=6)
        said = {f.key: f.said for f in figures(verdict)}
        words = {f.key: f.words for f in verdict.findings}
        assert said["alkalinity_used"] in words["alkalinity_used"]
        assert said["busiest_day"].split()[0] in words["heavy_meal"]
        assert not {"alkalinity_used", "busiest_day"} & {f.key for f in figures(assess(barrel()))}

    def test_parts_of_the_head_are_named_with_their_sum(self):
        verdict = assess(barrel())
        flow = next(f for f in figures(verdict) if f.key == "flow")
        heads = verdict.numbers.point.heads
        assert f"{{length:{heads.static:.6g}}}" in flow.how
        assert f"together {{length:{heads.total:.6g}}}" in flow.how

    def test_levels_speeds_and_clogging_by_hand(self):
        verdict = assess(barrel())
        said = {f.key: f.said for f in figures(verdict)}
        how = {f.key: f.how for f in figures(verdict)}
        # The lip lies 72 cm over a floor 30 cm under the water.
        assert said["lip"] == "{length:0.42}" and "{length:0.3} below" in how["lip"]
        rise = verdict.numbers.point.flow_m3_h / 3600 / (math.pi / 4 * 0.57**2)
        assert said["pore_velocity"] == (
            f"{speed(rise / 0.42)} in river rock, {speed(rise / 0.50)} in lava rock"
        )
        clogged = operating_point(
            barrel(), Fault(held_kg=0.95 * capacity_kg(barrel().layers, barrel().section_m2))
        )
        assert said["clogged"] == f"{{flow:{clogged.flow_m3_h:.6g}}}, does not run over"

    def test_running_back_says_what_a_valve_would_keep(self):
        numbers = assess(barrel()).numbers
        with_valve = assess(barrel(guard="check_valve")).numbers.back_siphon.litres
        how = {f.key: f.how for f in figures(assess(barrel()))}["runs_back"]
        # A valve leaves what stands over the lip; it keeps the rest of the drum where it is.
        assert numbers.valve_litres == pytest.approx(with_valve, rel=0.2)
        assert numbers.valve_litres < numbers.back_siphon.litres / 3
        assert f"with a check valve {{volume:{numbers.valve_litres / 1000:.6g}}}" in how

    def test_a_filter_that_stands_still_has_no_flow_to_show(self):
        keys = {f.key for f in figures(assess(barrel(floor_above_water_m=3)))}
        assert "flow" not in keys and "carries" in keys


@pytest.mark.parametrize(("seconds", "said"), [(45, "45\u00a0s"), (600, "10\u00a0min"), (9000, "2.5\u00a0h")])
def test_durations_as_people_say_them(seconds, said):
    assert duration(seconds) == said


@pytest.mark.parametrize(
    ("m_s", "system", "said"),
    [
        (0.0021, "metric", "2.1\u00a0mm/s"),
        (1.524, "metric", "1.5\u00a0m/s"),
        (0.00254, US, "0.1\u00a0in/s"),
        (1.524, US, "5\u00a0ft/s"),
    ],
)
def test_slow_and_fast_water(m_s, system, said):
    assert spoken(speed(m_s), system) == said
