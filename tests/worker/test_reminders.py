"""Reminders by real processes: workers that are killed, two clocks at once, a mail server that refuses."""

import pytest

from refuge.rounds.models import Message, Morning, PlanRun
from tests import factories as make
from tests.mailserver import Handler
from tests.worker.conftest import Site

pytestmark = pytest.mark.worker


def emails(status: str) -> int:
    return Message.objects.filter(channel="email", status=status).count()


def test_two_clocks_and_two_workers_tell_each_person_once(site: Site, server: Handler):
    people = [make.UserFactory() for _ in range(8)]
    site.worker(concurrency=2)
    site.worker(concurrency=2)
    site.clock()
    site.clock()
    site.wait_for(lambda: emails("sent") == len(people))
    ticks = site.log().count("refuge.rounds.tasks.tick")
    site.wait_for(
        lambda: site.log().count("refuge.rounds.tasks.tick") >= ticks + 8
    )  # and goes on saying nothing
    assert len(server.accepted) == len(people)
    assert sorted(letter["To"] for letter in server.accepted) == sorted(person.email for person in people)
    assert len(set(server.ids)) == len(people)
    assert Message.objects.filter(channel="app").count() == len(people)
    assert PlanRun.objects.count() == Morning.objects.count() == 1


def test_killed_before_the_letter_was_sent_another_worker_sends_it(site: Site, server: Handler):
    make.UserFactory()
    server.hold_at = "RCPT"
    site.clock()
    first = site.worker()
    site.wait_for(server.holding.is_set)
    site.kill(first)
    assert emails("sending") == 1
    server.hold_at = ""
    site.worker()
    site.wait_for(lambda: emails("sent") == 1)
    assert len(server.accepted) == 1
    assert Message.objects.get(channel="email").attempts == 2


def test_killed_after_the_letter_was_sent_nobody_sends_it_again(site: Site, server: Handler):
    make.UserFactory(manager=True)
    server.hold_at = "DATA"  # the server has the letter, and has not said so yet
    site.clock()
    first = site.worker()
    site.wait_for(server.holding.is_set)
    site.kill(first)
    server.hold_at = ""
    site.worker()
    site.wait_for(lambda: emails("failed") == 1)
    later = make.UserFactory()
    Message.objects.create(
        person=later,
        day=Message.objects.get(channel="email").day,
        kind="digest",
        channel="email",
        subject="Next",
    )
    site.wait_for(lambda: emails("sent") == 1)
    assert [letter["Subject"] for letter in server.accepted] == ["Nothing is due for you today", "Next"]
    assert "may have arrived" in Message.objects.get(status="failed").last_error
    assert {each.kind for each in Message.objects.filter(channel="app")} == {"digest", "trouble"}


def test_a_server_that_refuses_is_asked_again_until_it_accepts(site: Site, server: Handler):
    make.UserFactory()
    server.refusals += [("RCPT", "451 come back later"), ("DATA", "452 out of room")]
    site.clock()
    site.worker()
    site.wait_for(lambda: emails("sent") == 1)
    message = Message.objects.get(channel="email")
    assert (message.attempts, message.last_error) == (3, "The mail server answered 452 out of room")
    assert len(server.accepted) == 1
