"""A site started by the real command, as a person would start it."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest

CLEARMERE = [sys.executable, "-m", "refuge"]


class RunningSite:
    """`clearmere start` on a data folder and a free port, with everything it starts."""

    def __init__(self, data: Path, port: int | None = None) -> None:
        self.data = data
        self.port = port or free_port()
        self.output_file = data.parent / f"{data.name}.output"
        with self.output_file.open("wb") as output:
            command = [*CLEARMERE, "start", "--data", str(data), "--port", str(self.port)]
            self.process = subprocess.Popen(command, stdout=output, stderr=output, env=plain_environment())

    @property
    def output(self) -> str:
        return self.output_file.read_text()

    def wait_until_announced(self, seconds: float = 120) -> None:
        wait_for(lambda: "On this machine" in self.output or self.process.poll() is not None, seconds)
        assert self.process.poll() is None, self.output

    def health(self) -> dict[str, str]:
        return json.loads(self.get("/healthz"))

    def get(self, path: str) -> str:
        with urllib.request.urlopen(f"http://localhost:{self.port}{path}", timeout=10) as answer:
            return answer.read().decode()

    def log(self, part: str) -> str:
        path = self.data / "logs" / f"{part}.log"
        return path.read_text() if path.exists() else ""

    def family(self) -> list[psutil.Process]:
        """Every process that this start has brought up, itself not among them."""
        return psutil.Process(self.process.pid).children(recursive=True)

    def stop(self, with_signal: int = signal.SIGTERM) -> float:
        """Send the signal; returns how long the stop took, in seconds."""
        asked = time.monotonic()
        self.process.send_signal(with_signal)
        self.process.wait(20)
        return time.monotonic() - asked


def plain_environment() -> dict[str, str]:
    """This process's environment without what the tests have set for themselves."""
    ours = ("CLEARMERE_", "DJANGO_", "DATABASE_URL", "REDIS_URL", "EMAIL_URL")
    return {name: value for name, value in os.environ.items() if not name.startswith(ours)}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(condition: Callable[[], bool], seconds: float) -> None:
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.1)


def refused(*arguments: str, **variables: str) -> str:
    """Run the command, which must refuse with exit code 2; returns what it said."""
    result = subprocess.run(
        [*CLEARMERE, *arguments],
        env=plain_environment() | variables,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert result.returncode == 2, result.stdout + result.stderr
    return result.stderr


@pytest.fixture(scope="module")
def prepared_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder whose tables stand, so that the starts of these tests are short."""
    folder = tmp_path_factory.mktemp("site") / "data"
    env = plain_environment() | {"CLEARMERE_DATA": str(folder)}
    subprocess.run([*CLEARMERE, "prepare"], env=env, check=True)
    return folder


@pytest.fixture
def start() -> Iterator[Callable[[Path], RunningSite]]:
    """Starts a site on a data folder; whatever still runs at the end of the test is ended then."""
    started: list[RunningSite] = []

    def begin(folder: Path) -> RunningSite:
        started.append(RunningSite(folder))
        return started[-1]

    yield begin
    for site in started:
        if site.process.poll() is None:
            for process in [*site.family(), psutil.Process(site.process.pid)]:
                process.kill()
            site.process.wait(10)
