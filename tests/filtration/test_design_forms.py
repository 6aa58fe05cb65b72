"""What is typed about a plan: any unit, nothing lost, every mistake at its field, and what fills in for it."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from filtration.designing.propose import CONTAINERS, PUMPS
from filtration.hydraulics.design import Design
from filtration.plans.entry import (
    PlanEntry,
    typed,
    with_columns,
    with_container,
    with_guard,
    with_layer,
    with_pump,
    without_layer,
)
from filtration.plans.fields import PointsField, ShareField, SizeField
from filtration.plans.models import NOT_NEGATIVE, POSITIVE, WITHIN, FilterDesign
from filtration.plans.reading import columns_of, design_of, layer_columns, newcomer_tan_g_day
from filtration.plans.selectors import beginning, plan_from
from tests.factories import CircuitFactory, FilterDesignFactory

pytestmark = pytest.mark.django_db


def beginning_typed(system="metric", **changes):
    plan, layers = plan_from(beginning())
    data = typed(plan, layers, system)
    data["name"] = "Barrel"
    for name, value in changes.items():
        data[name.replace("__", "-")] = value
    return data


def entry(system="metric", **changes) -> PlanEntry:
    return PlanEntry.read(beginning_typed(system, **changes), system, FilterDesign())


def wrong_at(made: PlanEntry) -> list[str]:
    return [bound.html_name if bound else "" for bound, _ in made.problems()]


@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_new_plan_begins_with_one_that_works_in_either_unit_system(system):
    made = entry(system)
    assert made.may_be_saved(), made.problems()
    assert made.verdict.can_be_built
    assert made.verdict.numbers.design.container.length_m == pytest.approx(0.57, rel=0.005)


def test_sizes_are_read_as_people_write_them():
    made = entry(inlet_bore_m="1 in", void_height_m="8 in", inlet_length_m="4 ft", tank_volume_m3="290 gal")
    assert made.may_be_saved(), made.problems()
    plan = made.plan
    # Inch, foot and US gallon are exact by definition: 0.0254 m, 0.3048 m, 231 cubic inches (NIST SP 811, B.8).
    assert plan.inlet_bore_m == pytest.approx(0.0254)
    assert plan.void_height_m == pytest.approx(0.2032)
    assert plan.inlet_length_m == pytest.approx(1.2192)
    assert plan.tank_volume_m3 == pytest.approx(290 * 231 * 0.0254**3)


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"void_height_m": "90"}, "void_height_m", "lower than the container"),
        ({"overflow_height_m": "2 m"}, "overflow_height_m", "lower than the container"),
        ({"shape": "rectangle"}, "width_m", "width"),
        ({"guard": "siphon_break"}, "guard_height_m", "how high"),
        (
            {"guard": "siphon_break", "guard_height_m": "69"},
            "inlet_crest_above_water_m",
            "29.0\u00a0cm or more",
        ),
        ({"floor_above_water_m": "25"}, "inlet_crest_above_water_m", "25.0\u00a0cm or more"),
        ({"inlet_valve_open_share": "30"}, "inlet_valve_open_share", "33 %"),
        ({"pump_max_flow_m3_h": ""}, "pump_max_flow_m3_h", "plate"),
        ({"pump_points": "fast"}, "pump_points", "no point"),
        ({"pump_points": "0 L/h at 2 m\n1000 L/h at 3 m"}, "pump_points", "no curve"),
        ({"inlet_length_m": "nan"}, "inlet_length_m", "no amount"),
        ({"inlet_length_m": "8 gal"}, "inlet_length_m", "does not measure"),
        ({"tank_volume_m3": "0"}, "tank_volume_m3", "above"),
        ({"temperature_c": "95 C"}, "temperature_c", "more than can be right"),
        ({"return_count": "0"}, "return_count", "you wrote"),
        ({"inlet_elbow_90": "500"}, "inlet_elbow_90", "you wrote"),
        ({"layer__0__depth_m": ""}, "layer-0-depth_m", "The amount is missing"),
        ({"layer__1__medium": "sand"}, "layer-1-medium", "none of the answers offered"),
        ({"name": ""}, "name", "name"),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else None,
)
def test_a_mistake_stands_at_its_field_and_nothing_typed_is_lost(changes, field, words):
    made = entry(**changes)
    assert not made.may_be_saved()
    assert wrong_at(made) == [field]
    assert words in made.problems()[0][1]
    for name, value in changes.items():
        assert made.form.data[name.replace("__", "-")] == value


@pytest.mark.parametrize("crest", ["29", "60"])
def test_a_siphon_break_on_a_pipe_that_climbs_to_it_is_no_mistake(crest):
    made = entry(guard="siphon_break", guard_height_m="69", inlet_crest_above_water_m=crest)
    assert made.may_be_saved(), made.problems()
    assert made.verdict.numbers.back_siphon.level_m == pytest.approx(0.69)


def test_a_missing_name_keeps_nobody_from_seeing_the_figures():
    assert entry(name="").verdict is not None


def test_an_untouched_layer_at_the_end_counts_for_nothing():
    data = with_layer(beginning_typed())
    made = PlanEntry.read(data, "metric", FilterDesign())
    assert made.may_be_saved(), made.problems()
    assert len(made.layers.forms) == 3
    assert [layer.medium for layer in made.bed] == ["river_rock", "lava_rock"]


def test_a_layer_taken_out_moves_those_above_it_down():
    data = without_layer(beginning_typed(), 0)
    made = PlanEntry.read(data, "metric", FilterDesign())
    assert [layer.medium for layer in made.bed] == ["lava_rock"]
    assert made.bed[0].depth_m == pytest.approx(0.25)


def test_stones_may_all_be_taken_out_and_the_sums_say_what_is_left():
    data = without_layer(without_layer(beginning_typed(), 0), 0)
    made = PlanEntry.read(data, "metric", FilterDesign())
    assert made.verdict is not None
    assert made.verdict.numbers.carries_tan_g_day == 0


def test_a_container_to_begin_with_brings_its_sizes_and_may_be_changed():
    crate = CONTAINERS[2]
    data = with_container(beginning_typed(start_container="2"), "metric")
    assert (data["shape"], data["start_container"]) == ("rectangle", "")
    made = PlanEntry.read(data, "metric", FilterDesign())
    assert made.verdict.numbers.design.container.volume_m3 == pytest.approx(crate.volume_m3, rel=0.01)


def test_a_pump_to_begin_with_takes_the_place_of_points():
    data = beginning_typed(start_pump="0", pump_points="0 L/h at 2 m\n900 L/h at 1 m")
    changed = PlanEntry.read(with_pump(data, "metric"), "metric", FilterDesign())
    assert changed.may_be_saved(), changed.problems()
    assert changed.plan.pump_max_flow_m3_h == pytest.approx(PUMPS[0].curve.max_flow_m3_h)
    assert changed.plan.pump_points == []


class TestSiphonBreak:
    def test_chosen_it_gets_a_place_just_under_the_lip_and_a_pipe_that_climbs_to_it(self):
        made = PlanEntry.read(
            with_guard(beginning_typed(guard="siphon_break"), "metric"), "metric", FilterDesign()
        )
        assert made.may_be_saved(), made.problems()
        assert made.plan.guard_height_m == pytest.approx(made.plan.overflow_height_m - 0.02, abs=0.001)
        found = {each.key for each in made.verdict.findings}
        assert "guard" in found
        assert found.isdisjoint({"siphon_break_off_pipe", "guard_sticks", "runs_back"})
        parts = {part.key: part for part in made.form.parts()}
        assert parts["inlet"].is_unfolded

    @pytest.mark.parametrize(
        "changes",
        [
            {"guard": "check_valve"},
            {"guard": "siphon_break", "guard_height_m": "50"},
            {"guard": "siphon_break", "guard_height_m": "much"},
            {"guard": "siphon_break", "overflow_height_m": "much"},
        ],
    )
    def test_what_was_said_of_it_stays_and_nothing_is_guessed_without_a_lip(self, changes):
        data = beginning_typed(**changes)
        assert with_guard(data, "metric") is data


@pytest.mark.parametrize("nonsense", ["99", "-1", "x", ""])
def test_a_choice_that_is_none_changes_nothing(nonsense):
    data = beginning_typed(start_container=nonsense)
    assert with_container(data, "metric") is data


def test_points_of_the_curve_say_both_ends():
    made = entry(pump_shutoff_head_m="", pump_max_flow_m3_h="", pump_points="0 gph at 8 ft\n500 gph at 4 ft")
    assert made.may_be_saved(), made.problems()
    assert made.plan.pump_shutoff_head_m == pytest.approx(8 * 0.3048)
    # The straight line through both points meets no head at twice the flow of the second.
    assert made.plan.pump_max_flow_m3_h == pytest.approx(1000 * 0.003785411784)


def test_points_come_back_as_they_can_be_typed_again():
    field = PointsField(required=False)
    points = [[0.0, 2.5], [1.5, 1.25]]
    assert field.clean(field.prepare_value(points)) == [pytest.approx(p) for p in points]
    field.system = "us"
    assert field.clean(field.prepare_value(points)) == [pytest.approx(p, rel=1e-4) for p in points]


@pytest.mark.parametrize(
    ("written", "metres"),
    [
        ("3/4 in", 0.75 * 0.0254),
        ("1 1/4 in", 1.25 * 0.0254),
        ('1-1/2"', 1.5 * 0.0254),
        ("2½ in", 2.5 * 0.0254),
        ("-1/2 in", -0.5 * 0.0254),
        ("2.5", 0.025),
    ],
)
def test_sizes_of_pipe_are_read_as_builders_write_them(written, metres):
    assert SizeField("length").clean(written) == pytest.approx(metres)


@pytest.mark.parametrize("written", ["1/0 in", "/4 in", "1/4/4 in", "3 4 in", "1.5/2 in"])
def test_what_is_no_fraction_is_refused(written):
    with pytest.raises(ValidationError):
        SizeField("length").clean(written)


def test_a_share_is_typed_as_percent():
    field = ShareField(low=1, high=100)
    assert field.clean("40") == 0.4
    assert field.prepare_value(0.4) == "40"
    assert field.prepare_value("4o") == "4o"


def test_a_design_comes_back_whole_from_the_columns_of_a_plan():
    design = beginning()
    plan = FilterDesign(**columns_of(design))
    again = design_of(plan, design.layers)
    assert isinstance(again, Design)
    assert again == design
    assert [row["medium"] for row in layer_columns(design.layers)] == ["river_rock", "lava_rock"]


def test_a_saved_plan_opened_and_saved_again_keeps_its_sizes():
    plan = FilterDesignFactory(length_m=0.5715, inlet_bore_m=0.02664)
    data = typed(plan, [{"medium": "lava_rock", "depth_m": 0.254, "is_bagged": True}], "us")
    made = PlanEntry.read(data, "us", plan)
    assert made.may_be_saved(), made.problems()
    assert made.plan.length_m == pytest.approx(0.5715, rel=1e-5)
    assert made.plan.inlet_bore_m == pytest.approx(0.02664, rel=1e-5)
    assert made.bed[0].is_bagged


def test_what_a_water_fills_in_can_be_typed_over():
    circuit = CircuitFactory()
    data = with_columns(beginning_typed(), {"circuit": circuit.pk, "tank_volume_m3": 1.1}, "us")
    assert (data["circuit"], data["tank_volume_m3"]) == (str(circuit.pk), "291")
    assert data["name"] == "Barrel"


def test_the_load_of_a_newcomer_by_hand():
    # 55 kg x 2.5 % a week = 1.375 kg of fish; protein 18.48 % (Longvah et al. 2017, P083, tilapia);
    # 92 g of TAN from a kilogram of protein (Timmons and Ebeling, recalled).
    by_hand = Decimal("1.375") * Decimal("0.1848") * 92 / 7
    assert newcomer_tan_g_day(55) == pytest.approx(float(by_hand), rel=1e-6)
    made = entry(tan_g_day="1", newcomer_kg="55")
    assert made.verdict.numbers.tan_g_day == pytest.approx(1 + float(by_hand))


def test_the_waters_other_filters_carry_their_part_and_their_flow_counts():
    made = entry(tan_g_day="8.1", others_tan_g_day="7.6", others_flow_m3_h="2000 L/h")
    numbers = made.verdict.numbers
    assert numbers.tan_g_day == pytest.approx(0.5)
    flow = numbers.point.flow_m3_h
    assert numbers.turnovers_per_hour == pytest.approx((flow + 2.0) / 1.1, rel=0.01)
    # Whatever the stones of both take, the whole load spread over the flow of both is left over in the water.
    assert numbers.supply.least_tan_mg_l == pytest.approx(8.1 / 24 / (flow + 2.0), rel=0.01)
    assert made.load.others == pytest.approx(7.6)


def test_a_plan_may_be_for_the_whole_load_as_if_the_others_were_gone():
    made = entry(tan_g_day="8.1", others_tan_g_day="7.6", others_flow_m3_h="2000 L/h", is_alone="on")
    numbers = made.verdict.numbers
    assert numbers.tan_g_day == pytest.approx(8.1)
    assert numbers.turnovers_per_hour == pytest.approx(numbers.point.turnovers_per_hour)
    # No more than is there is taken off.
    assert entry(tan_g_day="3", others_tan_g_day="7.6").verdict.numbers.tan_g_day == 0


def test_filters_side_by_side_share_the_load():
    made = entry(tan_g_day="6", side_by_side="3")
    assert made.verdict.numbers.tan_g_day == pytest.approx(2)


def test_every_bound_of_the_database_is_a_bound_of_the_form():
    """The form leaves the constraints unasked, so its fields must be as strict: just outside of each is refused."""
    for name in POSITIVE:
        assert wrong_at(entry(**{name: "0"})), name
    for name in NOT_NEGATIVE:
        assert wrong_at(entry(**{name: "-1"})), name
    for name, low, high in WITHIN:
        field = entry().form.fields[name]
        for value in (low - 1, high + 1):
            assert wrong_at(entry(**{name: field.prepare_value(float(value)) or str(value)})), (name, value)
