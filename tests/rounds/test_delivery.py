"""Letters: claimed once, sent once, tried again when refused, given up with a word to the manager."""

import smtplib
from datetime import UTC, date, datetime, timedelta
from email.utils import parseaddr

import pytest
import time_machine
from django.core import mail
from django.utils import timezone

from refuge.rounds import delivery
from refuge.rounds.models import Message
from refuge.rounds.post import Post
from tests import factories as make
from tests.mailserver import Handler, mail_server

DAY = date(2027, 6, 10)
MORNING = datetime(2027, 6, 10, 7, 0, tzinfo=UTC)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def site(settings):
    settings.EMAIL_CONFIGURED = True
    settings.BASE_URL = "https://clearmere.example"
    make.RefugeFactory()
    with time_machine.travel(MORNING, tick=True) as clock:
        yield clock


@pytest.fixture
def server(settings):
    """A real SMTP server that the letters go to."""
    with mail_server() as (handler, host, port):
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = host, port, 5
        yield handler


def letter(**fields: object) -> Message:
    values: dict[str, object] = {
        "day": DAY,
        "kind": "digest",
        "channel": "email",
        "subject": "Today: 2 tasks",
        "body": "2 tasks are due for you today.\n\nPond field\n– Water test: W3\n– Feeding: <W3> & co",
        "path": "/",
        "for_role": "volunteer",
    }
    person = fields.pop("person", None) or make.UserFactory(name="Ana Sousa")
    return Message.objects.create(person=person, **(values | fields))


def state(message: Message) -> tuple[str, int]:
    message.refresh_from_db()
    return message.status, message.attempts


class TestALetter:
    def test_says_the_words_in_text_and_in_html(self):
        message = letter()
        assert delivery.send_waiting() == 1
        (sent,) = mail.outbox
        assert sent.to == [message.person.email]
        assert sent.subject == "Today: 2 tasks"
        assert "Hello Ana,\n\n2 tasks are due for you today.\n\nPond field\n– Water test: W3" in sent.body
        assert "Open today’s list: https://clearmere.example/\n" in sent.body
        html = sent.alternatives[0].content
        assert "<h2>Pond field</h2>" in html
        assert "<li>Feeding: &lt;W3&gt; &amp; co</li>" in html
        assert '<a href="https://clearmere.example/">Open today’s list</a>' in html
        assert state(message) == ("sent", 1)
        assert message.sent_at is not None

    def test_says_that_a_program_wrote_it_and_who_it_is(self):
        first, second = letter(), letter()
        delivery.send_waiting()
        headers = [each.extra_headers for each in mail.outbox]
        assert {each["Auto-Submitted"] for each in headers} == {"auto-generated"}
        ids = {each["Message-ID"] for each in headers}
        assert ids == {delivery.message_id(first), delivery.message_id(second)}
        assert all(each.endswith("@clearmere.example>") for each in ids)

    def test_nothing_is_sent_and_nothing_lost_while_email_is_not_set_up(self, settings):
        settings.EMAIL_CONFIGURED = False
        message = letter()
        assert delivery.send_waiting() == 0
        assert state(message) == ("waiting", 0)

    def test_the_second_run_finds_nothing(self):
        letter()
        assert (delivery.send_waiting(), delivery.send_waiting()) == (1, 0)
        assert len(mail.outbox) == 1


class TestClaims:
    def test_a_claimed_letter_is_nobody_elses(self):
        message = letter()
        claimed = delivery.claim_next()
        assert claimed == message
        assert delivery.claim_next() is None
        assert delivery.send_waiting() == 0

    def test_not_before_its_time(self):
        letter(next_try_at=timezone.now() + timedelta(minutes=1))
        assert delivery.claim_next() is None

    def test_one_that_died_before_handing_over_is_sent_again(self, site):
        message = letter()
        delivery.claim_next()
        site.shift(timedelta(minutes=11))
        assert delivery.send_waiting() == 1
        assert state(message) == ("sent", 2)

    def test_one_that_died_after_handing_over_is_not_and_the_manager_sees_it(self, site):
        manager = make.UserFactory(manager=True)
        message = letter()
        claimed = delivery.claim_next()
        delivery._hand_over(claimed)
        site.shift(timedelta(minutes=11))
        assert delivery.send_waiting() == 0
        assert state(message) == ("failed", 1)
        assert "may have arrived" in message.last_error
        trouble = Message.objects.get(kind="trouble")
        assert (trouble.person, trouble.channel, trouble.status) == (manager, "app", "sent")
        assert "Ana Sousa" in trouble.subject

    def test_a_live_claim_is_left_alone(self, site):
        message = letter()
        delivery.claim_next()
        site.shift(timedelta(minutes=9))
        assert delivery.send_waiting() == 0
        assert state(message) == ("sending", 1)

    def test_whoever_lost_the_claim_sends_nothing(self, site, server):
        """A machine that slept in the middle wakes up, and another has taken the letter over."""
        message = letter()
        claimed = delivery.claim_next()
        site.shift(timedelta(minutes=11))
        with Post() as post:
            delivery._take_up_stale(timezone.now())
            assert not delivery._send(claimed, post, None)
        assert server.accepted == []
        assert state(message) == ("waiting", 1)

    def test_one_that_kills_every_worker_is_given_up(self, site, settings):
        message = letter()
        for _ in range(len(settings.REMINDER_RETRY_AFTER_S) + 1):
            delivery._take_up_stale(timezone.now())
            assert delivery.claim_next() is not None
            site.shift(timedelta(minutes=11))
        delivery.send_waiting()
        assert state(message) == ("failed", 6)


class TestRefusals:
    def test_tried_again_after_one_then_five_minutes_and_what_was_said_is_kept(self, site, server: Handler):
        server.refusals += [("RCPT", "451 come back later")] * 2
        message = letter()
        for minutes, expected in [
            (0, "waiting"),
            (0.9, "waiting"),
            (0.2, "waiting"),
            (4.8, "waiting"),
            (0.3, "sent"),
        ]:
            site.shift(timedelta(minutes=minutes))
            delivery.send_waiting()
            assert state(message)[0] == expected
        assert message.attempts == 3
        assert message.last_error == "The mail server answered 451 come back later"
        assert len(server.accepted) == 1

    def test_given_up_after_the_last_wait(self, site, server: Handler, settings):
        settings.REMINDER_RETRY_AFTER_S = (1, 1)
        make.UserFactory(manager=True)
        server.refusals += [("DATA", "452 out of room")] * 9
        message = letter()
        for _ in range(5):
            delivery.send_waiting()
            site.shift(timedelta(seconds=2))
        assert state(message) == ("failed", 3)
        assert Message.objects.filter(kind="trouble").count() == 1

    @pytest.mark.parametrize("stage", ["RCPT", "DATA"])
    def test_no_for_ever_is_taken_for_an_answer(self, server: Handler, stage):
        server.refusals.append((stage, "550 nobody of that name"))
        message = letter()
        delivery.send_waiting()
        assert state(message) == ("failed", 1)
        assert message.last_error == "The mail server answered 550 nobody of that name"

    def test_one_refused_does_not_hold_up_the_next(self, server: Handler):
        server.refusals.append(("RCPT", "450 busy"))
        letter()
        second = letter()
        assert delivery.send_waiting() == 1
        assert server.ids == [delivery.message_id(second)]

    def test_a_server_that_is_away_is_asked_once_a_run(self, settings, server: Handler):
        settings.EMAIL_PORT = 1  # nobody listens there
        letters = [letter(), letter(), letter()]
        assert delivery.send_waiting() == 0
        assert sorted(state(each) for each in letters) == [("waiting", 0), ("waiting", 0), ("waiting", 1)]
        assert "refused" in Message.objects.get(attempts=1).last_error

    def test_a_letter_that_cannot_be_written_does_not_hold_up_the_next(self):
        bad = letter(subject="two\nlines")
        good = letter()
        assert delivery.send_waiting() == 1
        assert state(bad) == ("waiting", 1)
        assert state(good) == ("sent", 1)

    def test_managers_get_one_word_a_day_about_email_and_none_by_email(self, server: Handler):
        make.UserFactory(manager=True)
        server.refusals += [("RCPT", "550 no")] * 3
        for _ in range(3):
            letter()
            delivery.send_waiting()
        assert Message.objects.filter(kind="trouble").count() == 1
        assert not Message.objects.filter(kind="trouble", channel="email").exists()


class TestTheLastDot:
    def test_a_break_before_it_is_no_delivery_and_is_tried_again(self, server: Handler, monkeypatch):
        message = letter()
        with monkeypatch.context() as broken:
            broken.setattr(smtplib.SMTP, "send", cut_inside_a_letter())
            assert delivery.send_waiting() == 0
        assert state(message) == ("waiting", 1)
        assert "cut in the middle" in message.last_error
        assert server.accepted == []

    def test_a_break_after_it_may_be_a_delivery_and_is_not_tried_again(self, server: Handler, monkeypatch):
        message = letter()
        monkeypatch.setattr(smtplib.SMTP, "getreply", reply_lost_after_the_dot())
        assert delivery.send_waiting() == 0
        assert state(message) == ("failed", 1)
        assert "may have arrived" in message.last_error

    def test_what_is_raised_before_it_keeps_the_letter_from_the_server(self, server: Handler):
        def refuse() -> None:
            raise delivery.ClaimLost

        with Post() as post, pytest.raises(delivery.ClaimLost):
            post.hand_in(delivery._letter(letter()), before_end=refuse)
        assert post.is_down
        assert server.accepted == []

    def test_a_line_with_a_dot_in_the_text_is_not_taken_for_it(self, server: Handler):
        letter(body="One.\r\n.\r\nTwo.")
        assert delivery.send_waiting() == 1
        assert "Two." in server.accepted[0].get_body(("plain",)).get_content()


class TestLookedAtAgainBeforeSending:
    @pytest.mark.parametrize(
        ("change", "reason"),
        [
            ({"is_active": False}, "no access"),
            ({"role": "volunteer"}, "role has changed"),
            ({"wants_digest": False}, "does not want"),
            ({"email": ""}, "no email address"),
        ],
    )
    def test_not_sent_when_it_is_no_longer_theirs(self, change, reason):
        message = letter(person=make.UserFactory(staff=True), for_role="staff")
        type(message.person).objects.filter(pk=message.person_id).update(**change)
        assert delivery.send_waiting() == 0
        assert state(message)[0] == "dropped"
        assert reason in message.last_error
        assert mail.outbox == []
        assert not Message.objects.filter(kind="trouble").exists()

    def test_goes_to_the_address_the_person_has_now(self):
        message = letter()
        type(message.person).objects.filter(pk=message.person_id).update(email="new@example.org")
        delivery.send_waiting()
        assert [parseaddr(to)[1] for to in mail.outbox[0].to] == ["new@example.org"]

    def test_a_higher_role_may_read_it_too(self):
        delivery.send_waiting()
        message = letter(person=make.UserFactory(manager=True), for_role="staff")
        delivery.send_waiting()
        assert state(message)[0] == "sent"

    @pytest.mark.parametrize(
        ("kind", "hours", "status"),
        [
            ("digest", 11, "sent"),
            ("digest", 12, "failed"),
            ("overdue", 12, "failed"),
            ("reading", 47, "sent"),
            ("reading", 49, "failed"),
        ],
    )
    def test_not_sent_when_it_is_too_late_to_be_of_use(self, site, kind, hours, status):
        message = letter(kind=kind)
        site.move_to(MORNING + timedelta(hours=hours))
        delivery.send_waiting()
        assert state(message)[0] == status


def cut_inside_a_letter():
    """smtplib's send, on a line that breaks half-way through anything as long as a letter."""
    original = smtplib.SMTP.send

    def send(self, s):
        if len(s) < 200:
            return original(self, s)
        original(self, s[: len(s) // 2])
        raise smtplib.SMTPServerDisconnected("cut in the middle")

    return send


def reply_lost_after_the_dot():
    original = smtplib.SMTP.getreply
    seen: list[int] = []

    def getreply(self):
        code, text = original(self)
        seen.append(code)
        if len(seen) > 1 and seen[-2] == 354:
            raise smtplib.SMTPServerDisconnected("Connection unexpectedly closed")
        return code, text

    return getreply
