"""`clearmere start`, run for real: what it brings up, what it says, and that it leaves nothing behind."""

import socket
import sqlite3
import stat
from collections.abc import Sequence

import psutil
import pytest

from tests.serving.conftest import RunningSite, free_port, refused, wait_for

PARTS = {"broker", "worker", "beat", "web"}


def part_of(process: psutil.Process) -> str:
    """The name after `-m refuge` on the command line of one of our parts."""
    words = process.cmdline()
    return words[words.index("refuge") + 1] if "refuge" in words else process.name()


def all_gone(processes: Sequence[psutil.Process]) -> bool:
    """Whether none of them runs; one that is dead and not yet buried by the system counts as gone."""
    return not any(process.is_running() and process.status() != psutil.STATUS_ZOMBIE for process in processes)


@pytest.mark.worker
class TestARunningSite:
    """In order: the second test finds what the first has stored. Starts are dear, so each shows several things."""

    def test_it_answers_keeps_a_second_start_away_and_stops_within_seconds(self, start, prepared_folder):
        site: RunningSite = start(prepared_folder)
        site.wait_until_announced()
        family = site.family()
        assert site.health() == {"database": "ok", "broker": "ok"}
        assert site.output.strip().splitlines()[-1].endswith(f"http://localhost:{site.port}")
        assert {part_of(process) for process in family} >= {*PARTS, "valkey-server"}

        said = refused("start", "--data", str(site.data), "--port", str(free_port()))
        assert said.count("\n") == 1
        assert f"already runs on the data folder {site.data} at http://localhost:{site.port}" in said

        with sqlite3.connect(site.data / "clearmere.sqlite3") as database:
            database.execute("CREATE TABLE keepsake (word TEXT)")
            database.execute("INSERT INTO keepsake VALUES ('still here')")
        wait_for(lambda: "ready." in site.log("worker"), 20)
        assert site.stop() < 8
        assert site.process.returncode == 0
        assert all_gone(family)
        assert "SIGKILL" not in site.log("system")

    def test_the_next_start_finds_what_was_stored_and_ends_whole_when_one_part_ends(
        self, start, prepared_folder
    ):
        site: RunningSite = start(prepared_folder)
        site.wait_until_announced()
        family = site.family()
        with sqlite3.connect(site.data / "clearmere.sqlite3") as database:
            assert database.execute("SELECT word FROM keepsake").fetchall() == [("still here",)]
            assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert stat.S_IMODE((site.data / "secret_key").stat().st_mode) == 0o600

        next(process for process in family if part_of(process) == "beat").kill()
        site.process.wait(15)
        assert site.process.returncode == 1
        assert "stopped because its beat ended (code -9); the reason is at the end of" in site.output
        assert all_gone(family)

    def test_parts_do_not_outlive_a_start_that_was_killed(self, start, prepared_folder):
        site: RunningSite = start(prepared_folder)
        site.wait_until_announced()
        family = site.family()
        site.process.kill()
        site.process.wait(5)
        wait_for(lambda: all_gone(family), 20)


def test_a_first_start_stopped_while_it_prepares_leaves_nothing_running(start, tmp_path):
    site: RunningSite = start(tmp_path / "data")
    wait_for(lambda: site.family() != [], 10)
    family = site.family()
    assert site.stop() < 5
    assert all_gone(family)
    assert "Traceback" not in site.output


class TestRefusals:
    def test_a_taken_port_is_named_with_one_that_would_do(self, tmp_path):
        with socket.socket() as other:
            other.bind(("0.0.0.0", 0))
            other.listen()
            port = other.getsockname()[1]
            said = refused("start", "--data", str(tmp_path), "--port", str(port))
        assert said.count("\n") == 1
        assert f"Port {port} is taken by another program; choose a free one, like --port " in said
        assert int(said.rstrip().removesuffix(".").rsplit(" ", 1)[1]) > port

    def test_a_folder_that_cannot_be_made_is_named(self, tmp_path):
        (tmp_path / "file").write_text("")
        said = refused("start", "--data", str(tmp_path / "file" / "data"), "--port", str(free_port()))
        assert said.count("\n") == 1
        assert f"The data folder {tmp_path}/file/data cannot be written to" in said
        assert "--data" in said

    def test_a_bad_setting_is_named(self, tmp_path):
        said = refused(
            "start", "--data", str(tmp_path), "--port", str(free_port()), CLEARMERE_DEBUG="perhaps"
        )
        assert "CLEARMERE_DEBUG must be 0 or 1, not 'perhaps'" in said
        assert "Traceback" not in said
