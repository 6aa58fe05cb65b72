"""The forecast's speed, as ratios to a general-purpose solver and to floors taken in the same run.

python -m benchmarks.forecast            1,000 circuits x 128 members x 14 days, hourly, on two threads
python -m benchmarks.forecast --small    a twentieth of the circuits

SciPy's LSODA solves a sample of the same members one by one, and its time is scaled up; it gets one call for each
stretch of unchanged inputs. It runs at a tolerance that keeps it, like the forecast, within 1 % (1e-4), and at 1e-8
as the reference for the errors.
"""

import argparse
import resource
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.plain_equations import solve
from filtration.forecast import (
    Circuit,
    Ensemble,
    Inputs,
    Job,
    Limit,
    Observation,
    Source,
    TopUp,
    WaterChange,
    WaterReading,
    draw,
    follow,
    forecast_many,
    meal_of_food,
    read,
    settled,
)
from filtration.forecast import layout as at
from filtration.forecast.compiled import kernel
from filtration.forecast.ensemble import steps_an_hour
from filtration.forecast.inputs import forcing
from filtration.forecast.priors import natural

Floats = NDArray[np.float64]
DAYS, MEMBERS, WORKERS = 14, 128, 2
HOURS = DAYS * 24
LOOSE, TIGHT = (1e-4, 1e-7), (1e-8, 1e-10)
LIMITS = (
    Limit("unionized", 0.05),
    Limit("nitrite", 1.0),
    Limit("nitrate", 40),
    Limit("oxygen", 5, is_least=True),
)


@dataclass(frozen=True, eq=False)
class Case:
    """One invented circuit with two weeks of inputs."""

    circuit: Circuit
    inputs: Inputs
    start: Ensemble


def cases(count: int) -> Iterator[Case]:
    """From quarantine barrels to ponds, fed every day to every week, day and night apart by a degree or three."""
    randomness = np.random.default_rng(11)
    for seed in range(count):
        volume = float(np.exp(randomness.uniform(np.log(0.5), np.log(40))))
        area, flow = 20 * volume * randomness.uniform(0.5, 1.5), volume * randomness.uniform(0.7, 2.5)
        mean, swing = randomness.uniform(16, 27), randomness.uniform(0.5, 1.5)
        circuit = Circuit(volume, area, flow)
        load = 2.0 * volume * randomness.uniform(0.3, 1.0)
        inputs = _inputs(volume, load, int(randomness.choice([1, 2, 3, 7])), mean, swing)
        yield Case(circuit, inputs, draw(circuit, settled(circuit, load, mean), members=MEMBERS, seed=seed))


def _inputs(volume: float, load_g_day: float, every_days: int, mean: float, swing: float) -> Inputs:
    celsius = mean + swing * np.sin(np.arange(HOURS) * 2 * np.pi / 24)
    kg = load_g_day * every_days / (0.16 * 0.092 * 1e3)
    meals = [meal_of_food(24 * day + 10, kg, 0.16, 0.75) for day in range(0, DAYS, every_days)]
    changes = [WaterChange(24 * day + 12, 0.2 * volume, Source(alkalinity=150)) for day in (4, 11)]
    filled = [TopUp(24 * day + 12, 0.028 * volume, Source(alkalinity=150)) for day in (1, 8)]
    return Inputs(celsius, (*meals, *changes, *filled), evaporation_m3_day=0.004 * volume)


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--small", action="store_true", help="a twentieth of the circuits")
    circuits = 50 if parser.parse_args().small else 1000
    print(f"{circuits} circuits x {MEMBERS} members x {DAYS} days, hourly, {WORKERS} threads")
    print(f"load the compiled step: {seconds(kernel):.1f} s (once; later runs read it from the data folder)")
    sample = list(cases(8))
    ours = measure_forecast(circuits)
    measure_lsoda(sample, ours)
    measure_assimilation(circuits)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of this process: {peak:.0f} MB")


def measure_forecast(circuits: int) -> float:
    """Seconds for each member: bands, chances and all; prints the floor as well, the bare step."""
    jobs = (Job(case.circuit, case.inputs, case.start, LIMITS) for case in cases(circuits))
    whole = seconds(lambda: [None for _ in forecast_many(jobs, workers=WORKERS)])
    floor = seconds(lambda: _on_threads(_bare, list(cases(circuits))))
    print(
        f"forecasts with bands and chances: {whole:.1f} s; the bare step: {floor:.1f} s; ratio {whole / floor:.2f}"
    )
    return whole / (circuits * MEMBERS)


def _on_threads(work: Callable[[Case], object], all_cases: list[Case]) -> None:
    with ThreadPoolExecutor(WORKERS) as pool:
        for _ in pool.map(work, all_cases):
            pass


def _bare(case: Case) -> None:
    table = forcing(case.circuit, case.inputs)
    nothing = np.zeros((0, len(at.QUANTITY_NAMES), MEMBERS), np.float32)
    states, steps = case.start.states.copy(), steps_an_hour(case.circuit, table)
    kernel().run(states, natural(case.start.scores), table, steps, 0, nothing)


def measure_lsoda(sample: list[Case], ours: float) -> None:
    """One member of each sampled circuit by LSODA: its time, and how far both are from a tight solution."""
    spent, errors, loose_errors = 0.0, [], []
    for case in sample:
        table = forcing(case.circuit, case.inputs)
        start, p = case.start.states[0], natural(case.start.scores)[0]
        exact = solve(start, p, table, kernel().begin_hour, *TIGHT)
        began = time.perf_counter()
        loose = solve(start, p, table, kernel().begin_hour, *LOOSE)
        spent += time.perf_counter() - began
        errors.append(_error(_hourly(case, table), exact))
        loose_errors.append(_error(loose, exact))
    theirs = spent / len(sample)
    worst = np.max(errors, axis=0)
    print(f"LSODA: {theirs * 1e3:.1f} ms a member on one core, error {np.max(loose_errors):.2%}")
    print(f"forecast: {ours * 1e3:.4f} ms a member; {theirs / ours:.0f} times as fast (at least 500)")
    print(
        f"largest error of any state at any hour: {worst.max():.2%} ({at.STATE_NAMES[worst.argmax()]}; at most 1 %)"
    )


def _hourly(case: Case, table: Floats) -> Floats:
    """States of the first member after each hour by the compiled step."""
    states, p = case.start.states[:1].copy(), natural(case.start.scores[:1])
    nothing = np.zeros((0, len(at.QUANTITY_NAMES), 1), np.float32)
    course, steps = [states[0].copy()], steps_an_hour(case.circuit, table)
    for hour in range(len(table)):
        kernel().run(states, p, table[hour : hour + 1], steps, 0, nothing)
        course.append(states[0].copy())
    return np.array(course)


def _error(found: Floats, exact: Floats) -> Floats:
    """Largest error of each state, relative to it or to a thousandth of its largest value."""
    scale = np.abs(exact) + np.maximum(np.abs(exact).max(axis=0) / 1000, 1e-9)
    error = (np.abs(found - exact) / scale).max(axis=0)
    error[at.ADDED] = 0.0  # counted when it comes, not integrated
    return np.asarray(error)


def measure_assimilation(circuits: int) -> None:
    """A year of weekly tests of five readings, for a fiftieth of the circuits, scaled up."""
    few = [Case(case.circuit, _year(case), case.start) for case in cases(max(circuits // 50, 4))]
    whole = seconds(lambda: _on_threads(_learn, few)) * circuits / len(few)
    floor = seconds(lambda: _on_threads(_bare, few)) * circuits / len(few)
    print(
        f"a year of weekly tests, {circuits} circuits: {whole:.0f} s (from {len(few)}); "
        f"bare step of that year: {floor:.0f} s; ratio {whole / floor:.2f}"
    )


def _year(case: Case) -> Inputs:
    """The same fortnight 26 times over."""
    fortnights = range(0, 26 * HOURS, HOURS)
    moved = [
        type(event)(**{**vars(event), "hour": event.hour + start})
        for start in fortnights
        for event in case.inputs.events
    ]
    return Inputs(np.tile(case.inputs.temperature_c, 26), tuple(moved), case.inputs.evaporation_m3_day)


TEST: tuple[Observation, ...] = (
    read("tan", 0.25),
    read("nitrite", 0.25),
    read("nitrate", 20.0),
    read("alkalinity", 120.0),
    read("ph", 7.8),
)


def _learn(case: Case) -> None:
    tests = [WaterReading(week * 168, TEST) for week in range(1, 53)]
    follow(case.circuit, case.inputs, case.start, tests)


if __name__ == "__main__":
    main()
