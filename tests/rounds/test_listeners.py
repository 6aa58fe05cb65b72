"""What is stored stays stored and is answered so, whatever fails of what follows from it."""

from uuid import uuid4

import pytest
from django.utils import timezone

from enclosures.models import WaterTest
from filtration.forecasting.models import ForecastWanted
from refuge.rounds import loaders
from refuge.rounds.models import Limit, Message
from refuge.rounds.services import limit_set
from tests.rounds.conftest import committed

pytestmark = pytest.mark.django_db


@pytest.fixture
def broken_facts(walk, monkeypatch):
    """An app whose facts cannot be read."""

    def fail(*args):
        raise ZeroDivisionError("facts")

    monkeypatch.setitem(loaders._loaders, "husbandry", fail)


@pytest.mark.usefixtures("broken_facts")
class TestFactsThatFail:
    def test_a_record_is_answered_as_stored(self, walk):
        path = f"/record/water_test/{walk.pond.circuit_id}/"
        answer = walk.send(walk.volunteer, path, phone=False, uuid=str(uuid4()), ph="7.2", basis="n")
        assert answer.status_code == 302
        assert WaterTest.objects.get().ph == 7.2

    def test_other_listeners_are_told_all_the_same(self, walk):
        path = f"/record/water_test/{walk.pond.circuit_id}/"
        walk.send(walk.volunteer, path, phone=False, uuid=str(uuid4()), ph="7.2", basis="n")
        assert ForecastWanted.objects.filter(circuit=walk.pond.circuit).exists()

    def test_managers_learn_of_it_once_and_the_log_says_what_it_was(self, walk, caplog):
        path = f"/record/water_test/{walk.pond.circuit_id}/"
        for ph in ("7.2", "7.3"):
            walk.send(walk.volunteer, path, phone=False, uuid=str(uuid4()), ph=ph, basis="n")
        trouble = Message.objects.get(kind=Message.Kind.TROUBLE)
        assert (trouble.person, trouble.for_role) == (walk.manager, "manager")
        assert "could not be planned" in trouble.body
        assert "ZeroDivisionError('facts')" in caplog.text
        assert f"failed for circuits [{walk.pond.circuit_id}]" in caplog.text

    def test_a_limit_stands_as_well(self, walk):
        with committed():
            limit_set(
                key="water.panel_days",
                scope_kind="site",
                scope_id=0,
                value=20,
                reason="Try it",
                from_on=timezone.localdate(),
                by=walk.manager,
            )
        assert Limit.objects.get().value == 20
