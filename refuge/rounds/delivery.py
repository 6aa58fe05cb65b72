"""Letters on their way: claimed, handed to the mail server, and tried again when it would not take them.

A letter moves waiting -> sending -> sent, each step an update that happens only if the row is still as it was
seen. Its claim is written before the server is called, and `handed_over_at` just before the dot that ends it:

- a worker killed before that dot has sent nothing: its claim grows stale and the letter is sent by another;
- one killed after it may have sent the letter. That one is never sent again: it is marked failed and shown to
  the manager. Its reader has the same words in the app.

So a letter arrives at most once, and only that last instant can lose one. Should a server pass the same letter
on twice, both carry the same Message-ID.
"""

import logging
import smtplib
import time
from datetime import datetime, timedelta
from functools import partial
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from refuge.people.selectors import the_refuge
from refuge.rounds.digest import Words, blocks
from refuge.rounds.models import Message
from refuge.rounds.post import Post
from refuge.rounds.reminders import site_clock, tell_trouble
from refuge.rounds.schedule import SiteClock
from refuge.units import spoken

logger = logging.getLogger(__name__)

RUN_S = 240  # a run ends by itself long before the worker's time limit would kill it in the middle
KEEPS = timedelta(days=2)  # a letter about a reading older than this would only confuse
OF_THE_MORNING = (Message.Kind.DIGEST, Message.Kind.OVERDUE)
UNCERTAIN = "Stopped in the last instant: it may have arrived, so it is not sent again."
WORDS_ON_LINK = {
    Message.Kind.DIGEST: "Open today’s list",
    Message.Kind.OVERDUE: "Open the overview",
    Message.Kind.READING: "See the readings",
    Message.Kind.MISSING: "See who lives there",
}


class ClaimLost(Exception):
    """Somebody else has taken this letter over; it must not be sent from here."""


def send_waiting() -> int:
    """Send the letters whose time has come; returns how many the mail server accepted."""
    if not settings.EMAIL_CONFIGURED:
        return 0
    _take_up_stale(timezone.now())
    clock, ends, accepted = site_clock(), time.monotonic() + RUN_S, 0
    with Post() as post:
        while not post.is_down and time.monotonic() < ends:
            letter = claim_next()
            if letter is None:
                break
            accepted += _send(letter, post, clock)
    return accepted


def claim_next() -> Message | None:
    """Take the next letter that is due, for this worker alone; None when there is none."""
    now = timezone.now()
    due = Message.objects.filter(
        channel=Message.Channel.EMAIL, status=Message.Status.WAITING, next_try_at__lte=now
    )
    for pk in due.order_by("next_try_at", "pk").values_list("pk", flat=True)[:50]:
        claim = {"status": Message.Status.SENDING, "claimed_at": now, "handed_over_at": None}
        if due.filter(pk=pk).update(attempts=F("attempts") + 1, **claim):
            return Message.objects.select_related("person").get(pk=pk)
    return None


def _send(message: Message, post: Post, clock: SiteClock | None) -> bool:
    """Send one claimed letter, or say why not. Whether the mail server accepted it."""
    unwanted = _unwanted(message)
    if unwanted:
        _settle(message, status=Message.Status.DROPPED, last_error=unwanted)
        return False
    if _too_late(message, clock):
        _fail(message, f"Too late to be of use. {message.last_error}".strip())
        return False
    try:
        post.hand_in(_letter(message), before_end=partial(_hand_over, message))
    except ClaimLost:
        logger.warning("message %s was taken over by another worker", message.pk)
        return False
    except Exception as error:  # one letter that cannot be sent must not hold up the others
        _not_accepted(message, error)
        return False
    _settle(message, status=Message.Status.SENT, sent_at=timezone.now())
    return True


def _unwanted(message: Message) -> str:
    """Why the person must not get it any more, or an empty text: things may have changed since it was written."""
    person = message.person
    if not person.is_active:
        return "The person has no access any more."
    if not person.may_act_as(message.for_role):
        return "The person’s role has changed since."
    if message.kind == Message.Kind.DIGEST and not person.wants_digest:
        return "The person does not want it any more."
    return "" if person.email else "The person has no email address any more."


def _too_late(message: Message, clock: SiteClock | None) -> bool:
    if message.kind in OF_THE_MORNING and clock is not None:
        return timezone.now() >= clock.telling(message.day)[1]
    return timezone.now() >= message.created_at + KEEPS


def _hand_over(message: Message) -> None:
    """Write down that from here on nobody can know, unless the claim was taken away meanwhile."""
    now = timezone.now()
    if not _mine(message).update(handed_over_at=now):
        raise ClaimLost
    message.handed_over_at = now


def _not_accepted(message: Message, error: Exception) -> None:
    logger.warning("message %s was not accepted: %s", message.pk, error)
    words = _in_words(error)
    if message.handed_over_at is not None and not isinstance(error, smtplib.SMTPResponseException):
        _fail(message, f"{UNCERTAIN} {words}")
    elif _for_good(error) or message.attempts > len(settings.REMINDER_RETRY_AFTER_S):
        _fail(message, words)
    else:
        wait = timedelta(seconds=settings.REMINDER_RETRY_AFTER_S[message.attempts - 1])
        _settle(
            message, status=Message.Status.WAITING, next_try_at=timezone.now() + wait, last_error=words[:300]
        )


def _for_good(error: Exception) -> bool:
    """Whether the server said no to this letter for ever: RFC 5321 section 4.2.1, replies of 500 and above."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return all(code >= 500 for code, _ in error.recipients.values())
    return isinstance(error, smtplib.SMTPDataError) and error.smtp_code >= 500


def _in_words(error: Exception) -> str:
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return _answer(*next(iter(error.recipients.values())))
    if isinstance(error, smtplib.SMTPResponseException):
        return _answer(error.smtp_code, error.smtp_error)
    name, said = type(error).__name__, str(error)
    return f"Sending failed: {said or name}"


def _answer(code: int, said: bytes | str) -> str:
    text = said.decode(errors="replace") if isinstance(said, bytes) else said
    return f"The mail server answered {code} {text}"


def _mine(message: Message) -> QuerySet[Message]:
    """The row, as long as it is still this worker's."""
    return Message.objects.filter(pk=message.pk, status=Message.Status.SENDING, claimed_at=message.claimed_at)


def _settle(message: Message, **values: object) -> bool:
    return bool(_mine(message).update(**values))


@transaction.atomic
def _fail(message: Message, reason: str) -> None:
    """Give a letter up and tell the managers in the app: both or neither."""
    if _settle(message, status=Message.Status.FAILED, last_error=reason[:300]):
        person = message.person
        words = Words(
            f"Email to {person} did not go out",
            f"“{message.subject}” to {person} ({person.email}) did not go out by email.\n\n{reason}\n\n"
            "The same message is in the app. The overview lists every email that did not go out.",
        )
        tell_trouble(words, about="email")


def _take_up_stale(now: datetime) -> None:
    """Give claims of workers that died back, save those whose letter may have arrived."""
    before = now - timedelta(seconds=settings.REMINDER_CLAIM_STALE_S)
    stale = Message.objects.filter(status=Message.Status.SENDING, claimed_at__lt=before)
    worn_out = Q(attempts__gt=len(settings.REMINDER_RETRY_AFTER_S))
    for message in stale.filter(Q(handed_over_at__isnull=False) | worn_out).select_related("person"):
        _fail(message, UNCERTAIN if message.handed_over_at else "Its sending broke off again and again.")
    stale.filter(handed_over_at=None).update(
        status=Message.Status.WAITING, next_try_at=now, last_error="Its sending broke off; it is sent again."
    )


def _letter(message: Message) -> EmailMultiAlternatives:
    kind = Message.Kind(message.kind)
    refuge = the_refuge()
    body = spoken(message.body, message.person.unit_system)
    context = {
        "subject": message.subject,
        "body": body,
        "blocks": blocks(body),
        "name": message.person.get_short_name(),
        "word": WORDS_ON_LINK[kind],
        "url": settings.BASE_URL + message.path,
        "refuge": refuge.name if refuge else "Clearmere",
        "settings_url": settings.BASE_URL + reverse("my_settings"),
    }
    letter = EmailMultiAlternatives(
        subject=message.subject,
        body=render_to_string("rounds/mail/letter.txt", context),
        to=[message.person.email],
        # Auto-Submitted (RFC 3834) keeps out-of-office answers away.
        headers={"Message-ID": message_id(message), "Auto-Submitted": "auto-generated"},
    )
    letter.attach_alternative(render_to_string("rounds/mail/letter.html", context), "text/html")
    return letter


def message_id(message: Message) -> str:
    """The letter's identity (RFC 5322 section 3.6.4): the same at every attempt, another for every message."""
    host = urlsplit(settings.BASE_URL).hostname or "localhost"
    return f"<{message.pk}.{message.created_at:%Y%m%d%H%M%S%f}@{host}>"
