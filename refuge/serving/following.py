"""A part of the site that was started by `clearmere start` ends when that process is gone, however it went."""

import os
import signal
import threading
import time

SUPERVISOR_VARIABLE = "CLEARMERE_SUPERVISOR"
PATIENCE_S = 10.0


def follow_supervisor() -> None:
    """Watch the process named in the environment, if one is, from a thread of its own."""
    supervisor = os.environ.get(SUPERVISOR_VARIABLE, "")
    if supervisor.isdigit():
        threading.Thread(target=_watch, args=[int(supervisor)], daemon=True, name="follow-supervisor").start()


def _watch(supervisor: int) -> None:
    while _is_alive(supervisor):
        time.sleep(1.0)
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(PATIENCE_S)
    os.killpg(os.getpgid(0), signal.SIGKILL)


def _is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
