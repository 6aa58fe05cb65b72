"""All waters forecast in one night, as the worker does it, as a ratio to the bare step of the same hours.

python -m benchmarks.night            1,000 waters with two years of records, in a PostgreSQL of our own
python -m benchmarks.night --small    a twentieth of them

The first night nothing is kept yet: every water runs from the beginning of its window. In the next one it begins at its
latest test, but for the seventh of the waters whose window moves on. The floor takes every member of a sample of the
waters through those hours and the two weeks ahead once, and does nothing else: no question, no test, no trial of
other meals. Times are processor seconds of all cores, best compared; the clock is printed as well.
"""

import resource
import time
from collections.abc import Callable
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from benchmarks.postgresql import is_small, on_a_database_of_its_own

if TYPE_CHECKING:
    from filtration.forecasting.gather import Gathered
    from refuge.rounds.loaders import Moment

SAMPLED = 50


def main() -> None:
    small = is_small(__doc__)
    with on_a_database_of_its_own():
        from django.core.management import call_command

        from benchmarks.site import Size, build

        size = Size.small() if small else Size()
        call_command("migrate", verbosity=0)
        build(size)
        measure(size.circuits)


def measure(waters: int) -> None:
    """Two nights, one after the other, each with its floor."""
    from filtration.forecasting.services import BUDGET_S, THREADS, prepare_forecasts
    from refuge.rounds.planner import moment_for

    prepare_forecasts()
    tonight = moment_for()
    tomorrow = moment_for(tonight.now + timedelta(days=1))
    print(f"{waters} waters, {THREADS} threads; one run of the worker may take {BUDGET_S:.0f} s")
    for name, moment in (("first night", tonight), ("next night", tomorrow)):
        floor = floor_seconds(waters, moment)
        runs: list[int] = []
        clock, cores, queries = spent(lambda m=moment, r=runs: r.append(night(waters, m)))  # type: ignore[misc]
        print(
            f"{name}: {clock:.0f} s by the clock in {runs[0]} runs, {cores:.0f} core seconds, "
            f"{queries / waters:.1f} queries a water; floor, the bare step of those hours: {floor:.1f} core seconds; "
            f"ratio {cores / floor:.1f}"
        )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of this process: {peak:.0f} MB")


def night(waters: int, moment: "Moment") -> int:
    """Forecast every water; in how many runs of the worker."""
    from enclosures.models import Circuit
    from filtration.forecasting.models import WaterForecast
    from filtration.forecasting.services import forecast_waters

    today, runs = WaterForecast.objects.filter(day=moment.today), 0
    while missing := list(
        Circuit.objects.exclude(pk__in=today.values("circuit_id")).values_list("pk", flat=True)
    ):
        forecast_waters(missing, moment=moment)
        runs += 1
    assert today.filter(failure="", lacks="").count() == waters
    return runs


def spent(work: Callable[[], object]) -> tuple[float, float, int]:
    """Seconds by the clock, of all cores, and queries."""
    from django.db import connection

    sent = 0

    def counted(execute: Callable[..., Any], *query: Any) -> Any:
        nonlocal sent
        sent += 1
        return execute(*query)

    clock, cores = time.perf_counter(), time.process_time()
    with connection.execute_wrapper(counted):
        work()
    return time.perf_counter() - clock, time.process_time() - cores, sent


def floor_seconds(waters: int, moment: "Moment") -> float:
    """Core seconds of the bare step through the hours that this night has to run, from a sample of the waters."""
    from filtration.forecasting.gather import Gathered, gather
    from filtration.forecasting.starts import starts_of, usable

    some = range(1, 1 + min(waters, SAMPLED))
    starts = starts_of(some)
    total = 0.0
    for pk, water in gather(some, moment).items():
        assert isinstance(water, Gathered)
        start = usable(water, starts.get(pk))
        total += _bare_seconds(water, start.hour if start else 0)
    return total * waters / len(some)


def _bare_seconds(gathered: "Gathered", first: int) -> float:
    """The step alone, from an hour on to the end of the inputs."""
    import numpy as np

    from filtration.forecast import draw
    from filtration.forecast import layout as at
    from filtration.forecast.compiled import kernel
    from filtration.forecast.ensemble import steps_an_hour
    from filtration.forecast.inputs import forcing

    table = forcing(gathered.circuit, gathered.inputs)[first:]
    members = draw(gathered.circuit, gathered.beginning)
    steps, nothing = (
        steps_an_hour(gathered.circuit, table),
        np.zeros((0, len(at.QUANTITY_NAMES), members.members), np.float32),
    )
    started = time.process_time()
    kernel().run(members.states.copy(), members.parameters, table, steps, 0, nothing)
    return time.process_time() - started


if __name__ == "__main__":
    main()
