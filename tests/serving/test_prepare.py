"""Preparing is safe at every start, and the demo goes into an empty database only."""

import pytest
from django.db import OperationalError, connection

from refuge.people.models import Refuge
from refuge.serving.errors import StartRefused
from refuge.serving.management.commands import prepare

pytestmark = pytest.mark.django_db


@pytest.fixture
def called(monkeypatch) -> list[str]:
    """The names of the commands that preparing calls; they are not run."""
    names: list[str] = []
    monkeypatch.setattr(prepare, "call_command", lambda name, **options: names.append(name))
    return names


def test_without_the_demo_it_brings_tables_and_static_files_up_to_date(called):
    prepare.Command().handle(demo=False)
    assert called == ["migrate", "collectstatic"]


def test_an_empty_database_is_filled(called):
    prepare.Command().handle(demo=True)
    assert called[-1] == "load_demo"


def test_a_refuge_of_ones_own_is_left_alone_and_named(called):
    Refuge.objects.create(pk=Refuge.SINGLETON, name="Mill Pond", is_demo=False)
    with pytest.raises(StartRefused, match=r"“Mill Pond” is kept here, and --demo loads only into an empty"):
        prepare.Command().handle(demo=True)
    assert "load_demo" not in called


def test_a_demo_that_was_started_before_starts_again_and_is_not_loaded_twice(called):
    Refuge.objects.create(pk=Refuge.SINGLETON, name="Invented", is_demo=True)
    prepare.Command().handle(demo=True)
    assert "load_demo" not in called


def test_a_database_that_does_not_answer_is_one_sentence(called, monkeypatch):
    def refuse() -> None:
        raise OperationalError("connection refused\nIs the server running?")

    monkeypatch.setattr(connection, "ensure_connection", refuse)
    with pytest.raises(StartRefused) as refusal:
        prepare.Command().handle(demo=False)
    assert str(refusal.value) == ("The database does not answer (connection refused); look at DATABASE_URL.")
    assert called == []
