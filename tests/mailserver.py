"""A real SMTP server in this process, which keeps what it accepted and can be told to refuse or to hold."""

import asyncio
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session


class Handler:
    """Answers yes, unless `refusals` holds an answer for the command at hand: ("RCPT", "450 busy")."""

    def __init__(self) -> None:
        self.accepted: list[EmailMessage] = []
        self.refusals: deque[tuple[str, str]] = deque()
        self.hold_at = (
            ""  # "RCPT": before anything of the letter is sent; "DATA": it is ours, the answer is held
        )
        self.holding = threading.Event()
        self.commands: list[str] = []

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        refusal = self._refusal("RCPT")
        await self._maybe_hold("RCPT")
        if refusal:
            return refusal
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        refusal = self._refusal("DATA")
        if refusal:
            return refusal
        content: Any = envelope.content
        self.accepted.append(message_from_bytes(content, policy=policy.default))
        await self._maybe_hold("DATA")
        return "250 OK"

    @property
    def ids(self) -> list[str]:
        """The Message-ID of every letter accepted, in order."""
        return [letter["Message-ID"] for letter in self.accepted]

    def _refusal(self, command: str) -> str:
        self.commands.append(command)
        if self.refusals and self.refusals[0][0] == command:
            return self.refusals.popleft()[1]
        return ""

    async def _maybe_hold(self, command: str) -> None:
        if self.hold_at == command:
            self.holding.set()
            while self.hold_at == command:
                await asyncio.sleep(0.05)


class _Controller(Controller):
    """Port 0 is any free one; which it was is known once the server listens."""

    def _trigger_server(self) -> None:
        self.port = self.server.sockets[0].getsockname()[1]  # type: ignore[union-attr]
        super()._trigger_server()


@contextmanager
def mail_server() -> Iterator[tuple[Handler, str, int]]:
    """A server on a free port of this machine: what it does, its host and its port."""
    handler = Handler()
    controller = _Controller(handler, hostname="127.0.0.1", port=0)
    controller.start()
    try:
        yield handler, controller.hostname, controller.port
    finally:
        handler.hold_at = ""
        controller.stop()
