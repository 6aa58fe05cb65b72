"""A small refuge on the round: a clean pond and a quarantine tank, each with what hangs on it.

Models are imported inside: this file is read before Django is set up when these tests run alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client


def client_of(person: Any) -> Client:
    """A browser in which this person is signed in."""
    client = Client()
    client.force_login(person)
    return client


@contextmanager
def committed() -> Iterator[None]:
    """What runs after a commit runs here at the end, although the test's own transaction never commits."""
    from django.test import TestCase

    with TestCase.captureOnCommitCallbacks(execute=True):
        yield


class Walk:
    """The small refuge, and short ways to its tasks and to what a phone sends."""

    def __init__(self) -> None:
        from tests import factories as make

        self.refuge = make.RefugeFactory()
        self.clean = make.AreaFactory(code="P", name="Ponds", biosecurity_rank=0)
        self.closed = make.AreaFactory(code="Q", name="Quarantine room", biosecurity_rank=9)
        self.pond = make.EnclosureFactory(code="P1", name="North pond", area=self.clean)
        self.tank = make.EnclosureFactory(code="Q1", name="Tank one", area=self.closed)
        self.old = make.AnimalFactory(name="Bramble", placed_in=self.pond, mass_kg=12)
        self.new = make.AnimalFactory(name="Sedge", placed_in=self.tank, mass_kg=55)
        make.QuarantineFactory(animal=self.new)
        self.barrel = make.FilterUnitFactory(code="F1", circuit=self.pond.circuit, area=self.clean)
        self.plan = make.FeedingPlanFactory(enclosure=self.pond, every_days=2)
        self.volunteer = make.UserFactory(name="Bento Alves")
        self.staff = make.UserFactory(name="Ines Tarouca", staff=True)
        self.manager = make.UserFactory(name="Mar Quintela", manager=True)

    def plan_day(self) -> Walk:
        from refuge.rounds.planner import plan_site

        plan_site()
        return self

    def task(self, rule: str, **where: Any) -> Any:
        from refuge.rounds.models import Task

        return Task.objects.get(rule=rule, status="open", **where)

    def send(self, person: Any, path: str, *, phone: bool = True, page: str = "/", **data: Any) -> Any:
        """Post a form as the browser of a person: by htmx from a page, or plainly without script."""
        headers = {"hx-request": "true", "hx-current-url": f"http://testserver{page}"} if phone else {}
        with committed():
            return client_of(person).post(path, {"uuid": str(uuid4())} | data, headers=headers)

    def finish(self, person: Any, task: Any, **data: Any) -> Any:
        return self.send(person, f"/tasks/{task.pk}/done/", **data)


@pytest.fixture
def walk(db: None) -> Walk:
    return Walk().plan_day()
