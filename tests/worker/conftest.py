"""A real broker, real workers and clocks as processes of their own, and a real mail server, on the test's database."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.utils import timezone
from redis import Redis

from refuge.environment import broker_socket
from refuge.serving.broker import start_broker
from tests.mailserver import Handler, mail_server

ROOT = Path(__file__).parents[2]
CELERY = [sys.executable, "-m", "celery", "-A", "tests.worker.fast_clock"]


class Site:
    """What the test starts and asks of a site: workers, clocks, ticks."""

    def __init__(self, folder: Path, mail_port: int) -> None:
        self.folder = folder
        self.processes: list[subprocess.Popen[bytes]] = []
        self.environment = os.environ | {
            "CLEARMERE_DATA": str(folder),
            "DJANGO_SETTINGS_MODULE": "tests.worker.settings",
            "TEST_DATABASE_NAME": str(connection.settings_dict["NAME"]),
            "EMAIL_URL": f"smtp://127.0.0.1:{mail_port}",
            "PYTHONPATH": str(ROOT),
        }
        self.broker = Redis(unix_socket_path=str(broker_socket(folder)))

    def worker(self, concurrency: int = 1) -> subprocess.Popen[bytes]:
        """Start a worker; it catches up at once, as every worker does when it is ready."""
        number = len(self.processes)
        options = [
            "--loglevel=INFO",
            "--without-heartbeat",
            "--without-gossip",
            "--without-mingle",
            f"--concurrency={concurrency}",
        ]
        return self._start(["worker", *options, f"--hostname=w{number}@test"], f"worker{number}.log")

    def clock(self) -> subprocess.Popen[bytes]:
        number = len(self.processes)
        return self._start(["beat", "--pidfile=", f"--schedule={self.folder / f'beat{number}'}"], "beat.log")

    def log(self) -> str:
        return "\n".join(path.read_text() for path in sorted(self.folder.glob("*.log")))

    def kill(self, process: subprocess.Popen[bytes]) -> None:
        """End a worker and its children at once, as a power cut would."""
        os.killpg(process.pid, signal.SIGKILL)
        process.wait(10)

    def stop_all(self) -> None:
        for process in self.processes:
            if process.poll() is None:
                self.kill(process)

    def wait_for(self, condition: Callable[[], bool], seconds: float = 90) -> None:
        deadline = time.monotonic() + seconds
        while not condition():
            assert time.monotonic() < deadline, self.log()
            time.sleep(0.1)

    def _start(self, command: list[str], log: str) -> subprocess.Popen[bytes]:
        with (self.folder / log).open("ab") as output:
            process = subprocess.Popen(
                [*CELERY, *command],
                env=self.environment,
                cwd=ROOT,
                stdout=output,
                stderr=output,
                start_new_session=True,
            )
        self.processes.append(process)
        return process


@pytest.fixture
def mail_in() -> Iterator[tuple[Handler, int]]:
    with mail_server() as (handler, _, port):
        yield handler, port


@pytest.fixture
def server(mail_in: tuple[Handler, int]) -> Handler:
    """The mail server's doings."""
    return mail_in[0]


@pytest.fixture
def site(transactional_db: None, tmp_path: Path, mail_in: tuple[Handler, int]) -> Iterator[Site]:
    """A refuge in the middle of its morning, with a broker running; everything started ends with the test."""
    from tests import factories as make  # not above: this file is read before Django is set up

    make.RefugeFactory(time_zone=zone_at_ten(timezone.now()))
    broker = start_broker(broker_socket(tmp_path))
    running = Site(tmp_path, mail_in[1])
    try:
        running.wait_for(lambda: broker_socket(tmp_path).exists())
        yield running
    finally:
        running.stop_all()
        broker.terminate()
        broker.wait(10)


def zone_at_ten(now: datetime) -> str:
    """A time zone where it is about ten in the morning, so that these tests mean the same at any hour."""
    for hours in range(-12, 15):
        name = f"Etc/GMT{-hours:+d}"
        if now.astimezone(ZoneInfo(name)).hour == 10:
            return name
    raise AssertionError(f"nowhere is it ten at {now}")
