"""The mail server, one letter at a time, with a word just before a letter is beyond recall.

A server answers for a letter once it has said yes to the line with the single dot that ends it (RFC 5321
sections 4.1.1.4 and 4.2.5). A connection that breaks after that line, before the answer, leaves the sender
unable to know (RFC 1047). Before it, nothing was sent.
"""

import smtplib
from collections.abc import Callable
from contextlib import suppress
from types import TracebackType
from typing import Any, Self

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends import smtp
from django.core.mail.backends.base import BaseEmailBackend

END_OF_LETTER = b"\r\n.\r\n"
Refused = (smtplib.SMTPRecipientsRefused, smtplib.SMTPSenderRefused, smtplib.SMTPDataError)


def _nothing() -> None:
    """What is called before the last dot when nobody asked."""


class LastDot:
    """Mixed into smtplib's clients: calls `before_last_dot` when all of a letter but its end is written."""

    before_last_dot: Callable[[], None] = staticmethod(_nothing)

    def send(self, s: Any) -> None:
        if isinstance(s, bytes) and s.endswith(END_OF_LETTER):
            super().send(s[:-3])  # type: ignore[misc]
            self.before_last_dot()
            s = s[-3:]
        super().send(s)  # type: ignore[misc]


class _Plain(LastDot, smtplib.SMTP):
    pass


class _Encrypted(LastDot, smtplib.SMTP_SSL):
    pass


class SmtpBackend(smtp.EmailBackend):
    """Django's own, with clients that say when the last dot is about to go."""

    @property
    def connection_class(self) -> type[smtplib.SMTP]:
        return _Encrypted if self.use_ssl else _Plain

    def open_and_listen(self, before_last_dot: Callable[[], None]) -> None:
        self.open()
        client: Any = self.connection
        client.before_last_dot = before_last_dot


class Post:
    """One connection to the mail server, opened for the first letter and used until it fails."""

    def __init__(self) -> None:
        by_smtp = settings.EMAIL_BACKEND == "django.core.mail.backends.smtp.EmailBackend"
        self.backend: BaseEmailBackend = SmtpBackend() if by_smtp else get_connection()
        self.is_down = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with suppress(OSError):  # a server that does not say goodbye has still taken the letters
            self.backend.close()

    def hand_in(self, letter: EmailMessage, before_end: Callable[[], None]) -> None:
        """Send one letter; returns when the server has accepted it.

        `before_end` is called when a failure means, from then on, that nobody knows. What it raises ends the
        letter before it is beyond recall. Raises OSError (every SMTPException is one) when it was not
        accepted; `is_down` then says whether to stop here.
        """
        letter.message()  # one that cannot be written at all fails here, and the line stays up
        try:
            self._listen(before_end)
            self.backend.send_messages([letter])
        except Refused:
            raise  # the server answered, and takes the next letter
        except BaseException:
            self.is_down = True
            self._drop()
            raise

    def _listen(self, before_end: Callable[[], None]) -> None:
        if isinstance(self.backend, SmtpBackend):
            self.backend.open_and_listen(before_end)
        else:
            before_end()

    def _drop(self) -> None:
        """Cut the line. A polite QUIT in the middle of a letter would be read as part of it."""
        connection = getattr(self.backend, "connection", None)
        if connection is not None:
            connection.close()
            self.backend.connection = None
