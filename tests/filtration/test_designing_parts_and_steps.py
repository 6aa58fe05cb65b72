"""What to buy for a design, and how to build it."""

from dataclasses import replace

import pytest

from filtration.designing.assess import assess
from filtration.designing.parts import parts_list
from filtration.designing.steps import build_steps
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import Container
from filtration.hydraulics.operating_point import operating_point
from refuge.units import US, spoken, to_shown
from tests.filtration.hydraulic_designs import BARREL, GOOD, barrel


class TestParts:
    def test_stones_by_hand(self):
        parts = {part.key: part for part in parts_list(barrel())}
        section = BARREL.section_m2
        assert parts["layer_1"].volume_m3 == pytest.approx(section * 0.2 * 1.05)
        assert parts["layer_1"].mass_kg == pytest.approx(section * 0.2 * 0.58 * 2650 * 1.05)
        assert spoken(parts["layer_2"].quantity) == "75\u00a0L, 60\u00a0kg"

    def test_pipes_and_fittings_of_both_ways(self):
        parts = {part.key: part for part in parts_list(barrel(guard="check_valve"))}
        assert parts["inlet_pipe"].length_m == pytest.approx(2.75)
        assert parts["inlet_elbow_90"].count == 3
        assert parts["return_elbow_90"].count == 1
        assert parts["guard"].name == "Check valve, inlet"

    def test_a_pump_is_named_as_a_shop_sells_it(self):
        design = barrel()
        point = operating_point(design)
        for system, head in (
            ("metric", f"{point.heads.total:.2f}".rstrip("0")),
            (US, f"{point.heads.total / 0.3048:.1f}"),
        ):
            note = spoken({part.key: part for part in parts_list(design)}["pump"].note, system)
            moved = to_shown(point.flow_m3_h, "flow", system)
            assert note.startswith(f"{moved:,.0f}".replace(",", "\u202f"))
            assert f"at {head}\u00a0{'ft' if system == US else 'm'} of head" in note
        assert "does not lift" in {p.key: p for p in parts_list(barrel(floor_above_water_m=3))}["pump"].note

    def test_the_grate_says_its_holes(self):
        note = spoken({part.key: part for part in parts_list(barrel(grate_open_share=0.35))}["grate"].note)
        assert "35\u00a0% of it holes" in note
        assert "half of the stones on it: 2.5\u00a0cm" in note  # river rock of 5 cm

    @pytest.mark.parametrize(
        ("inlet", "back", "keys"),
        [
            ("pvc", "pvc", {"glue"}),
            ("polyethylene", "pvc", {"glue", "clamps"}),
            ("ribbed_hose", "polyethylene", {"clamps"}),
            ("smooth_hose", "galvanised", {"clamps", "tape"}),
        ],
    )
    def test_only_what_can_be_cemented_is(self, inlet, back, keys):
        design = barrel()
        design = replace(
            design,
            inlet=replace(design.inlet, material=inlet),
            back=replace(design.back, pipe=replace(design.back.pipe, material=back)),
        )
        parts = {part.key: part for part in parts_list(design)}
        assert {"glue", "clamps", "tape"} & set(parts) == keys
        if inlet != "pvc":
            # Two ends of the run, of three elbows and of the valve; the return one elbow.
            soft = 2 + 6 + 2 + (4 if back == "polyethylene" else 0)
            assert parts["clamps"].count == soft
        laid = " ".join(next(s for s in build_steps(assess(design)) if s.key == "inlet").cautions)
        assert ("Solvent cement" in laid, "clamped" in laid) == ("glue" in keys, inlet != "pvc")

    def test_two_returns_need_two_of_each(self):
        parts = {p.key: p for p in parts_list(barrel(back=replace(barrel().back, count=2)))}
        assert (parts["return_bulkhead"].count, parts["return_elbow_90"].count) == (2, 2)
        assert parts["return_pipe"].length_m == pytest.approx(2.2)

    def test_bags_hold_the_whole_layer(self):
        layer = BedLayer("lava_rock", 0.28, is_bagged=True)
        parts = {part.key: part for part in parts_list(barrel(layers=(layer,)))}
        bags = parts["bags_1"].count
        assert (bags - 1) * 0.010 < BARREL.section_m2 * 0.28 <= bags * 0.010

    def test_an_inlet_over_the_rim_needs_no_hole(self):
        over = barrel(inlet_crest_above_water_m=0.7)
        assert "inlet_bulkhead" not in {part.key for part in parts_list(over)}

    def test_every_part_says_how_much(self):
        crate = Container("crate", "rectangle", 1.0, 0.86, 0.8)
        for part in parts_list(barrel(container=crate, guard="siphon_break", guard_height_m=0.7)):
            assert part.quantity
            assert "{" not in spoken(part.quantity + part.note, US)


class TestSteps:
    def test_order_keeps_people_and_water_safe(self):
        order = [step.key for step in build_steps(assess(barrel(**GOOD)))]
        assert len(set(order)) == len(order)
        assert order.index("holes") < order.index("bulkheads") < order.index("leak_test")
        assert order.index("leak_test") < order.index("stones") < order.index("run")
        assert order.index("run") < order.index("cycling")
        # IEC 61008-1 asks for a test button on every residual-current device (recalled); that it is pressed before
        # the first start is common practice, no source.
        assert order.index("fill") < order.index("protection") < order.index("run")

    def test_no_step_puts_a_hand_into_water_with_the_pump_plugged_in(self):
        steps = {step.key: step for step in build_steps(assess(barrel(**GOOD)))}
        blocked = steps["half_blocked"]
        assert "with your hand" not in blocked.words and "board" in blocked.words
        assert "before hands go in" in " ".join(blocked.cautions)
        assert "test button" in steps["protection"].words
        assert "licensed electrician" in steps["protection"].check

    def test_every_step_can_be_checked_and_speaks_both_systems(self):
        for step in build_steps(assess(barrel(**GOOD))):
            assert step.check
            assert "\u00a0cm" not in spoken(step.words + step.check, US)

    def test_what_can_hurt_is_said_where_it_can(self):
        steps = {step.key: " ".join(step.cautions).lower() for step in build_steps(assess(barrel()))}
        assert "ground-fault" in steps["run"] and "ground-fault" in steps["pump_off"]
        assert "dust" in steps["wash"] and "two people" in steps["stones"]
        assert "power tools" in steps["holes"]

    def test_steps_speak_of_what_the_design_has(self):
        def said(**changes):
            return {each.key: each.words for each in build_steps(assess(barrel(**changes)))}

        valve, none = said(), said(inlet=replace(barrel().inlet, valve=None))
        assert "inlet valve" in valve["leak_test"] and "Open the inlet valve" in valve["run"]
        assert "plug the inlet" in none["leak_test"] and "inlet valve" not in none["leak_test"] + none["run"]
        assert "The grate" in said(grate_open_share=0.4)["stones"]
        assert "names no grate" in valve["stones"] and "The grate" not in valve["stones"]
        assert "no hole for it" in said(inlet_crest_above_water_m=0.7)["holes"]
        assert "standing pipe" in said(back=replace(barrel().back, mouth="standpipe"))["holes"]

    def test_bucket_time_by_hand(self):
        verdict = assess(barrel())
        run = next(step for step in build_steps(verdict) if step.key == "run")
        seconds = 20 / (verdict.numbers.point.flow_m3_h * 1000) * 3600
        assert f"{seconds:.0f}\u00a0s" in run.check

    def test_pump_that_lifts_nothing_still_has_steps(self):
        assert "nothing flows" in " ".join(
            s.check for s in build_steps(assess(barrel(floor_above_water_m=3)))
        )
