"""How a filter that stands runs: by its plan or by its record, against the last bucket test; its drawing."""

import re
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from filtration import selectors
from filtration.designing.assess import assess
from filtration.drawing import cross_section
from filtration.hydraulics.operating_point import operating_point
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import Pipe
from filtration.hydraulics.pump import ParabolicCurve, Pump
from filtration.plans.services import design_build
from filtration.plans.words import compared, could_run_over, head_parts, limits_flow, limits_load
from filtration.running import running, seconds_to_fill
from filtration.services import maintenance_record
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from tests.factories import (
    AreaFactory,
    EnclosureFactory,
    FeedingFactory,
    FilterDesignFactory,
    FilterUnitFactory,
    PumpFactory,
    RefugeFactory,
    UserFactory,
)
from tests.filtration.hydraulic_designs import barrel


def look(unit, surface_m2=2.0, is_outdoor=False):
    """How the filter runs, as its page asks."""
    unit = selectors.filters().get(pk=unit.pk)
    moment = moment_for()
    facts = load_facts(frozenset([unit.circuit_id]), moment)
    row = selectors.filter_rows([unit], facts, moment)[0]
    others = [each for each in facts.filter.values() if each.id != unit.pk]
    return running(
        unit,
        row.facts,
        facts.circuit[unit.circuit_id],
        surface_m2=surface_m2,
        is_outdoor=is_outdoor,
        mature_g_day=row.mature_capacity,
        others=others,
        site_price_per_kwh=0.4,
    )


def feed(circuit):
    for days in range(1, 14):
        FeedingFactory(enclosure=circuit.enclosures.get(), at=timezone.now() - timedelta(days=days))


def bucket(unit, seconds, at=None):
    maintenance_record(
        unit=unit, kind="bucket_test", by=None, at=at or timezone.now(), uuid=uuid4(), bucket_l=20, bucket_seconds=seconds
    )  # fmt: skip


@pytest.fixture
def unit(db):
    """A barrel whose record holds what the sums need, in a water of 1,000 L; 1.8 m3/h when new."""
    RefugeFactory()
    unit = FilterUnitFactory(inlet_bore_m=0.032, return_bore_m=0.05, commissioning_flow_m3_h=1.8)
    EnclosureFactory(circuit=unit.circuit)
    unit.pump.shutoff_head_m = 2.6
    unit.pump.save()
    return unit


class TestByItsRecord:
    def test_it_runs_as_measured_when_new_and_says_what_is_assumed(self, unit):
        found = look(unit)
        assert not found.by_plan
        assert found.verdict.numbers.point.flow_m3_h == pytest.approx(1.8, rel=1e-6)
        assert found.bucket.expected_m3_h == pytest.approx(1.8, rel=1e-3)
        assert any("elbows" in each for each in found.assumed)
        assert any("when it was new" in each for each in found.assumed)

    def test_a_neglected_filter_is_known_by_its_flow(self, unit):
        bucket(unit, 76)
        found = look(unit).bucket
        assert found.state == ("act", "far less than it should be")
        # 20 L in 76 s is 0.947 m3/h; at 1.8 m3/h they take 40 s.
        assert found.measured_m3_h == pytest.approx(20 / 76 * 3.6)
        assert found.expected_s == pytest.approx(40, abs=0.5)
        assert found.measured_s == pytest.approx(76)
        assert [x.key for x in found.findings][:3] == ["flow_lower", "maybe_strainer", "maybe_pump"]

    @pytest.mark.parametrize(
        ("seconds", "state", "words"),
        [(40, "good", "as it should be"), (46, "good", "between cleanings"), (54, "watch", "less"), (36, "watch", "more")],
    )  # fmt: skip
    def test_how_far_a_flow_is_off(self, unit, seconds, state, words):
        bucket(unit, seconds)
        found = look(unit).bucket.state
        assert found[0] == state
        assert words in found[1]

    def test_never_measured_is_not_all_well(self, unit):
        assert look(unit).bucket.state[0] == "unknown"

    def test_over_a_pond_the_wind_dries_it_sooner(self, unit):
        indoors, outdoors = (
            look(unit, is_outdoor=each).verdict.numbers.days_to_dry for each in (False, True)
        )
        assert outdoors < indoors / 2

    def test_what_is_missing_is_named_and_never_guessed(self, unit):
        unit.pump.delete()
        found = look(unit)
        assert found.verdict is None
        assert "the pump's greatest flow" in found.missing

    def test_a_flow_when_new_beyond_the_pump_is_said(self, unit):
        unit.commissioning_flow_m3_h = 9.0
        unit.save()
        found = look(unit)
        assert any("one of them is wrong" in each for each in found.assumed)
        assert found.verdict.numbers.point.flow_m3_h < 3.0

    def test_without_a_flow_when_new_the_sums_stand_alone_and_say_so(self, unit):
        unit.commissioning_flow_m3_h = None
        unit.save()
        assert any("worked out, not measured" in each for each in look(unit).assumed)


class TestWithOthers:
    def test_the_flow_of_the_other_filters_counts_as_the_water_goes_round(self, unit):
        alone = look(unit).verdict
        assert "turnover" not in [each.key for each in alone.findings]  # 1.8 times an hour
        unit.circuit.enclosures.update(length_m=6.0)  # 3,000 L: 0.6 times an hour by itself
        assert "turnover" in [each.key for each in look(unit).verdict.findings]
        for state in ("mature", "cycling", "building"):
            FilterUnitFactory(circuit=unit.circuit, state=state, commissioning_flow_m3_h=1.8)
        beside = look(unit).verdict
        assert beside.numbers.water_flow_m3_h == pytest.approx(3 * 1.8, rel=1e-6)
        assert "turnover" not in [each.key for each in beside.findings]

    def test_the_others_count_with_the_flow_measured_last(self, unit):
        other = FilterUnitFactory(circuit=unit.circuit, commissioning_flow_m3_h=1.8)
        bucket(other, 72)
        assert look(unit).verdict.numbers.others.flow_m3_h == pytest.approx(1.0)

    def test_one_filter_is_held_against_its_part_of_the_load(self, unit):
        feed(unit.circuit)
        FilterUnitFactory(circuit=unit.circuit, layers=[("river_rock", 0.25), ("lava_rock", 0.35)])
        found = look(unit)
        whole = load_facts(None, moment_for()).circuit[unit.circuit_id].tan_g_day
        assert found.own_tan_g_day == pytest.approx(whole / 2)
        assert whole > 0

    @pytest.mark.parametrize("state", ["building", "resting"])
    def test_one_that_does_not_run_is_judged_as_if_it_ran_beside_those_that_do(self, unit, state):
        feed(unit.circuit)
        still = FilterUnitFactory(
            circuit=unit.circuit, state=state, inlet_bore_m=0.032, return_bore_m=0.05, pumped=False
        )
        PumpFactory(filter=still, shutoff_head_m=2.6)
        whole = load_facts(None, moment_for()).circuit[unit.circuit_id].tan_g_day
        assert whole > 0
        assert look(still).own_tan_g_day == pytest.approx(whole / 2)
        assert look(unit).own_tan_g_day == pytest.approx(whole)
        assert look(still).verdict.numbers.others.tan_g_day == pytest.approx(whole / 2)


class TestMeasuredFlow:
    def test_what_a_trickle_brings_is_what_it_carries(self, unit):
        """60 L/h, at 1 mg/L: 60 x 24 / 1000 = 1.44 g a day."""
        before = selectors.filter_rows(
            [selectors.filters().get()], load_facts(None, moment_for()), moment_for()
        )[0]
        bucket(unit, 1200)
        found = look(unit)
        assert limits_load(found.now.numbers).startswith("The flow: at 1\u00a0mg/L it brings 1.4\u00a0g")
        facts = load_facts(None, moment_for())
        row = selectors.filter_rows([selectors.filters().get()], facts, moment_for())[0]
        assert row.capacity == row.mature_capacity == pytest.approx(1.44)
        assert before.capacity > 2
        assert row.is_starved and not before.is_starved
        assert facts.circuit[unit.circuit_id].capacity_tan_g_day == pytest.approx(1.44)

    def test_what_holds_it_back_is_what_has_come_since(self, unit):
        assert look(unit).now is None  # as when new
        bucket(unit, 80)
        found = look(unit)
        assert found.now.numbers.point.flow_m3_h == pytest.approx(0.9, rel=1e-6)
        assert "{flow:0.9}: 50\u00a0% of when new" in found.limits_flow
        # 2.6 m at rest by a parabola of 3.0 m3/h: the pump gives 2.6 (1 - 0.09) = 2.366 m at 0.9 m3/h.
        share = int(re.search(r"takes (\d+)\u00a0% of the pump's head", found.limits_flow)[1]) / 100
        assert found.now.numbers.point.heads.total == pytest.approx(2.366, rel=1e-3)
        assert 0.2 < share < 0.9

    def test_a_flow_beyond_the_pump_is_left_to_the_bucket_test(self, unit):
        bucket(unit, 20)
        assert look(unit).now is None

    def test_the_page_says_which_test_counts(self, client, unit):
        client.force_login(UserFactory())
        bucket(unit, 1200)
        page = client.get(unit.get_absolute_url()).content.decode()
        assert page.count("By the bucket test of") >= 3
        assert "its flow brings no more than 1.4, by the bucket test of" in page


class TestByItsPlan:
    @pytest.fixture
    def built(self, db):
        RefugeFactory()
        plan = FilterDesignFactory()
        return design_build(
            design=plan, uuid=uuid4(), code="F9", name="Barrel", circuit=EnclosureFactory().circuit,
            area=AreaFactory(), is_protected=True, by=UserFactory(manager=True),
        )  # fmt: skip

    def test_pipes_and_heights_are_those_of_the_plan(self, built):
        found = look(built)
        assert found.by_plan
        design = found.verdict.numbers.design
        assert (design.overflow_height_m, design.inlet.length_m, design.guard) == (0.69, 3.0, "check_valve")

    def test_stones_and_pump_are_those_that_stand_there_now(self, built):
        built.layers.filter(medium="lava_rock").update(depth_m=0.1)
        built.pump.rated_flow_m3_h = 2.0
        built.pump.save()
        found = look(built)
        assert found.verdict.numbers.design.layers[1].depth_m == 0.1
        assert found.verdict.numbers.point.flow_m3_h < 2.0
        assert any("Another pump" in each for each in found.assumed)

    def test_what_it_carries_follows_the_water_of_today(self, built):
        built.circuit.usual_temperature_c = 15
        built.circuit.save()
        unit = selectors.filters().get(pk=built.pk)
        facts = load_facts(frozenset([unit.circuit_id]), moment_for())
        numbers = look(built).verdict.numbers
        assert numbers.design.temperature_c == pytest.approx(15)
        assert numbers.design.tank.volume_m3 == pytest.approx(facts.circuit[unit.circuit_id].volume_m3)
        row = selectors.filter_rows([unit], facts, moment_for())[0]
        assert numbers.carries_tan_g_day == pytest.approx(row.mature_capacity)

    def test_it_costs_what_the_plan_says_of_the_price(self, built):
        built.build.design.price_per_kwh = 0.5
        built.build.design.save()
        numbers = look(built).verdict.numbers
        assert numbers.month_cost == pytest.approx(numbers.month_kwh * 0.5)

    def test_the_sites_price_counts_where_the_plan_names_none(self, built):
        assert built.build.design.price_per_kwh is None
        numbers = look(built).verdict.numbers
        assert numbers.month_cost == pytest.approx(numbers.month_kwh * 0.4)

    def test_the_record_counts_wherever_it_differs_from_the_plan(self, built):
        kwh = look(built).verdict.numbers.month_kwh
        assert not look(built).assumed[1:]
        built.pump.power_w = 150
        built.pump.save()
        built.inlet_bore_m, built.return_bore_m = 0.02, 0.04
        built.save()
        found = look(built)
        design = found.verdict.numbers.design
        assert found.verdict.numbers.month_kwh == pytest.approx(kwh * 150 / 60)
        assert (design.inlet.bore_m, design.back.pipe.bore_m) == (0.02, 0.04)
        said = " ".join(found.assumed)
        assert "150\u00a0W by the record, 60\u00a0W by the plan" in said
        assert "The inlet is {length:0.02} wide by the record, {length:0.0266} by the plan" in said
        assert "The return is {length:0.04} wide" in said

    def test_the_first_bucket_test_sets_it(self, built):
        bucket(built, 30, at=timezone.now() - timedelta(days=1))
        assert look(built).verdict.numbers.point.flow_m3_h == pytest.approx(2.4, rel=1e-6)


def test_the_page_of_a_filter_shows_what_a_bucket_test_should_show(client, unit):
    client.force_login(UserFactory())
    bucket(unit, 76)
    page = client.get(unit.get_absolute_url()).content.decode()
    assert "A bucket test should show" in page
    assert "far less than it should be" in page
    assert "Could it run over?" in page
    assert "What is taken for granted?" in page


def test_the_list_points_at_the_filter_with_little_flow(client, unit):
    client.force_login(UserFactory())
    assert "little flow" not in client.get("/filters/").content.decode()
    bucket(unit, 76)
    assert "little flow" in client.get("/filters/").content.decode()


def test_seconds_to_fill_by_hand():
    assert seconds_to_fill(0.020, 1.8) == pytest.approx(40)
    assert seconds_to_fill(0.020, None) is None


class TestWords:
    def test_the_parts_of_the_head_make_up_the_whole(self):
        numbers = assess(barrel()).numbers
        parts = head_parts(numbers)
        assert sum(part.head_m for part in parts) == pytest.approx(numbers.point.heads.total)
        assert sum(part.share for part in parts) == pytest.approx(1)

    def test_a_narrow_inlet_is_what_limits_the_flow_and_a_wider_one_is_tried(self):
        design = barrel(inlet=Pipe(0.016, 6.0, fittings=(("elbow_90", 5),)))
        said = limits_flow(assess(design).numbers)
        assert said.startswith("The inlet pipe takes")
        wider = replace(design, inlet=replace(design.inlet, bore_m=0.824 * 0.0254))
        assert f"{{flow:{operating_point(wider).flow_m3_h:.6g}}}" in said

    def test_a_pump_too_weak_is_said_plainly(self):
        numbers = assess(barrel(pump=Pump(ParabolicCurve(0.3, 4.0)))).numbers
        assert limits_flow(numbers).startswith("No water flows")
        assert "nothing" in limits_load(numbers)

    def test_stones_or_flow_decide_the_load(self):
        assert limits_load(assess(barrel()).numbers).startswith("The stones' surface")
        trickle = barrel(pump=Pump(ParabolicCurve(0.45, 0.4)))
        assert limits_load(assess(trickle).numbers).startswith("The flow")

    def test_whether_it_runs_over_is_said_for_each_fault(self):
        calm = assess(barrel()).numbers
        assert could_run_over(calm).startswith("Not as it runs")
        assert f"with it shut, {{volume:{calm.shut.litres / 1000:.6g}}} in all" in could_run_over(calm)
        narrow = barrel(back=Return(Pipe(0.02, 1.0)))
        assert could_run_over(assess(narrow).numbers).startswith("It does")
        still = assess(barrel(pump=Pump(ParabolicCurve(0.3, 4.0)))).numbers
        assert could_run_over(still) == "Not while no water flows."

    def test_a_plan_is_the_same_as_itself(self):
        verdict = assess(barrel(), tan_g_day=2)
        assert all(row.is_same for row in compared(verdict, verdict, "us"))

    def test_differences_are_said_as_a_share_where_that_can_be(self):
        first, second = assess(barrel(), tan_g_day=2), assess(barrel(), tan_g_day=3)
        rows = {row.title: row for row in compared(first, second, "metric")}
        assert re.fullmatch(
            r"(4[5-9]|5[0-5])\u00a0% more", rows["Load"].apart
        )  # half more, of rounded percents
        assert rows["Flow"].is_same
        twice = {row.title: row.apart for row in compared(first, assess(barrel(), tan_g_day=6), "metric")}
        assert re.fullmatch(r"(2\.9|3\.[01]) times as much", twice["Load"])


class TestDrawing:
    def drawn(self, **changes):
        design = barrel(**changes)
        return design, cross_section(
            length_m=design.container.length_m,
            height_m=design.container.height_m,
            void_height_m=design.void_height_m,
            layers=[(x.medium, x.depth_m) for x in design.layers],
            design=design,
            over_lip_m=0.04,
        )

    def test_tank_and_filter_stand_to_each_other_as_they_are_built(self):
        design, drawn = self.drawn()
        scale = drawn.inner_height / design.container.height_m
        assert (drawn.plumbing.water_y - drawn.plumbing.lip_y) / scale == pytest.approx(
            design.lip_above_water_m
        )
        assert (drawn.plumbing.lip_y - drawn.water_y) / scale == pytest.approx(0.04)
        assert (drawn.plumbing.water_y - drawn.plumbing.tank_top) / scale == pytest.approx(
            design.tank.freeboard_m
        )
        assert (drawn.plumbing.pump_y - drawn.plumbing.water_y) / scale == pytest.approx(
            design.tank.over_intake_m
        )

    @pytest.mark.parametrize("floor", [-2.0, -0.3, 0.0, 1.5])
    def test_nothing_is_drawn_outside(self, floor):
        _, drawn = self.drawn(floor_above_water_m=floor)
        for y in (
            drawn.y,
            drawn.bottom,
            drawn.plumbing.tank_top,
            drawn.plumbing.tank_bottom,
            drawn.plumbing.pump_y,
        ):
            assert 0 <= y <= drawn.height
        assert 0 < drawn.right < drawn.width

    def test_an_inlet_over_the_rim_climbs_to_its_crest(self):
        design, drawn = self.drawn(inlet_crest_above_water_m=0.5)
        scale = drawn.inner_height / design.container.height_m
        crest = drawn.plumbing.water_y - 0.5 * scale
        assert f"V{crest:.1f}H" in drawn.plumbing.inlet
