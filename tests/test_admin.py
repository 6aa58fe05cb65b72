"""The admin: whoever runs the machine looks at everything there and changes nothing."""

import pytest
from django.apps import apps
from django.contrib import admin
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from filtration.forecasting.models import ForecastStart, ForecastWanted, WaterForecast
from filtration.models import FilterHarm, Maintenance
from husbandry.models import HeadCount, HealthRecord, QuarantineCheck
from refuge.people.models import RoleChange, User
from refuge.records import void
from tests import factories as make

pytestmark = pytest.mark.django_db

APPS = ("enclosures", "husbandry", "filtration")
INSIDE = {
    "medialayer",
    "pump",
    "designlayer",
    "filterbuild",
    "quarantinecheck",
    "quarantinerestart",
}  # below the row they belong to
MODELS = [
    model
    for label in APPS
    for model in apps.get_app_config(label).get_models()
    if not model.__name__.startswith("Historical") and model._meta.model_name not in INSIDE
]


@pytest.fixture
def root(client):
    make.RefugeFactory()
    person = User.objects.create_superuser("root", password="a long enough password")
    client.force_login(person)
    return client


def site() -> None:
    """One row of everything, or one more."""
    tank = make.EnclosureFactory()
    animal = make.AnimalFactory(placed_in=tank, mass_kg=3)
    person = make.UserFactory(manager=True)
    quarantine = make.QuarantineFactory(animal=animal)
    QuarantineCheck.objects.create(quarantine=quarantine, kind="intake_exam", due_on=timezone.localdate())
    quarantine.restarts.create(
        on=timezone.localdate(),
        because_of=make.AnimalFactory(),
        previous_clock_from=quarantine.clock_from,
        previous_ends_on=quarantine.ends_on,
    )
    make.FeedingPlanFactory(animal=animal)
    make.FeedingFactory(enclosure=tank, animal=animal, by=person)
    make.WaterTestFactory(circuit=tank.circuit, by=person)
    tank.circuit.water_changes.create(volume_m3=0.1, source=tank.circuit.water_source, by=person)
    HealthRecord.objects.create(animal=animal, kind="look", by=person)
    HeadCount.objects.create(enclosure=tank, seen=1, expected=1, by=person)
    unit = make.FilterUnitFactory(circuit=tank.circuit)
    Maintenance.objects.create(filter=unit, kind="inspection", by=person)
    FilterHarm.objects.create(filter=unit, kind="no_flow", hours=9, by=person)
    design = make.FilterDesignFactory(circuit=tank.circuit, made_by=person)
    design.builds.create(filter=unit, by=person)
    WaterForecast.objects.create(
        circuit=tank.circuit, day=timezone.localdate(), start_at=timezone.now(), lacks="a water test"
    )
    ForecastWanted.objects.create(circuit=tank.circuit)
    ForecastStart.objects.create(
        circuit=tank.circuit, taken=1, digest="0" * 32, draws=2, members=b"", disagreements="[]"
    )


def address(model, page: str, *args) -> str:
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{page}", args=args)


def queries(client, path: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(path).status_code == 200
    return len(asked)


def everything(model):
    return getattr(model, "everything", model._default_manager)


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
class TestEveryModel:
    def test_is_listed_and_shown(self, root, model):
        assert admin.site.is_registered(model)
        site()
        row = everything(model).first()
        assert row is not None
        shown = root.get(address(model, "change", row.pk))
        assert shown.status_code == 200
        assert 'name="_save"' not in shown.content.decode()

    def test_costs_the_same_for_any_number_of_rows(self, root, model):
        site()
        root.get(address(model, "changelist"))
        few = queries(root, address(model, "changelist"))
        for _ in range(3):
            site()
        assert queries(root, address(model, "changelist")) == few

    def test_cannot_be_added_to_changed_or_deleted(self, root, model):
        site()
        row = everything(model).first()
        before = everything(model).count()
        assert root.get(address(model, "add")).status_code == 403
        assert root.post(address(model, "change", row.pk), {"note": "x"}).status_code == 403
        assert root.post(address(model, "delete", row.pk), {"post": "yes"}).status_code == 403
        assert everything(model).count() == before


def test_records_that_were_struck_out_are_still_shown(root):
    test = make.WaterTestFactory(note="Another tank")
    void(record=test, by=User.objects.get(), reason="Another tank")
    assert root.get(address(type(test), "change", test.pk)).status_code == 200


def test_what_was_done_is_told_in_words(root):
    from refuge.rounds.models import Completion, Task

    task = Task.objects.create(
        rule="husbandry.feeding", subject_kind="plan", subject_id=1, area_rank=0, stop_position=0,
        due_on=timezone.localdate(), status="done", closed_at=timezone.now(),
    )  # fmt: skip
    done = Completion.objects.create(
        task=task, outcome="done", by=User.objects.get(), summary="Fed {food:1.36} Smelt"
    )
    for path in (address(Completion, "changelist"), address(Completion, "change", done.pk)):
        html = root.get(path).content.decode()
        assert "Fed 1.36\u00a0kg Smelt" in html and "{food" not in html


def test_reasons_and_messages_are_told_in_words(root):
    from refuge.rounds.models import Message, Task

    task = Task.objects.create(
        rule="husbandry.feeding", subject_kind="plan", subject_id=1, area_rank=0, stop_position=0,
        due_on=timezone.localdate(), instruction="{food:0.35} Smelt",
        reasons=[{"text": "Plan: {food:1.36}", "on": "2026-06-01", "kind": "elapsed"}],
    )  # fmt: skip
    told = Message.objects.create(
        person=User.objects.get(), day=timezone.localdate(), kind="reading", channel="app",
        subject="Slow", body="Flow {flow:1}",
    )  # fmt: skip
    for row, words in ((task, ("1.36\u00a0kg", "350\u00a0g")), (told, ("1\u202f000\u00a0L/h",))):
        html = root.get(address(type(row), "change", row.pk)).content.decode()
        assert all(each in html for each in words)
        assert "{f" not in html


def test_role_changes_are_shown(root):
    person = make.UserFactory()
    change = RoleChange.objects.create(
        person=person, by=User.objects.get(username="root"), was="staff", became="none"
    )
    assert root.get(address(RoleChange, "change", change.pk)).status_code == 200
    assert "No access" in root.get(address(RoleChange, "changelist")).content.decode()


def test_nobody_else_gets_in(client):
    make.RefugeFactory()
    client.force_login(make.UserFactory(manager=True))
    assert client.get(address(MODELS[0], "changelist")).status_code in {302, 403}
