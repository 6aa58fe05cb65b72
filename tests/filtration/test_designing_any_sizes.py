"""The build planner has an answer in words for any sizes that can be typed."""

from hypothesis import example, given, settings
from hypothesis import strategies as st

from filtration.designing.assess import assess
from filtration.designing.figures import figures
from filtration.designing.parts import parts_list
from filtration.designing.steps import build_steps
from filtration.hydraulics.bed import BedLayer
from filtration.hydraulics.design import Container, Tank
from filtration.hydraulics.overflow import Return
from filtration.hydraulics.piping import MATERIALS, Pipe
from filtration.hydraulics.pump import ParabolicCurve, Pump
from filtration.nitrification import MEDIA
from refuge.units import spoken
from tests.filtration.hydraulic_designs import barrel

sizes = st.builds(
    barrel,
    container=st.builds(
        Container,
        st.just("any"),
        st.sampled_from(["round", "rectangle"]),
        st.floats(0.2, 4),
        st.floats(0.2, 2),
        st.floats(0.2, 3),
    ),
    void_height_m=st.floats(0.01, 1),
    layers=st.lists(
        st.builds(BedLayer, st.sampled_from([m.key for m in MEDIA]), st.floats(0.01, 1), st.booleans()),
        max_size=4,
    ).map(tuple),
    pump=st.builds(
        Pump, st.builds(ParabolicCurve, st.floats(0.1, 12), st.floats(0.1, 60)), st.none() | st.floats(1, 900)
    ),
    inlet=st.builds(
        Pipe, st.floats(0.005, 0.3), st.floats(0, 60), st.sampled_from([m.key for m in MATERIALS])
    ),
    back=st.builds(
        Return,
        st.builds(Pipe, st.floats(0.005, 0.3), st.floats(0, 30)),
        st.sampled_from(["flush", "projecting", "standpipe"]),
        st.integers(1, 4),
        st.none() | st.floats(0, 1),
        st.floats(0, 0.99),
    ),
    overflow_height_m=st.floats(0.05, 2.5),
    floor_above_water_m=st.floats(-2, 2),
    tank=st.builds(Tank, st.floats(0.05, 60), st.floats(0.05, 60), st.floats(0, 2), st.floats(0, 1)),
    temperature_c=st.floats(0, 40),
    guard=st.sampled_from(["none", "check_valve"]),
    grate_open_share=st.none() | st.floats(0.05, 1),
)


@settings(max_examples=40)
@example(barrel(layers=(), temperature_c=0.0), 5e-324)  # so little that its sums round
@given(sizes, st.none() | st.floats(0, 500))
def test_any_sizes_that_can_be_typed_get_an_answer(design, load):
    verdict = assess(design, tan_g_day=load)
    numbers = verdict.numbers
    assert 0 <= numbers.point.flow_m3_h <= design.pump.curve.max_flow_m3_h
    assert 0 <= numbers.capture.low <= numbers.capture.share <= numbers.capture.high <= 1
    assert 0 <= numbers.shut.litres <= design.tank.surface_m2 * design.tank.over_intake_m * 1000 + 1e-6
    assert numbers.back_siphon.litres >= 0
    said = [text for f in verdict.findings for text in (f.words, f.would_do)]
    said += [text for step in build_steps(verdict) for text in (step.words, step.check)]
    said += [text for figure in figures(verdict) for text in (figure.said, figure.how)]
    said += [part.quantity + part.note for part in parts_list(design)]
    for text in said:
        assert not {"nan", "inf", "None"} & set(spoken(text).replace("\u00a0", " ").split())
