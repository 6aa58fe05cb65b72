"""Runs the parts side by side with honcho: when one ends, or somebody says stop, all end."""

import logging
import re
import shlex
import signal
import sys
from collections.abc import Callable
from logging.handlers import RotatingFileHandler
from pathlib import Path

from honcho.manager import SYSTEM_PRINTER_NAME, Manager
from honcho.printer import Message

from refuge.serving.parts import WEB_IS_READY

ENDED = re.compile(r"(?P<part>\w+) stopped \(rc=(?P<code>-?\d+)\)")
LOG_BYTES = 5_000_000


class LogPrinter:
    """Takes what the parts print: into one log file each, which never grows past a bound.

    Calls `on_ready` once, when the web server says that it answers, and remembers which part ended first.
    """

    width = 0

    def __init__(self, folder: Path, on_ready: Callable[[], None]) -> None:
        self.folder = folder
        self.on_ready: Callable[[], None] | None = on_ready
        self.ended_first: tuple[str, int] | None = None
        self._logs: dict[str, RotatingFileHandler] = {}

    def write(self, message: Message) -> None:
        text = message.data if isinstance(message.data, str) else message.data.decode("utf-8", "replace")
        if message.name == SYSTEM_PRINTER_NAME:
            self._note_end(text)
            text = f"{message.time:%F %T} {text}"  # the parts date their lines themselves
        self._log(message.name).emit(logging.makeLogRecord({"msg": text.rstrip()}))
        if message.name == "web" and WEB_IS_READY in text and self.on_ready and not self.ended_first:
            self.on_ready()
            self.on_ready = None

    def _note_end(self, text: str) -> None:
        if self.ended_first is None and (ended := ENDED.match(text)):
            self.ended_first = ended["part"], int(ended["code"])

    def _log(self, name: str) -> RotatingFileHandler:
        if name not in self._logs:
            path = self.folder / f"{name}.log"
            self._logs[name] = RotatingFileHandler(path, maxBytes=LOG_BYTES, backupCount=2, encoding="utf-8")
        return self._logs[name]


class Supervisor(Manager):
    """honcho's manager that also heeds a signal sent before the last part has started, and loses patience
    with a part that ignores it."""

    asked_to_stop = False

    def terminate(self) -> None:
        self.asked_to_stop = True
        if self._all_started():
            super().terminate()

    def _any_stopped(self) -> bool:
        return self.asked_to_stop or super()._any_stopped()


def supervise(commands: dict[str, list[str]], env: dict[str, str], printer: LogPrinter) -> int:
    """Run `commands` (part → words) until one ends or SIGINT or SIGTERM comes; returns the exit code.

    0 after a signal: stopping is what the signal asked for. Otherwise says which part ended, and where to look.
    """
    supervisor = Supervisor(printer=printer)
    for part, command in commands.items():
        supervisor.add_process(part, shell_line(command), env=env)
    supervisor.loop()
    if supervisor.returncode in {128 + signal.SIGINT, 128 + signal.SIGTERM}:
        return 0
    part, code = printer.ended_first or ("a part", 1)
    print(
        f"Clearmere stopped because its {part} ended (code {code}); the reason is at the end of "
        f"{printer.folder / part}.log.",
        file=sys.stderr,
    )
    return 1


def shell_line(command: list[str]) -> str:
    """honcho hands a command to the shell; exec puts the part itself in the shell's place."""
    return f"exec {shlex.join(command)}"
