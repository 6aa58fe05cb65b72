"""The one command, `clearmere`: runs the site, its single parts, or any of Django's own commands."""

import os
import sys
from collections.abc import Callable

from django.core.exceptions import ImproperlyConfigured

from refuge.serving.errors import StartRefused
from refuge.serving.following import follow_supervisor

USAGE = """\
clearmere start [--demo] [--port N] [--host ADDRESS] [--data DIR]
    Run the site on this machine, with everything it needs.

The parts that `start` runs, for machines with a process manager of their own:
    clearmere prepare          bring the database and the static files up to date
    clearmere web              serve the pages
    clearmere worker           do the work in the background
    clearmere beat             be the clock that asks for it; one for each installation
    clearmere broker           serve messages between them (or set REDIS_URL)

clearmere help                 list every other command; clearmere help COMMAND explains one."""

FOLLOWERS = {"prepare", "web", "worker", "beat", "broker"}


def main(argv: list[str] | None = None) -> int:
    """Run one command; returns the exit code: 2 and one sentence when it refuses."""
    arguments = sys.argv[1:] if argv is None else argv
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "refuge.settings")
    try:
        return _run(arguments)
    except (StartRefused, ImproperlyConfigured) as refusal:
        if str(refusal):
            print(f"clearmere: {refusal}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130


def _run(arguments: list[str]) -> int:
    if not arguments or arguments[0] in {"-h", "--help"}:
        print(USAGE)
        return 0
    if arguments[0] in FOLLOWERS:
        follow_supervisor()
    part = _part(arguments[0])
    if part is not None:
        return part(arguments[1:])
    from django.core.management import execute_from_command_line

    execute_from_command_line(["clearmere", *arguments])
    return 0


def _part(name: str) -> Callable[[list[str]], int] | None:
    """The part of that name; imported only when asked for, because every one is a process of its own."""
    if name == "start":
        from refuge.serving.start import run_start

        return run_start
    if name == "broker":
        from refuge.serving.broker import run_broker

        return run_broker
    from refuge.serving import parts

    return {"web": parts.run_web, "worker": parts.run_worker, "beat": parts.run_beat}.get(name)
