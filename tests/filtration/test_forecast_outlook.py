"""Bands, chances, the next test, drains and rinses, young filters, what-ifs and scores."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from filtration.forecast import (
    LEVELS,
    AreaChange,
    Circuit,
    Inputs,
    Job,
    Judged,
    Limit,
    Meal,
    Scenario,
    Source,
    WaterChange,
    advance,
    days_to_mature,
    days_until_drain,
    days_until_passing,
    days_until_rinse,
    days_until_unsure,
    draw,
    feeding_ladder,
    forecast,
    forecast_many,
    hours_to_clear,
    largest_meals,
    meal_of_food,
    meals_every,
    middle_member,
    new_filter,
    score,
    settled,
    steady,
)
from filtration.forecast import layout as at
from filtration.forecast.bands import bands_of, daily_chances
from filtration.forecast.ensemble import records_by_day
from filtration.forecast.outlook import span
from filtration.solids import Sediment, SedimentModel, project_days_until
from husbandry.bioload import planned_daily_load
from refuge.errors import OutOfRange
from tests.forecasting import BARREL, FISH

DAY = 24
MATURE = settled(BARREL, 3.0, 24)
WEEKLY = [meal_of_food(DAY * 7 * week + 10, 1.36, *FISH) for week in range(2)]
FORTNIGHT = steady(14 * DAY, 24, WEEKLY)
UNIONIZED = Limit("unionized", 0.05)
NITRITE = Limit("nitrite", 1.0)


def _records(values, quantity):
    """Records (members, records, quantities) that hold `values` (members, records) for one quantity."""
    values = np.asarray(values, dtype=np.float32)
    records = np.zeros((*values.shape, len(at.QUANTITY_NAMES)), np.float32)
    records[:, :, at.QUANTITY[quantity]] = values
    return records


@pytest.fixture(scope="module")
def known():
    return forecast(BARREL, FORTNIGHT, MATURE, seed=1, limits=[UNIONIZED, NITRITE])


def test_bands_are_numpy_quantiles():
    records = np.random.default_rng(1).gamma(2, size=(101, 5, len(at.QUANTITY_NAMES))).astype(np.float32)
    expected = np.quantile(records, LEVELS, axis=0).transpose(2, 1, 0)
    assert bands_of(records) == pytest.approx(expected, rel=1e-5)


def test_bands_rise_and_cover_two_weeks(known):
    assert known.bands.shape == (len(at.QUANTITY_NAMES), 337, 5)
    assert (np.diff(known.bands, axis=-1) >= 0).all()
    assert known.hours[-1] == 14 * DAY
    assert known.chances.shape == (2, 14)


def test_chances_count_members_day_by_day():
    values = np.zeros((4, 5))
    values[0, 1] = values[1, 3] = 2.0
    records = _records(values, "nitrite")
    assert daily_chances(records, [NITRITE], 12)[0] == pytest.approx([0.25, 0.25])
    assert daily_chances(records, [Limit("nitrite", 0.5, is_least=True)], 12)[0] == pytest.approx([1, 1])


def test_same_seed_same_forecast_other_seed_another(known):
    again = forecast(BARREL, FORTNIGHT, MATURE, seed=1)
    other = forecast(BARREL, FORTNIGHT, MATURE, seed=2)
    assert np.array_equal(again.bands, known.bands)
    assert not np.array_equal(other.bands, known.bands)


def test_going_on_from_the_end_is_the_same_as_going_through(known):
    first = forecast(BARREL, FORTNIGHT, MATURE, hours=7 * DAY, seed=1)
    second = forecast(BARREL, FORTNIGHT.between(7 * DAY, 14 * DAY), first.end, hours=7 * DAY)
    assert second.bands[:, 1:] == pytest.approx(known.bands[:, 7 * DAY + 1 :], rel=1e-5, abs=1e-7)


def test_a_forecast_of_few_records_is_a_part_of_that_of_many(known):
    few = forecast(BARREL, FORTNIGHT, MATURE, seed=1, every=12)
    assert few.band("nitrate")[1:] == pytest.approx(known.band("nitrate")[12::12], rel=1e-6)


def test_many_at_once_are_the_same_and_in_order():
    jobs = [
        Job(replace(BARREL, volume_m3=volume), FORTNIGHT, MATURE, every=24)
        for volume in (0.5, 1.0, 2.0, 4.0, 8.0)
    ]
    together = list(forecast_many(iter(jobs), workers=2))
    for job, found in zip(jobs, together, strict=True):
        assert np.array_equal(found.bands, forecast(job.circuit, job.inputs, job.start, every=24).bands)


def test_many_holds_only_a_few_at_a_time():
    taken = 0

    def jobs():
        nonlocal taken
        for _ in range(40):
            taken += 1
            yield Job(BARREL, FORTNIGHT, MATURE, hours=DAY, every=24)

    next(forecast_many(jobs(), workers=2))
    assert taken <= 5


def test_inputs_too_short_are_refused():
    with pytest.raises(OutOfRange, match="336"):
        forecast(BARREL, steady(100, 24), MATURE)


@pytest.mark.parametrize("every", [5, 48])
def test_records_must_fit_the_day(every):
    with pytest.raises(OutOfRange, match="every"):
        forecast(BARREL, FORTNIGHT, MATURE, every=every)


@pytest.mark.parametrize("make", [lambda: Limit("colour", 1), lambda: Limit("tan", math.nan)])
def test_impossible_limits_are_refused(make):
    with pytest.raises(OutOfRange):
        make()


def _forecast_with(chance=0.0, width=0.0, day=3):
    """A forecast of 14 days in which one day differs."""
    plain = forecast(BARREL, steady(14 * DAY, 24), MATURE, members=8, every=24, limits=[NITRITE])
    bands, chances = np.zeros_like(plain.bands), np.zeros_like(plain.chances)
    chances[0, day] = chance
    bands[at.Q_NITRITE, day + 1, -1] = width
    return replace(plain, bands=bands, chances=chances)


def test_the_next_test_falls_on_the_first_day_in_doubt():
    found = days_until_unsure(_forecast_with(chance=0.2), longest_days=14)
    assert (found.day, found.kind, found.quantity, found.chance) == (3, "may pass", "nitrite", 0.2)
    assert "day 4" in found.reason and "20%" in found.reason


def test_of_several_in_doubt_on_a_day_the_likeliest_is_named():
    vague = _forecast_with(chance=0.1, width=1.5)
    worse = Limit("tan", 2.0)
    rows = np.vstack([vague.chances, np.where(vague.chances > 0, 0.87, 0.0)])
    both = replace(vague, limits=(*vague.limits, worse), chances=rows)
    found = days_until_unsure(both, longest_days=14)
    assert (found.day, found.quantity, found.chance) == (3, "tan", 0.87)


def test_a_limit_surely_passed_and_a_vague_forecast_ask_for_a_test_too():
    assert days_until_unsure(_forecast_with(chance=0.99), longest_days=14).kind == "will pass"
    vague = days_until_unsure(_forecast_with(width=1.5), longest_days=14)
    assert (vague.day, vague.kind, vague.width) == (3, "too vague", 1.5)


def test_nothing_in_doubt_leaves_the_longest_interval():
    calm = _forecast_with()
    assert days_until_unsure(calm, longest_days=10).day == 10
    assert days_until_unsure(calm, longest_days=60).day == 14
    assert days_until_unsure(calm, longest_days=10).kind == "longest interval"
    assert days_until_unsure(_forecast_with(chance=0.2), longest_days=2).day == 2


def test_span_of_times():
    times = np.array([*np.arange(1.0, 19.0), np.inf, np.inf])
    found = span(times)
    assert (found.early, found.middle, found.late, found.share) == (1.0, 10.0, None, 0.9)


def test_hours_to_clear_counts_to_the_last_cloudy_hour():
    records = _records([[0, 9, 9, 1, 9, 1, 1], [0, 1, 1, 1, 1, 1, 1], [0, 9, 9, 9, 9, 9, 9]], "suspended")
    found = hours_to_clear(records, 1, fed_at_hour=1)
    assert (found.early, found.middle, found.late) == (0.0, 4.0, None)
    assert found.share == pytest.approx(2 / 3)


def test_days_until_passing():
    records = _records([[0, 0, 50, 60], [0, 0, 0, 0], [50, 0, 0, 0]], "nitrate")
    found = days_until_passing(records, 12, Limit("nitrate", 40))
    assert (found.early, found.middle, found.late) == (0.0, 1.0, None)


def test_a_drain_is_projected_as_by_the_sums_of_one_void():
    """The middle member by filtration.solids.project_days_until, which bisects the same closed form by itself."""
    start = middle_member(BARREL, replace(MATURE, easy_sediment_g=100, inert_sediment_g=50))
    model = SedimentModel(capture_share=0.7)
    expected = project_days_until(15, Sediment(100, 50), 0.7 * 12, 24, model)
    assert days_until_drain(start, 15, 12, 24).middle == pytest.approx(expected, abs=0.01)
    # a filter whose drains showed twice what was modelled is full at half the modelled sediment
    expected = project_days_until(7.5, Sediment(100, 50), 0.7 * 12, 24, model)
    assert days_until_drain(start, 15, 12, 24, correction=2.0).middle == pytest.approx(expected, abs=0.01)


def test_drains_and_rinses_have_a_range_and_may_never_come():
    ensemble = draw(BARREL, MATURE, seed=3)
    drain, rinse = days_until_drain(ensemble, 15, 12, 24), days_until_rinse(ensemble, 2000, 12)
    assert drain.early < drain.middle < drain.late
    # the middle one catches 30 % of 12 g a day
    assert rinse.middle == pytest.approx(2000 / (0.3 * 12), rel=0.15)
    assert days_until_rinse(ensemble, 2000, 0).middle is None
    assert days_until_drain(ensemble, 15, 0, 24).share == 0


def _young_plan(days, share=1 / 7):
    load = planned_daily_load(1.36, 7, *FISH).scaled(share)
    meals = meals_every(load, days * DAY, first=10, every_hours=DAY)
    changes = [
        WaterChange(hour, 0.6, Source(alkalinity=80, ph=7.2)) for hour in range(60, days * DAY, 3 * DAY)
    ]
    return steady(days * DAY, 24, [*meals, *changes])


def test_a_filter_far_too_small_never_matures():
    tiny = replace(BARREL, media_area_m2=1.0)
    found = days_to_mature(tiny, _young_plan(60), new_filter(), members=32)
    assert found.middle is None
    assert found.share < 0.05


LOOSE = [Limit("unionized", 0.3), Limit("nitrite", 5.0)]


def test_the_largest_meal_keeps_the_limit_and_a_larger_one_does_not():
    inputs = steady(7 * DAY, 24, [WaterChange(80, 0.4, Source(alkalinity=80))])
    meal = [meal_of_food(10, 1.36, *FISH)]
    factor = largest_meals(BARREL, inputs, new_filter(), meal, LOOSE, members=64, seed=4)
    assert 0.02 < factor < 1.0
    for share, is_safe in ((factor, True), (1.1 * factor, False)):
        fed = inputs.plus(*(each.scaled(share) for each in meal))
        _, records = advance(draw(BARREL, new_filter(), members=64, seed=4), BARREL, fed, every=6)
        assert (daily_chances(records, LOOSE, 6).max() <= 0.1) == is_safe


def test_the_days_told_one_by_one_are_those_of_the_whole_run():
    warming = replace(steady(7 * DAY + 12, 24), temperature_c=np.linspace(20, 26, 7 * DAY + 12))
    inputs = warming.plus(meal_of_food(10, 1.36, *FISH), WaterChange(80, 0.4, Source(alkalinity=80)))
    start = draw(BARREL, new_filter(), members=32, seed=8)
    _, whole = advance(start, BARREL, inputs, every=6)
    days = list(records_by_day(start, BARREL, inputs, 6))
    assert len(days) == 8
    for number, day in enumerate(days):
        assert np.array_equal(day, whole[:, number * 4 : number * 4 + 5])
    by_day = np.hstack([daily_chances(day, LOOSE, 6) for day in days])
    assert np.array_equal(by_day, daily_chances(whole, LOOSE, 6))


def test_a_mature_filter_may_be_fed_more_than_a_new_one():
    inputs = steady(7 * DAY, 24)
    meal = [meal_of_food(10, 1.36, *FISH)]
    new, mature = (
        largest_meals(BARREL, inputs, start, meal, LOOSE, members=64, seed=5)
        for start in (new_filter(), MATURE)
    )
    assert mature > 2 * new


def test_no_meal_is_safe_where_the_limit_is_passed_already():
    foul = replace(new_filter(), tan=20.0)
    meal = [meal_of_food(10, 1.36, *FISH)]
    assert largest_meals(BARREL, steady(3 * DAY, 24), foul, meal, LOOSE, members=32) < 0.001


def test_the_ladder_rises_as_a_new_filter_matures_and_stands_higher_for_a_seeded_one():
    ladder, seeded = (
        list(feeding_ladder(BARREL, _young_plan(56), new_filter(seeded=is_seeded), LOOSE, members=64, seed=6))
        for is_seeded in (False, True)
    )
    assert seeded[0] > 2 * ladder[0]
    assert len(ladder) == 56 - 14 + 1
    assert ladder[0] < 0.7
    assert ladder[-1] > 1.3 * ladder[0]
    assert all(0 <= share <= 1 for share in ladder)


def test_the_ladder_names_the_largest_meals_of_its_first_day_even_beyond_the_plan():
    plan, start = _young_plan(14, share=0.06), new_filter(seeded=True)
    quiet = replace(plan, events=tuple(each for each in plan.events if not isinstance(each, Meal)))
    meals = [each for each in plan.events if isinstance(each, Meal)]
    share = next(feeding_ladder(BARREL, plan, start, LOOSE, most=3.0, members=64, seed=7))
    exact = largest_meals(BARREL, quiet, start, meals, LOOSE, most=3.0, members=64, seed=7)
    assert share == pytest.approx(exact, rel=0.06)
    assert 1 < share < 3


@pytest.fixture(scope="module")
def today():
    return Scenario(BARREL, FORTNIGHT, draw(BARREL, MATURE, seed=7))


def _middle(scenario, quantity, day=13):
    return scenario.forecast(every=24).band(quantity)[day, 2]


def test_what_if_leaves_today_alone_and_goes_the_right_way(today):
    before = _middle(today, "nitrate")
    newcomer = today.with_events(*(Meal(day * DAY + 12, 3, 12) for day in range(14)))
    assert _middle(newcomer, "nitrate") > before + 5
    assert _middle(today.fed_times(0.5), "nitrate") < before
    assert _middle(today.with_meals([]), "tan", 5) < _middle(today, "tan", 5)
    assert _middle(today, "nitrate") == before


def test_losing_filter_flow_or_bacteria_leaves_more_ammonia(today):
    plain = _middle(today, "tan", 3)
    assert _middle(today.without_filter_share(0.8, 20), "tan", 3) > 1.5 * plain
    assert _middle(today.pump_stopped(30, 36), "tan", 3) > 1.2 * plain
    assert _middle(today.rinsed(20, 0.8), "tan", 3) > 1.2 * plain


def test_cold_water_spreads_the_meal(today):
    cold = today.warmer(-12)
    assert cold.inputs.temperature_c[0] == 12
    assert _middle(cold, "nitrate", 6) < _middle(today, "nitrate", 6)


def test_merging_mixes_and_splitting_parts(today):
    other = Scenario(
        Circuit(2.6, 60, 6), FORTNIGHT, draw(Circuit(2.6, 60, 6), replace(MATURE, nitrate=50), seed=8)
    )
    both = today.merged_with(other)
    assert both.circuit.volume_m3 == pytest.approx(3.9)
    for state in (at.NITRATE, at.VOLUME, at.GUT):
        assert both.start.states[:, state] == pytest.approx(
            today.start.states[:, state] + other.start.states[:, state]
        )
    films = both.start.states[:, at.AMMONIA_OXIDIZERS]
    assert (
        films <= np.maximum(today.start.states, other.start.states)[:, at.AMMONIA_OXIDIZERS] + 1e-12
    ).all()
    part = both.split(1 / 3, 0.5, 0.5)
    assert part.circuit.volume_m3 == pytest.approx(1.3)
    assert part.start.states[:, at.NITRATE] == pytest.approx(both.start.states[:, at.NITRATE] / 3)
    assert sum(event.eaten_tan_g for event in part.inputs.events) == pytest.approx(
        0.5 * sum(event.eaten_tan_g for event in both.inputs.events)
    )


def test_waters_of_unlike_length_are_not_merged(today):
    short = replace(today, inputs=Inputs(np.full(24, 20.0)))
    with pytest.raises(OutOfRange, match="336"):
        today.merged_with(short)


def test_losing_all_filters_is_the_same_as_no_area(today):
    gone = today.without_filter_share(1.0)
    assert gone.inputs.events[-1] == AreaChange(0, 0.0)
    assert _middle(gone, "nitrate") < _middle(today, "nitrate")


def test_coverage_counts_the_part_of_a_reading_inside():
    """Chances at 1.5, 2.5, 3.5 and 4.5: 0.375, 0.625, 0.85 and 1; of the last 0.15 only 0.10 lie below 0.95."""
    levels = (0.0, 1.0, 2.0, 3.0, 4.0)
    found = score(
        [Judged("tan", levels, 1.5, 2.5), Judged("tan", levels, 3.5, 4.5), Judged("ph", levels, 7, 7)]
    )
    assert found["tan"].count == 2
    assert found["tan"].within_50 == pytest.approx(0.5)
    assert found["tan"].within_90 == pytest.approx((1 + 0.10 / 0.15) / 2)
    assert found["ph"].within_90 == 0


def test_a_coarse_card_does_not_spoil_an_honest_score():
    """Normal truth, honest levels, a card with three colours: in the long run 90 and 50 % all the same."""
    levels = tuple(stats.norm.ppf(LEVELS))
    edges = [-math.inf, -0.7, 0.9, math.inf]
    values = np.random.default_rng(10).standard_normal(6000)
    cells = np.searchsorted(edges, values)
    found = score(Judged("ph", levels, edges[cell - 1], edges[cell]) for cell in cells)["ph"]
    assert found.within_90 == pytest.approx(0.9, abs=0.02)
    assert found.within_50 == pytest.approx(0.5, abs=0.03)


def test_levels_out_of_order_are_refused():
    with pytest.raises(OutOfRange, match="levels"):
        Judged("tan", (1.0, 0.0, 2.0, 3.0, 4.0), 1, 2)
