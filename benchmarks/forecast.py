"""The forecast's speed, as ratios to a general-purpose solver and to floors taken in the same run.

python -m benchmarks.forecast            1,000 circuits x 128 members x 14 days, hourly, on two threads
python -m benchmarks.forecast --small    a twentieth of the circuits

SciPy's LSODA solves a sample of the same members one by one; it gets one call for each stretch of unchanged inputs.
It runs at SciPy's own tolerance (1.49e-8), at a loose one that still keeps it within 1 % (1e-4), and at 1e-10 as
the reference for the errors. Times are processor seconds, which other work on the machine disturbs less than the
clock; two cores halve them. The clock is printed as well.
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
LOOSE, USUAL, TIGHT = (1e-4, 1e-7), (1.49e-8, 1.49e-8), (1e-10, 1e-12)
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


@dataclass(frozen=True)
class Spent:
    """Seconds by the clock, and of all cores together."""

    clock: float
    cores: float


def seconds(work: Callable[[], object]) -> Spent:
    clock, cores = time.perf_counter(), time.process_time()
    work()
    return Spent(time.perf_counter() - clock, time.process_time() - cores)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--small", action="store_true", help="a twentieth of the circuits")
    circuits = 50 if parser.parse_args().small else 1000
    print(f"{circuits} circuits x {MEMBERS} members x {DAYS} days, hourly, {WORKERS} threads")
    print(
        f"load the compiled step: {seconds(kernel).cores:.1f} s (once; kept in the data folder by the site)"
    )
    measure_lsoda(list(cases(8)), *measure_forecast(list(cases(circuits))))
    measure_assimilation(circuits)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of this process: {peak:.0f} MB")


def measure_forecast(all_cases: list[Case]) -> tuple[float, float]:
    """Core seconds a member: for hourly values as LSODA gives them, and for whole forecasts."""
    hourly = seconds(lambda: _on_threads(_hourly_values, all_cases))
    print(f"hourly values of all members: {hourly.clock:.1f} s, {hourly.cores:.1f} core seconds")
    jobs = (Job(case.circuit, case.inputs, case.start, LIMITS) for case in all_cases)
    whole = seconds(lambda: [None for _ in forecast_many(jobs, workers=WORKERS)])
    print(
        f"forecasts with drift, bands and chances: {whole.clock:.1f} s, {whole.cores:.1f} core seconds; "
        f"ratio to the hourly values {whole.cores / hourly.cores:.2f}"
    )
    members = len(all_cases) * MEMBERS
    return hourly.cores / members, whole.cores / members


def _on_threads(work: Callable[[Case], object], all_cases: list[Case]) -> None:
    with ThreadPoolExecutor(WORKERS) as pool:
        for _ in pool.map(work, all_cases):
            pass


def _hourly_values(case: Case) -> None:
    table = forcing(case.circuit, case.inputs)
    values = np.zeros((1 + len(table), len(at.QUANTITY_NAMES), MEMBERS), np.float32)
    states, steps = case.start.states.copy(), steps_an_hour(case.circuit, table)
    kernel().run(states, natural(case.start.scores), table, steps, 1, values)


def _bare(case: Case) -> None:
    table = forcing(case.circuit, case.inputs)
    nothing = np.zeros((0, len(at.QUANTITY_NAMES), MEMBERS), np.float32)
    states, steps = case.start.states.copy(), steps_an_hour(case.circuit, table)
    kernel().run(states, natural(case.start.scores), table, steps, 0, nothing)


def measure_lsoda(sample: list[Case], hourly: float, whole: float) -> None:
    """One member of each sampled circuit by LSODA: its time, and how far both are from a tight solution."""
    _solve(sample[0], *LOOSE)  # the first call compiles begin_hour, which is no part of LSODA's time
    for name, tolerance in (("SciPy's own", USUAL), ("loose", LOOSE)):
        theirs = seconds(lambda used=tolerance: [_solve(case, *used) for case in sample]).cores / len(sample)
        print(
            f"LSODA, {name} tolerance: {theirs * 1e3:.1f} ms a member on one core. On {WORKERS} cores the hourly "
            f"values come {WORKERS * theirs / hourly:.0f} times as fast (at least 500), "
            f"whole forecasts {WORKERS * theirs / whole:.0f} times"
        )
    exact = [_solve(case, *TIGHT) for case in sample]
    loose = max(_error(_solve(case, *LOOSE), true).max() for case, true in zip(sample, exact, strict=True))
    ours = np.max([_error(_hourly(case), true) for case, true in zip(sample, exact, strict=True)], axis=0)
    print(
        f"largest error of any state at any hour: {ours.max():.2%} ({at.STATE_NAMES[ours.argmax()]}; at most 1 %)"
    )
    print(f"that of LSODA with the loose tolerance: {loose:.2%}")


def _solve(case: Case, rtol: float, atol: float) -> Floats:
    table = forcing(case.circuit, case.inputs)
    start, p = case.start.states[0], natural(case.start.scores)[0]
    return solve(start, p, table, kernel().begin_hour, rtol, atol)


def _hourly(case: Case) -> Floats:
    """States of the first member after each hour by the compiled step."""
    table = forcing(case.circuit, case.inputs)
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
    scale = circuits / len(few) / WORKERS
    whole = seconds(lambda: _on_threads(_learn, few)).cores * scale
    floor = seconds(lambda: _on_threads(_bare, few)).cores * scale
    print(
        f"a year of weekly tests, {circuits} circuits: {whole:.0f} s on {WORKERS} cores (from {len(few)}); "
        f"floor, the bare step of that year: {floor:.0f} s; ratio {whole / floor:.2f}"
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
