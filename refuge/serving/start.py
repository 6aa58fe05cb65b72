"""`clearmere start`: everything one machine needs to run a refuge, from an empty folder to an address to open."""

import argparse
import os
import signal
import subprocess
import sys
from pathlib import Path

from refuge.environment import data_folder, read_environment
from refuge.serving.addresses import check_port, network_addresses, own_address
from refuge.serving.errors import StartRefused
from refuge.serving.folder import held
from refuge.serving.following import SUPERVISOR_VARIABLE
from refuge.serving.parts import add_address_options
from refuge.serving.supervisor import LogPrinter, supervise

CLEARMERE = [sys.executable, "-P", "-m", "refuge"]  # -P: not whatever lies in the current folder
REFUSED = 2


def run_start(arguments: list[str]) -> int:
    """Prepare the data folder, then run broker, worker, beat and web until told to stop."""
    options = _parser().parse_args(arguments)
    if options.data:
        os.environ["CLEARMERE_DATA"] = options.data
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # until the supervisor has its own
    os.umask(0o077)  # what is written into the data folder is for its owner alone
    folder = data_folder()
    address = own_address(options.host, options.port)
    with held(folder, address):
        check_port(options.host, options.port)
        env = _environment_of_parts(folder, options)
        _prepare(env, demo=options.demo)
        printer = LogPrinter(folder / "logs", on_ready=lambda: _announce(options, folder))
        return supervise(_commands(options), env, printer)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser("clearmere start", description="Run the site on this machine.")
    parser.add_argument(
        "--demo", action="store_true", help="fill an empty data folder with an invented refuge"
    )
    parser.add_argument("--data", metavar="DIR", help="the data folder (default: your user data directory)")
    add_address_options(parser)
    return parser


def _environment_of_parts(folder: Path, options: argparse.Namespace) -> dict[str, str]:
    """What the parts are told; a link in a message leads to the address a phone can open, if there is one."""
    reachable = [*network_addresses(options.host, options.port), own_address(options.host, options.port)]
    return {
        "CLEARMERE_BASE_URL": reachable[0],
        **os.environ,
        "CLEARMERE_DATA": str(folder),
        SUPERVISOR_VARIABLE: str(os.getpid()),
        "PYTHONUNBUFFERED": "1",
    }


def _prepare(env: dict[str, str], *, demo: bool) -> None:
    """Tables, static files and the demo, in a process that gives its memory back when it is done."""
    command = [*CLEARMERE, "prepare", *(["--demo"] if demo else [])]
    code = subprocess.run(command, env=env, check=False).returncode
    if code == REFUSED:
        raise StartRefused("")
    if code != 0:
        raise StartRefused("The database could not be prepared; what went wrong stands above.")


def _commands(options: argparse.Namespace) -> dict[str, list[str]]:
    parts = {
        "worker": [*CLEARMERE, "worker"],
        "beat": [*CLEARMERE, "beat"],
        "web": [*CLEARMERE, "web", "--host", options.host, "--port", str(options.port)],
    }
    if read_environment().own_broker:
        return {"broker": [*CLEARMERE, "broker"]} | parts
    return parts


def _announce(options: argparse.Namespace, folder: Path) -> None:
    print(f"Clearmere is running on the data folder {folder}. Stop it with Ctrl-C.")
    for address in network_addresses(options.host, options.port):
        print(f"On a phone in the same network:  {address}")
    print(f"On this machine:                 {own_address(options.host, options.port)}", flush=True)
