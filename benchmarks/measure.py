"""The measurements. Each prints a ratio to a floor taken in the same run; the best of a few runs counts."""

import gzip
import time
from collections.abc import Callable

from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from benchmarks.site import Size, add_task_history, build
from refuge.people.models import User
from refuge.rounds.loaders import load_facts
from refuge.rounds.models import Task
from refuge.rounds.planner import moment_for, plan_scopes, plan_site

HISTORY_DAYS = 60  # of finished tasks, and then ten times as many


def run(size: Size) -> None:
    """Build the site, then measure the plan, the replan and today's page."""
    call_command("migrate", verbosity=0)
    call_command("collectstatic", verbosity=0, interactive=False)
    User.objects.create_user("manager", password="a long enough password", name="Manager", role="manager")
    seconds = timed(lambda: build(size), times=1)
    print(f"{size}: built in {seconds:.0f} s")
    measure_plan()
    measure_replan()
    measure_today(size)


def timed(work: Callable[[], object], times: int = 3) -> float:
    """Seconds of the fastest of a few runs."""
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def captured(work: Callable[[], object]) -> list[str]:
    """The SQL that some work sends."""
    with CaptureQueriesContext(connection) as queries:
        work()
    return [query["sql"] for query in queries.captured_queries]


def bare_sql(statements: list[str]) -> Callable[[], None]:
    """Send the same statements and fetch every row: the floor of anything that needs these facts."""

    def send() -> None:
        with connection.cursor() as cursor:
            for statement in statements:
                cursor.execute(statement)
                if cursor.description:
                    cursor.fetchall()

    return send


def measure_plan() -> None:
    first = timed(plan_site, times=1)
    print(f"first plan, everything new: {first:.2f} s, {Task.objects.filter(status='open').count()} tasks")
    moment = moment_for()
    statements = captured(lambda: load_facts(None, moment))
    floor = timed(bare_sql(statements))
    full = timed(plan_site)
    queries = len(captured(plan_site))
    print(
        f"full plan: {full:.2f} s; bare SQL of the same facts: {floor:.2f} s; ratio {full / floor:.2f} (at most 3)"
    )
    print(f"queries of a full plan: {queries}")


def measure_replan() -> None:
    full = timed(plan_site)
    one = timed(lambda: plan_scopes([7]), times=20)
    print(f"replan of one circuit: {one * 1000:.1f} ms; 1/{full / one:.0f} of the full plan (at most 1/100)")


def measure_today(size: Size) -> None:
    client = Client()
    client.force_login(User.objects.get(username="manager"))
    add_task_history(size, first=0, last=HISTORY_DAYS, every=2)
    short = timed(lambda: client.get("/"), times=15)
    queries = len(captured(lambda: client.get("/")))
    add_task_history(size, first=HISTORY_DAYS, last=10 * HISTORY_DAYS, every=2)
    long = timed(lambda: client.get("/"), times=15)
    same = len(captured(lambda: client.get("/")))
    answer = client.get("/", headers={"accept-encoding": "gzip"})
    html = (
        len(answer.content)
        if answer.headers.get("Content-Encoding") == "gzip"
        else len(gzip.compress(answer.content))
    )
    print(
        f"today's page: {short * 1000:.0f} ms, with ten times the history {long * 1000:.0f} ms; ratio {long / short:.2f} (at most 1.2)"
    )
    print(f"queries of today's page: {queries} and {same}")
    print(f"today's page on the wire: {html / 1000:.1f} kB of HTML (a return visit; at most 15 kB)")
