"""The forecast held against the tests of the demo refuge, each forecast from what was recorded before it.

python -m benchmarks.hindcast              the last window of 45 days of each water
python -m benchmarks.hindcast --windows 4  the last four windows

The demo is loaded into a scratch folder (SQLite). Each water is followed through its window; every reading is
judged by the members moved to its hour, before it is taken in, with the kit's error and bias. An honest 90 % band
holds nine readings in ten, an honest 50 % band half of them.
"""

import argparse
import os
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from filtration.forecast import Judged
    from filtration.forecasting.gather import Gathered

TODAY = date(2026, 6, 20)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--windows", type=int, default=1, help="windows of 45 days, the last one first")
    parser.add_argument("--seed", type=int, default=1, help="of the demo refuge")
    parser.add_argument("--folder", help="keep the loaded demo here and use it again")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="clearmere-hindcast-") as scratch:
        _prepare(options.folder or scratch, options.seed)
        _report(hindcast(options.windows, TODAY))


def _prepare(folder: str, seed: int) -> None:
    """A database of its own in `folder`, with the demo in it."""
    os.environ |= {"CLEARMERE_DATA": folder, "DJANGO_SETTINGS_MODULE": "refuge.settings"}
    os.environ.pop("DATABASE_URL", None)
    import django

    django.setup()
    from django.core.management import call_command

    from refuge.demo.loading import demo_load
    from refuge.people.selectors import the_refuge

    call_command("migrate", verbosity=0)
    if the_refuge() is None:
        demo_load(today=TODAY, seed=seed)


def hindcast(windows: int, today: date) -> Iterator[tuple[str, "Judged"]]:
    """Every reading of every water in the database beside its forecast, with the code of its water."""
    from enclosures.models import Circuit
    from filtration.forecasting.gather import WINDOW, Gathered, gather
    from refuge.rounds.planner import moment_for

    codes = dict(Circuit.objects.values_list("pk", "code"))
    for number in range(windows):
        now = datetime.combine(today, datetime.min.time(), tzinfo=UTC) - number * WINDOW
        for pk, found in gather(codes, moment_for(now)).items():
            if isinstance(found, Gathered):
                yield from ((codes[pk], each) for each in _followed(found))


def _followed(gathered: "Gathered") -> Iterator["Judged"]:
    """The water through its window, each test judged and then taken in, as the program does."""
    from filtration.forecast import advance, assimilate, draw
    from filtration.forecast.following import judge

    ensemble, done = draw(gathered.circuit, gathered.beginning, seed=gathered.seed), 0
    for each in gathered.seen:
        hour = min(max(gathered.known.hour_of_test(each.at), done), gathered.now_hour)
        if hour > done:
            ensemble, _ = advance(ensemble, gathered.circuit_at(done), gathered.inputs.between(done, hour))
        circuit, celsius = gathered.circuit_at(hour), float(gathered.inputs.temperature_c[hour])
        yield from judge(ensemble, circuit, celsius, each.observations)
        ensemble, done = assimilate(ensemble, circuit, celsius, each.observations).ensemble, hour


def within(group: "Iterable[Judged]") -> tuple[int, float, float]:
    """How many readings, and the shares of them within the 50 and 90 % bands, whatever their quantities."""
    from filtration.forecast import score

    found = list(score(group).values())
    count = sum(each.count for each in found)
    half, most = (
        sum(getattr(each, name) * each.count for each in found) / count for name in ("within_50", "within_90")
    )
    return count, half, most


def _report(found: Iterable[tuple[str, "Judged"]]) -> None:
    by_quantity, by_water = defaultdict(list), defaultdict(list)
    for water, judged in found:
        by_quantity[judged.quantity].append(judged)
        by_water[water].append(judged)
    everything = [each for group in by_quantity.values() for each in group]
    print(f"{'':14}{'readings':>9}{'in 50 %':>9}{'in 90 %':>9}{'place':>8}")
    for name, group in [*by_quantity.items(), *sorted(by_water.items()), ("all", everything)]:
        count, half, most = within(group)
        print(f"{name:14}{count:9}{half:9.0%}{most:9.0%}{_place(group):8.2f}")
    print("place: the mean chance that was forecast of less than what was read; 0.5 leans neither way")


def _place(group: list["Judged"]) -> float:
    from filtration.forecast.score import chance_below

    ends = [chance_below(each.levels, end) for each in group for end in (each.low, each.high)]
    return sum(ends) / len(ends)


if __name__ == "__main__":
    main()
