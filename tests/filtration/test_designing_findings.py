"""What the build planner finds in a design: faults, notes, and that each remedy removes its finding."""

import re
from dataclasses import replace

import pytest

from filtration.designing.assess import assess
from filtration.designing.assessment import NO_OTHERS, Others
from filtration.designing.findings import NOTE, SEVERITIES, STOP, WARN
from filtration.designing.steps import build_steps
from filtration.designing.words import length
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import Container, Tank
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import Pipe
from filtration.hydraulics.pump import ParabolicCurve, PointCurve, Pump
from husbandry.bioload import busiest_day_share
from refuge.units import US, spoken
from tests.filtration.hydraulic_designs import GOOD, TWO_INCH, barrel

# An inlet over the container's rim, with a hole a little under the water's surface.
OVER_THE_RIM = {"guard": "siphon_break", "guard_height_m": 0.70, "inlet_crest_above_water_m": 0.6}
SMALL_RETURN = Return(Pipe(0.021, 1.0))


def keys(design, severity=None, **load):
    found = assess(design, **load).findings
    return {finding.key for finding in found if severity in (None, finding.severity)}


class TestFindings:
    def test_good_design_can_be_built(self):
        verdict = assess(barrel(**GOOD), tan_g_day=0.3, price_per_kwh=0.3)
        assert verdict.can_be_built
        assert {finding.key for finding in verdict.findings if finding.severity == WARN} == {
            "guard_sticks",
            "return_shut",
        }

    def test_a_check_valve_that_sticks_is_judged_by_what_it_lets_through(self):
        """Dirt holds valves open (common practice, no source): a tank that would run over then is no footnote."""
        brim = assess(barrel(**GOOD | {"tank": Tank(1.1, 0.4, 0.3, 0.12)}))
        back, said = (
            brim.numbers.back_siphon,
            {each.key: each.words for each in brim.findings}["guard_sticks"],
        )
        bare = assess(barrel(**GOOD | {"tank": Tank(1.1, 0.4, 0.3, 0.12), "guard": "none"}))
        assert back.unguarded_rise_m == pytest.approx(
            bare.numbers.back_siphon.tank_rise_m, rel=0.02
        )  # the open valve has a loss
        assert not back.tank_overflows and back.unguarded_overflows and back.unguarded_bares
        assert length(back.unguarded_rise_m) in said and "over its rim" in said

    @pytest.mark.parametrize(
        ("key", "severity", "changes"),
        [
            ("pump_cannot_lift", STOP, {"floor_above_water_m": 2.5}),
            ("pump_cannot_start", STOP, {"inlet_crest_above_water_m": 2.6}),
            ("siphon_break_off_pipe", STOP, {"guard": "siphon_break", "guard_height_m": 0.69}),
            ("overflow_above_rim", STOP, {"overflow_height_m": 0.83}),
            ("media_above_overflow", STOP, {"layers": (BedLayer("lava_rock", 0.6),)}),
            ("lip_under_water", STOP, {"floor_above_water_m": -0.9}),
            ("lip_low", WARN, {"floor_above_water_m": -0.715}),
            ("overtops", STOP, {"back": SMALL_RETURN}),
            ("half_blocked", WARN, {"back": Return(Pipe(0.041, 1.0))}),
            ("void_low", WARN, {"void_height_m": 0.1}),
            ("floating_media", WARN, {"layers": (BedLayer("plastic_balls", 0.4),)}),
            ("fast_inlet", WARN, {"inlet": Pipe(0.0209, 2.5)}),
            ("void_too_fast", WARN, {"container": Container("pipe", "round", 0.25, 0.86)}),
            ("turnover", WARN, {"tank": Tank(10, 10, 0.3, 0.1)}),
            ("turnover", NOTE, {"tank": Tank(0.3, 0.8, 0.3, 0.2)}),
            ("runs_back", WARN, {}),
            ("runs_back_over", STOP, {"tank": Tank(1.1, 0.4, 0.3, 0.01)}),
            (
                "guard",
                NOTE,
                {"guard": "check_valve", "floor_above_water_m": -0.69, "tank": Tank(1.1, 2.0, 0.3, 0.5)},
            ),
            ("guard", NOTE, OVER_THE_RIM),
            ("guard_sticks", WARN, {"guard": "check_valve"}),
            ("guard_sticks", WARN, OVER_THE_RIM | {"tank": Tank(1.1, 0.4, 0.3, 0.05)}),
            ("no_grate", NOTE, {}),
            ("heavy", NOTE, {}),
            ("settles", NOTE, {}),
            ("stones_may_lift", NOTE, {}),
            ("bags_bypassed", NOTE, {"layers": (BedLayer("lava_rock", 0.4, is_bagged=True),)}),
            ("half_blocked_holds", NOTE, {}),
            ("return_shut", WARN, {}),
            ("slow_inlet", NOTE, {"inlet": Pipe(0.06, 2.5)}),
            ("return_full", NOTE, {"back": Return(Pipe(TWO_INCH, 1.0), fall_m=0.001)}),
            ("evaporates", WARN, {"tank": Tank(1.1, 0.1, 0.1, 0.5, open_surface_m2=5)}),
            ("first_filling", NOTE, {"tank": Tank(1.1, 0.3, 0.3, 0.5)}),
            ("beyond_curve", NOTE, {"pump": Pump(PointCurve(((0, 2.5), (1, 2.4))), 60)}),
            ("power_unknown", NOTE, {"pump": Pump(ParabolicCurve(2.5, 4))}),
        ],
    )
    def test_each_fault_is_found(self, key, severity, changes):
        found = assess(barrel(**changes))
        assert (key, severity) in {(finding.key, finding.severity) for finding in found.findings}
        assert found.can_be_built == (STOP not in {finding.severity for finding in found.findings})

    @pytest.mark.parametrize(
        ("key", "changes"),
        [
            ("overtops", {}),
            ("half_blocked", {}),
            ("lip_low", {}),
            ("fast_inlet", {"inlet": Pipe(TWO_INCH, 2.5)}),
            ("runs_back", {"guard": "check_valve"}),
            ("no_grate", {"grate_open_share": 0.4}),
            ("return_shut", {"tank": Tank(1.1, 2.0, 0.02, 0.15)}),
        ],
    )
    def test_each_remedy_removes_its_finding(self, key, changes):
        assert (key, WARN) not in {(f.key, f.severity) for f in assess(barrel(**changes)).findings}
        assert key not in keys(barrel(**changes), STOP)

    @pytest.mark.parametrize(("share", "severity"), [(0.5, None), (0.9, WARN), (1.1, STOP)])
    def test_load_against_what_it_carries(self, share, severity):
        carries = assess(barrel()).numbers.carries_tan_g_day
        found = {f.key: f.severity for f in assess(barrel(), tan_g_day=carries * share).findings}
        assert found.get("load") == severity

    def test_alkalinity_used_up_faster_than_weekly_changes_bring_it_back(self):
        """1 g of ammonia nitrogen takes 7.14 g of CaCO3 (stoichiometry of nitrification); the fall by trial, week by week."""
        found = {f.key: f for f in assess(barrel(), tan_g_day=2.0).findings}["alkalinity_used"]
        used = 7 * 2.0 * 7.14 / barrel().tank.volume_m3
        said = [float(each) for each in re.findall(r"(\d+)\u00a0mg/L", found.words)]
        below = 0.0
        for _ in range(100):
            below = 0.75 * below + used
        assert said == [pytest.approx(used, rel=0.01), pytest.approx(below, rel=0.01)]
        # By hand: 84.007 g of NaHCO3 stand for 50.0435 g of CaCO3; 70 mg/L below the new water's is what is left to changes.
        grams = (used - 0.25 * 70) * barrel().tank.volume_m3 * 84.007 / 50.0435
        said_g = float(re.search(r"([\d.]+)\u00a0g of sodium bicarbonate", found.would_do)[1])
        assert said_g == pytest.approx(grams, rel=0.05)
        dosed = 0.0
        for _ in range(100):
            dosed = 0.75 * dosed + used - grams * 50.0435 / 84.007 / barrel().tank.volume_m3
        assert dosed == pytest.approx(70)
        assert "{" not in found.words + found.would_do  # grams of what is dosed are the same for everybody
        assert "alkalinity_used" not in keys(barrel(tank=Tank(11.0, 2.0, 0.3, 0.5)), tan_g_day=2.0)
        assert "alkalinity_used" in keys(barrel(), tan_g_day=0.2, others=Others(1.8, None))
        assert "alkalinity_used" not in keys(barrel())

    def test_a_weekly_meal_is_judged_by_its_busiest_day(self):
        carries = assess(barrel()).numbers.carries_tan_g_day
        load = {"tan_g_day": 0.7 * carries, "newcomer_tan_g_day": 0.7 * carries}
        found = {f.key: f for f in assess(barrel(), **load).findings}
        share = busiest_day_share(barrel().temperature_c, 7)
        rise = (7 * 0.7 * carries * share - carries) / barrel().tank.volume_m3
        assert f"rises by {rise:.1f}\u00a0mg/L" in found["heavy_meal"].words
        assert "load" not in found
        assert "heavy_meal" not in keys(barrel(), **load | {"newcomer_tan_g_day": carries / 9})
        assert "heavy_meal" not in keys(barrel(), tan_g_day=0.7 * carries)
        pond = replace(barrel().tank, volume_m3=30.0, surface_m2=30.0)
        assert "heavy_meal" not in keys(barrel(tank=pond), **load)  # less of a rise than a kit tells
        spare = Others(0.0, None, spare_tan_g_day=carries)
        assert "heavy_meal" not in keys(barrel(), **load, others=spare)

    def test_a_change_of_the_share_it_names_keeps_the_alkalinity(self):
        found = {f.key: f for f in assess(barrel(), tan_g_day=0.9).findings}["alkalinity_used"]
        share = float(re.match(r"(\d+)", found.would_do)[1]) / 100
        used, below = 7 * 0.9 * 7.14 / barrel().tank.volume_m3, 0.0
        for _ in range(200):
            below = (1 - share) * below + used
        assert below == pytest.approx(70, rel=0.02)

    def test_trickle_brings_too_little_for_the_load(self):
        trickle = barrel(pump=Pump(ParabolicCurve(0.45, 0.2), 5))
        assert {"flow_limits_load", "oxygen"} <= keys(trickle, WARN, tan_g_day=7.0)
        assert not {"flow_limits_load", "oxygen"} & keys(barrel(), tan_g_day=7.0)

    @pytest.mark.parametrize(
        "more", [(), (BedLayer("plastic_balls", 0.1),)], ids=["bare", "with balls on top"]
    )
    @pytest.mark.parametrize(("grain_mm", "severity"), [(1, STOP), (1.6, WARN), (20, None)])
    def test_stones_that_lift_do_so_under_floating_ones_too(self, more, grain_mm, severity):
        fine = BedLayer("pumice", 0.2, grain_size_m=grain_mm / 1000)
        verdict = assess(barrel(layers=(fine, *more)))
        found = {each.key: each.severity for each in verdict.findings}
        margin = verdict.numbers.point.lift_margin
        assert found.get("stones_lift") == severity
        assert (margin < 1, margin < 2) == (severity == STOP, severity in (STOP, WARN))

    def test_an_outdoor_pump_runs_dry_in_days_that_a_room_makes_weeks(self):
        tank = Tank(1.1, 2.0, 0.1, 0.15)
        inside, outside = (
            assess(barrel(**GOOD | {"tank": each})) for each in (tank, replace(tank, is_outdoor=True))
        )
        assert "evaporates" not in {each.key for each in inside.findings}
        said = {each.key: each for each in outside.findings}["evaporates"]
        assert said.severity == WARN and "a dry wind of" in spoken(said.words)
        assert "lose water and fall together" in said.words

    def test_a_second_filter_turns_the_water_over_with_the_first(self):
        large = barrel(tank=Tank(4.0, 4.0, 0.3, 0.15))
        alone, beside = (
            {each.key: each for each in assess(large, tan_g_day=1, others=others).findings}
            for others in (NO_OTHERS, Others(7.6, 3.0))
        )
        assert alone["turnover"].severity == WARN and "turnover" not in beside
        full = {each.key: each for each in assess(large, tan_g_day=40, others=Others(7.6, 3.0)).findings}
        assert "other filters carry 7.6" in full["load"].words

    def test_the_flow_it_asks_for_beside_others_brings_the_ammonia(self):
        trickle = barrel(pump=Pump(ParabolicCurve(0.45, 0.2), 5))
        said = {each.key: each for each in assess(trickle, tan_g_day=9.0, others=Others(6.0, 0.2)).findings}
        # 15 g a day at 1 mg/L are 0.625 m3/h in all, 0.425 of them through this one.
        assert "425\u00a0L/h or more" in spoken(said["flow_limits_load"].would_do)

    @pytest.mark.parametrize(("count", "words"), [(1, "Two returns"), (3, "One return more, 4 in all")])
    def test_more_returns_are_more_than_there_are(self, count, words):
        found = {each.key: each for each in assess(barrel(back=replace(barrel().back, count=count))).findings}
        assert found["return_shut"].would_do.startswith(words)

    def test_gravest_come_first(self):
        order = [
            SEVERITIES.index(f.severity)
            for f in assess(barrel(floor_above_water_m=-0.9, void_height_m=0.1)).findings
        ]
        assert order == sorted(order)

    def test_words_speak_both_systems(self):
        worst = barrel(back=SMALL_RETURN, void_height_m=0.1, tank=Tank(10, 2, 0.3, 0.01))
        for finding in assess(worst, tan_g_day=20).findings:
            for system, foreign in (("metric", "\u00a0in"), (US, "\u00a0cm")):
                text = spoken(f"{finding.words} {finding.would_do}", system)
                assert "{" not in text and foreign not in text


class TestTanksRim:
    def test_a_lip_between_water_and_rim_needs_a_hole_in_the_tank(self):
        # The lip lies 0.72 - 0.60 = 0.12 m above the water, the tank's rim 0.15 m.
        low = barrel(floor_above_water_m=-0.60, **GOOD)
        found = {each.key: each for each in assess(low).findings}["lip_under_rim"]
        assert found.severity == WARN
        assert spoken(found.would_do).startswith("A stand 3\u00a0cm higher")
        stand = next(step for step in build_steps(assess(low)) if step.key == "stand")
        assert "3\u00a0cm under the tank's rim" in spoken(stand.check)

    def test_a_lip_over_the_rim_is_said_in_the_build_steps(self):
        stand = next(step for step in build_steps(assess(barrel(**GOOD))) if step.key == "stand")
        assert "27\u00a0cm above the tank's rim" in spoken(stand.check)
        assert "lip_under_rim" not in keys(barrel(**GOOD))
