"""The forecast held against the tests of the demo refuge, each forecast from what was recorded before it.

python -m benchmarks.hindcast              the last window of 45 days of each water
python -m benchmarks.hindcast --windows 4  the last four windows
python -m benchmarks.hindcast --ahead      also by how long before the test the last one was that the members knew

The demo is loaded into a scratch folder (SQLite). Each water is followed through its window; every reading is
judged by the members moved to its hour, before it is taken in, with the kit's error and bias. An honest 90 % band
holds nine readings in ten, an honest 50 % band half of them. With --ahead the members after each test also go on for
two weeks without learning, through the meals and the work that were recorded: what the model is unsure of, apart from
what people did.
"""

import argparse
import os
import tempfile
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from filtration.forecast import Circuit, Ensemble, Judged
    from filtration.forecasting.gather import Gathered

TODAY = date(2026, 6, 20)
AHEAD_H = 14 * 24
LEADS = ((2, " 1 day"), (5, " 3 days"), (10, " 7 days"), (15, "14 days"))


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--windows", type=int, default=1, help="windows of 45 days, the last one first")
    parser.add_argument("--ahead", action="store_true", help="also without learning for up to two weeks")
    parser.add_argument("--seed", type=int, default=1, help="of the demo refuge")
    parser.add_argument("--folder", help="keep the loaded demo here and use it again")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="clearmere-hindcast-") as scratch:
        _prepare(options.folder or scratch, options.seed)
        _report(hindcast(options.windows, TODAY))
        if options.ahead:
            _report_ahead(ahead(options.windows, TODAY))


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
    for water, found in _waters(windows, today):
        yield from ((water, each) for each in _followed(found))


def ahead(windows: int, today: date) -> Iterator[tuple[float, "Judged"]]:
    """Every reading beside each forecast of the two weeks before it, with the days between."""
    for _, found in _waters(windows, today):
        yield from _unlearned(found)


def _waters(windows: int, today: date) -> Iterator[tuple[str, "Gathered"]]:
    """Every water that can be forecast, with its code, once for each window."""
    from enclosures.models import Circuit
    from filtration.forecasting.gather import WINDOW, Gathered, gather
    from refuge.rounds.planner import moment_for

    codes = dict(Circuit.objects.values_list("pk", "code"))
    for number in range(windows):
        now = datetime.combine(today, datetime.min.time(), tzinfo=UTC) - number * WINDOW
        found = gather(codes, moment_for(now))
        yield from ((codes[pk], each) for pk, each in found.items() if isinstance(each, Gathered))


def _followed(gathered: "Gathered") -> Iterator["Judged"]:
    """The water through its window, each test judged and then taken in, as the program does."""
    from filtration.forecast import assimilate, draw
    from filtration.forecast.following import judge

    here = Place(draw(gathered.circuit, gathered.beginning, seed=gathered.seed), 0)
    for each in gathered.seen:
        here = here.moved(gathered, _hour(gathered, each.at, here.hour))
        circuit, celsius = here.water(gathered)
        yield from judge(here.ensemble, circuit, celsius, each.observations)
        here = Place(assimilate(here.ensemble, circuit, celsius, each.observations).ensemble, here.hour)


def _unlearned(gathered: "Gathered") -> Iterator[tuple[float, "Judged"]]:
    """The members after each test, led on past the tests of two weeks without taking them in."""
    from filtration.forecast import assimilate, draw
    from filtration.forecast.following import judge

    here = Place(draw(gathered.circuit, gathered.beginning, seed=gathered.seed), 0)
    branches: list[tuple[int, Place]] = []
    for each in gathered.seen:
        hour = _hour(gathered, each.at, here.hour)
        here = here.moved(gathered, hour)
        circuit, celsius = here.water(gathered)
        branches = [
            (since, branch.moved(gathered, hour)) for since, branch in branches if hour - since <= AHEAD_H
        ]
        for since, branch in branches:
            found = judge(branch.ensemble, circuit, celsius, each.observations)
            yield from (((hour - since) / 24, one) for one in found)
        here = Place(assimilate(here.ensemble, circuit, celsius, each.observations).ensemble, hour)
        branches.append((hour, here))


@dataclass(frozen=True, eq=False)
class Place:
    """Members at an hour of their window."""

    ensemble: "Ensemble"
    hour: int

    def moved(self, gathered: "Gathered", hour: int) -> "Place":
        from filtration.forecast import advance

        if hour <= self.hour:
            return self
        inputs = gathered.inputs.between(self.hour, hour)
        ensemble, _ = advance(self.ensemble, gathered.circuit_at(self.hour), inputs)
        return Place(ensemble, hour)

    def water(self, gathered: "Gathered") -> "tuple[Circuit, float]":
        """The circuit and its temperature [C] at that hour."""
        return gathered.circuit_at(self.hour), float(gathered.inputs.temperature_c[self.hour])


def _hour(gathered: "Gathered", at: datetime, done: int) -> int:
    return min(max(gathered.known.hour_of_test(at), done), gathered.now_hour)


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


def _report_ahead(found: Iterable[tuple[float, "Judged"]]) -> None:
    groups: dict[tuple[str, str], list[Judged]] = defaultdict(list)
    for days, judged in found:
        words = next(words for until, words in LEADS if days <= until)
        groups[judged.quantity, words].append(judged)
    print("Without learning, by the days since the last test that counted:")
    for (quantity, words), group in sorted(groups.items()):
        count, half, most = within(group)
        print(f"{quantity + ', ' + words:24}{count:6}{half:9.0%}{most:9.0%}{_place(group):8.2f}")


def _place(group: list["Judged"]) -> float:
    from filtration.forecast.score import chance_below

    ends = [chance_below(each.levels, end) for each in group for end in (each.low, each.high)]
    return sum(ends) / len(ends)


if __name__ == "__main__":
    main()
