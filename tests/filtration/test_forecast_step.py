"""The compiled step: balances, signs, order, and what each event does."""

import math
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
from filelock import FileLock
from hypothesis import given, settings
from hypothesis import strategies as st

from filtration.forecast import (
    AreaChange,
    Beginning,
    Buffer,
    Circuit,
    Damage,
    Drain,
    Inputs,
    Meal,
    PumpStop,
    Rinse,
    Seeding,
    Source,
    TopUp,
    WaterChange,
    compiled,
    draw,
    keep_compiled_in,
    middle_member,
    settled,
    steady,
)
from filtration.forecast import layout as at
from filtration.forecast.ensemble import steps_an_hour
from filtration.forecast.inputs import forcing
from filtration.forecast.priors import natural
from refuge.errors import OutOfRange
from tests.forecasting import BARREL, course_of, nitrogen

HOURS = 96
MATURE = settled(BARREL, 3.0, 24)
SOURCE = Source(nitrate=3, alkalinity=90, chlorine=2, is_chloramine=True)
hours = st.integers(0, HOURS - 1)
shares = st.floats(0, 1)

events = st.one_of(
    st.builds(Meal, hours, *[st.floats(0, 60)] * 2),
    st.builds(WaterChange, hours, st.floats(0, 3), st.just(SOURCE), st.booleans()),
    st.builds(TopUp, hours, st.floats(0, 0.5), st.just(SOURCE), st.booleans()),
    st.builds(PumpStop, hours, st.integers(0, 40)),
    st.builds(Rinse, hours, shares, shares),
    st.builds(Drain, hours, shares),
    st.builds(Damage, hours, shares, shares),
    st.builds(Seeding, hours, shares),
    st.builds(AreaChange, hours, st.floats(0, 3)),
    st.builds(Buffer, hours, st.floats(0, 200)),
)
circuits = st.builds(
    Circuit,
    volume_m3=st.floats(0.05, 200),
    media_area_m2=st.floats(0, 3000),
    flow_m3_h=st.floats(0, 60),
    surface_exchange_per_day=st.floats(0, 50),
)


def test_importing_the_forecast_neither_compiles_nor_loads_the_compiler():
    look = "import sys, filtration.forecast; sys.exit('numba' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", look], check=False).returncode == 0


def test_compiled_code_is_kept_only_where_it_was_told_to(tmp_path, monkeypatch):
    monkeypatch.setattr(compiled, "_folder", [])
    assert compiled.prepare_numba() is False
    keep_compiled_in(tmp_path)
    assert compiled.prepare_numba() is True
    assert [folder.name.startswith("forecast-") for folder in tmp_path.iterdir()] == [True]


def test_while_one_process_compiles_another_waits(tmp_path, monkeypatch):
    monkeypatch.setattr(compiled, "_folder", [tmp_path])
    lock = FileLock(tmp_path / "compiling.lock")
    pool = ThreadPoolExecutor(1)
    with lock:
        waiting = pool.submit(compiled.kernel.__wrapped__)
        with pytest.raises(TimeoutError):
            waiting.result(timeout=0.3)
    assert waiting.result() is compiled.kernel()
    pool.shutdown()


@settings(max_examples=60)
@given(
    circuits,
    st.lists(events, max_size=8),
    st.floats(0, 40),
    st.floats(0, 0.05),
    st.integers(1, 8),
    st.integers(0, 1000),
)
def test_nitrogen_is_conserved_and_nothing_turns_negative(circuit, happens, celsius, dry, steps, seed):
    inputs = Inputs(np.full(HOURS, celsius), tuple(happens), dry)
    start = draw(circuit, settled(circuit, circuit.volume_m3, 24), members=4, seed=seed)
    course = course_of(circuit, inputs, start, steps)
    assert np.isfinite(course).all()
    assert (course >= 0).all()
    assert (course[..., [at.AMMONIA_OXIDIZERS, at.NITRITE_OXIDIZERS]] <= 1).all()
    total = course[..., list(at.NITROGEN_STATES)].sum(axis=-1)
    assert np.abs(nitrogen(course) - nitrogen(course[0])).max() <= 1e-9 * max(total.max(), 1e-3)


@pytest.mark.parametrize("members", [1, 31, 32, 33, 70])
def test_no_member_depends_on_those_beside_it(members):
    """Members are worked on in blocks; the last block is filled up with copies."""
    inputs = steady(30, 24, [Meal(5, 20, 85), WaterChange(9, 0.3, SOURCE), Damage(20, 0.4, 0.1)])
    table, everyone = forcing(BARREL, inputs), draw(BARREL, MATURE, members=70, seed=3)

    def run(states, parameters):
        seen = np.zeros((31, len(at.QUANTITY_NAMES), len(states)), np.float32)
        compiled.kernel().run(states, parameters, table, 3, 1, seen)
        return states, seen

    states, seen = run(everyone.states.copy(), everyone.parameters)
    few, seen_few = run(everyone.states[-members:].copy(), everyone.parameters[-members:].copy())
    np.testing.assert_allclose(few, states[-members:], rtol=1e-12)
    np.testing.assert_allclose(seen_few, seen[..., -members:], rtol=1e-6)


def test_the_share_that_is_gone_agrees_with_the_exponential_function():
    from filtration.forecast.step import gone_share

    for x in (0.0, 1e-300, *np.logspace(-12, 3, 400)):
        assert gone_share(x) == pytest.approx(-math.expm1(-x), rel=3e-15, abs=0)


def test_second_order():
    """Half the step, a quarter of the error, against a hundred times finer steps."""
    inputs = steady(72, 24, [Meal(5, 20, 85)])
    start = draw(BARREL, MATURE, members=8, seed=3)
    fine = course_of(BARREL, inputs, start, 200)

    def error(steps):
        return np.abs(course_of(BARREL, inputs, start, steps) - fine)[1:, :, [at.TAN, at.NITRITE]].max()

    assert 3 < error(2) / error(4) < 5
    assert 3 < error(4) / error(8) < 5


def test_no_bacteria_ammonia_is_what_came_in():
    bare = replace(MATURE, ammonia_oxidizers=0.0, nitrite_oxidizers=0.0)
    start = middle_member(BARREL, bare)
    course = course_of(BARREL, steady(24 * 60, 24, [Meal(0, 20, 0)]), start)
    expected = bare.tan * 1.3 + bare.gut_nitrogen_g + bare.excreta_nitrogen_g + 20
    assert course[-1, 0, at.TAN] == pytest.approx(expected, rel=1e-9)
    assert course[-1, 0, at.NITRITE] == pytest.approx(bare.nitrite * 1.3, rel=1e-9)


def test_no_food_films_starve_by_their_loss_alone():
    """With nothing to take up the films fall as exp(-0.05 t) at 20 C, and nothing appears."""
    empty = replace(MATURE, tan=0, nitrite=0, gut_nitrogen_g=0, excreta_nitrogen_g=0, temperature_c=20)
    course = course_of(BARREL, steady(240, 20), middle_member(BARREL, empty))
    for film, share in (
        (at.AMMONIA_OXIDIZERS, empty.ammonia_oxidizers),
        (at.NITRITE_OXIDIZERS, empty.nitrite_oxidizers),
    ):
        assert course[-1, 0, film] == pytest.approx(share * np.exp(-0.05 * 10), rel=1e-6)
    assert course[-1, 0, [at.TAN, at.NITRITE]].max() == 0


def test_sediment_feeds_a_water_that_nobody_feeds():
    """0.05 g of nitrogen for each gram that is digested; the rest of the sediment stays."""
    dirty = replace(
        MATURE,
        tan=0,
        nitrite=0,
        gut_nitrogen_g=0,
        excreta_nitrogen_g=0,
        easy_sediment_g=400.0,
        temperature_c=20,
    )
    course = course_of(BARREL, steady(240, 20), middle_member(BARREL, dirty))[:, 0]
    digested = course[0, at.EASY] - course[-1, at.EASY]
    assert course[-1, at.ADDED] == pytest.approx(0.05 * digested, rel=1e-9)
    assert 0 < course[-1, at.TAN] < 0.1 * course[-1, at.ADDED]  # the film takes it
    bare = middle_member(BARREL, replace(dirty, easy_sediment_g=0.0))
    starved = course_of(BARREL, steady(240, 20), bare)[-1, 0, at.AMMONIA_OXIDIZERS]
    assert course[-1, at.AMMONIA_OXIDIZERS] > starved


@pytest.mark.parametrize(("load", "share"), [(0.05, 0.06), (0.2, 0.22), (3.0, 0.9)])
def test_a_settled_film_is_as_full_as_its_load_keeps_it(load, share):
    """In balance a film works at 0.05 / (0.8 - 0.15 / 0.615) = 9 % of its full speed; it is not taken as over 90 % full."""
    full = BARREL.media_area_m2 * 0.3 * 1.04**2
    film = settled(BARREL, load, 24).ammonia_oxidizers
    assert film == pytest.approx(min(load / full / 0.0899, 0.9), rel=0.01)
    assert film == pytest.approx(share, abs=0.05)
    # what is left of fatter times is not known
    assert (settled(BARREL, load, 24).film_spread > 1) == (share < 0.9)


def test_no_oxygen_no_nitrification():
    airless = replace(MATURE, oxygen=0.0, tan=5.0)
    sealed = replace(BARREL, surface_exchange_per_day=0.0, fall_recovery=0.0)
    course = course_of(sealed, steady(240, 24), middle_member(sealed, airless))
    assert course[-1, 0, at.NITRATE] <= course[0, 0, at.NITRATE]
    assert course[-1, 0, at.TAN] == pytest.approx(
        1.3 * 5
        + course[0, 0, at.GUT]
        + course[0, 0, at.EXCRETA]
        - course[-1, 0, at.GUT]
        - course[-1, 0, at.EXCRETA]
    )


def test_a_change_mixes_and_takes_nitrogen_out():
    start = middle_member(BARREL, replace(MATURE, nitrate=40, gut_nitrogen_g=0, excreta_nitrogen_g=0))
    table = forcing(BARREL, steady(1, 24, [WaterChange(0, 0.65, Source(nitrate=2, alkalinity=60))]))
    y = start.states[0].copy()
    compiled.kernel().begin_hour(y[None], natural(start.scores), 0, table[0])
    assert y[at.NITRATE] / 1.3 == pytest.approx(21)
    assert y[at.ALKALINITY] / 1.3 == pytest.approx((120 + 60) / 2)
    assert y[at.REMOVED] == pytest.approx(0.65 * (40 + MATURE.tan + MATURE.nitrite))


def test_a_change_takes_the_dissolved_part_of_what_was_excreted_along():
    """Mixing: of 4 g, half of it urea (the median), half of the water takes 1 g; nothing of it is lost to the books."""
    start = middle_member(BARREL, replace(MATURE, excreta_nitrogen_g=4.0))
    y = start.states[0].copy()
    table = forcing(BARREL, steady(1, 24, [WaterChange(0, 0.65, Source())]))
    compiled.kernel().begin_hour(y[None], natural(start.scores), 0, table[0])
    assert y[at.EXCRETA] == pytest.approx(3.0)
    assert nitrogen(y) == pytest.approx(nitrogen(start.states[0]), abs=1e-9)


def test_two_new_waters_in_one_hour_are_mixed_by_volume():
    pair = [WaterChange(0, 0.3, Source(nitrate=10)), TopUp(0, 0.1, Source(nitrate=2))]
    table = forcing(BARREL, steady(1, 24, pair))
    assert table[0, at.F_NEW_NITRATE] == pytest.approx(8)
    assert table[0, [at.F_CHANGE, at.F_TOP_UP]].tolist() == [0.3, 0.1]


def test_chloramine_brings_ammonia_even_neutralised_but_then_no_harm():
    """1 mg/L of chlorine as monochloramine carries 14.007 / 70.906 mg/L of nitrogen."""
    source = Source(chlorine=2.0, is_chloramine=True)
    assert source.total_ammonia == pytest.approx(2 * 14.007 / 70.906)
    start = middle_member(BARREL, MATURE)
    safe, raw = (
        course_of(BARREL, steady(1, 24, [WaterChange(0, 0.65, source, is_neutralised)]), start)[-1, 0]
        for is_neutralised in (True, False)
    )
    assert raw[at.AMMONIA_OXIDIZERS] == pytest.approx(safe[at.AMMONIA_OXIDIZERS] * np.exp(-1.0), rel=0.02)


def test_evaporation_concentrates():
    inputs = Inputs(np.full(48, 24.0), (), evaporation_m3_day=0.1)
    course = course_of(BARREL, inputs, middle_member(BARREL, MATURE))
    assert course[-1, 0, at.VOLUME] == pytest.approx(1.1)
    assert course[-1, 0, at.NITRATE] / 1.1 > MATURE.nitrate


def test_evaporation_stops_where_the_pump_runs_dry():
    inputs = Inputs(np.full(24 * 30, 24.0), (), evaporation_m3_day=0.1)
    course = course_of(BARREL, inputs, middle_member(BARREL, MATURE))
    assert course[-1, 0, at.VOLUME] == pytest.approx(0.65)


def test_a_filter_that_never_had_flow_loses_its_bacteria_as_one_that_was_stopped():
    still, stopped = replace(BARREL, flow_m3_h=0.0), steady(24, 24, [PumpStop(0, 24)])
    course = [
        course_of(circuit, inputs, middle_member(BARREL, MATURE))[-1, 0, at.AMMONIA_OXIDIZERS]
        for circuit, inputs in ((still, steady(24, 24)), (BARREL, stopped))
    ]
    assert course[0] == pytest.approx(course[1], rel=1e-9)


def test_a_stopped_pump_leaves_ammonia_and_then_kills():
    start = middle_member(BARREL, replace(MATURE, tan=2.0))
    runs, stops = (
        course_of(BARREL, steady(48, 24, happens), start)[:, 0] for happens in ([], [PumpStop(0, 24)])
    )
    assert stops[24, at.TAN] > runs[24, at.TAN]
    # the bed has oxygen for 1.5 h; then 1.2 / day on top of the loss at rest, no growth
    usual = 0.05 * np.exp(68_000 * 4 / (8.31 * 297.15 * 293.15))
    expected = MATURE.ammonia_oxidizers * np.exp(-(usual * 24 + 1.2 * 22.5) / 24)
    assert stops[24, at.AMMONIA_OXIDIZERS] == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("event", "state", "factor"),
    [
        (Rinse(0, 0.3, 0.25), at.AMMONIA_OXIDIZERS, 0.7),
        (Rinse(0, 0.3, 0.25), at.MEDIA, 0.25),
        (Drain(0, 0.2), at.INERT, 0.2),
        (Damage(0, 0.4, 0.1), at.NITRITE_OXIDIZERS, 0.1),
        (AreaChange(0, 2.0), at.AMMONIA_OXIDIZERS, 0.5),
        (AreaChange(0, 0.5), at.AMMONIA_OXIDIZERS, 1.0),
    ],
)
def test_work_on_the_filter(event, state, factor):
    dirty = replace(MATURE, inert_sediment_g=300.0, media_solids_g=100.0)
    start = middle_member(BARREL, dirty)
    touched, untouched = (
        course_of(BARREL, steady(1, 24, happens), start)[-1, 0, state] for happens in ([event], [])
    )
    assert touched == pytest.approx(factor * untouched, rel=0.01)


def test_area_comes_and_goes_with_the_filter():
    assert forcing(BARREL, steady(4, 24, [AreaChange(2, 0.5)]))[:, at.F_FILM].tolist() == pytest.approx(
        np.repeat([1.0, 0.5], 2) * BARREL.media_area_m2 * 0.3 * 1.04**2
    )


def test_seeding_and_buffer():
    start = middle_member(BARREL, replace(MATURE, ammonia_oxidizers=0.01))
    course = course_of(BARREL, steady(1, 24, [Seeding(0, 0.2), Buffer(0, 65)]), start)[-1, 0]
    assert course[at.AMMONIA_OXIDIZERS] == pytest.approx(0.21, rel=0.02)
    assert course[at.ALKALINITY] / 1.3 == pytest.approx(120 + 50, rel=0.02)


def test_a_part_of_the_inputs_is_the_same_as_the_whole():
    whole = steady(48, 24, [Meal(30, 20, 85), PumpStop(20, 10), WaterChange(2, 0.2, SOURCE)])
    one, two = whole.between(0, 24), whole.between(24, 48)
    assert [type(event).__name__ for event in one.events] == ["PumpStop", "WaterChange"]
    assert two.events == (Meal(6, 20, 85), PumpStop(0, 6))
    assert two.hours == 24


@pytest.mark.parametrize("hour", [-1, 24])
def test_events_outside_the_hours_are_refused(hour):
    with pytest.raises(OutOfRange, match="hour"):
        forcing(BARREL, steady(24, 24, [Meal(hour, 1, 1)]))


@pytest.mark.parametrize("celsius", [-0.1, 40.1, float("nan")])
def test_temperatures_out_of_range_are_refused(celsius):
    with pytest.raises(OutOfRange, match="temperature_c"):
        forcing(BARREL, steady(24, celsius))


@pytest.mark.parametrize(
    "make",
    [
        lambda x: Circuit(x, 10, 1),
        lambda x: Circuit(1, x, 1),
        lambda x: Circuit(1, 10, x),
        lambda x: Beginning(tan=x),
        lambda x: Beginning(ammonia_oxidizers=x),
        lambda x: Beginning(ph=x),
        lambda x: Meal(0, x, 0),
        lambda x: forcing(BARREL, steady(1, 20, [WaterChange(0, x, SOURCE)])),
        lambda x: forcing(BARREL, steady(1, 20, [Drain(0, x)])),
    ],
)
@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_bad_numbers_are_refused(make, bad):
    with pytest.raises(OutOfRange):
        make(bad)


def test_a_quick_filter_gets_more_steps():
    quick = Circuit(0.2, 30, 2)
    slow = Circuit(20, 30, 12)
    tables = [forcing(circuit, steady(1, 28)) for circuit in (quick, slow)]
    assert steps_an_hour(quick, tables[0]) > steps_an_hour(slow, tables[1])
