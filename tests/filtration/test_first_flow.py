"""The first bucket test of a filter is held against its plan, and is what later ones are held against only if it fits."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from filtration.by_plan import Planned, planned
from filtration.models import FilterUnit, Maintenance
from filtration.plans.services import design_build
from filtration.services import maintenance_amend, maintenance_record
from refuge.rounds.recording import recorder
from tests.factories import (
    AreaFactory,
    EnclosureFactory,
    FilterDesignFactory,
    FilterUnitFactory,
)
from tests.filtration.test_design_running import look

pytestmark = pytest.mark.django_db


@pytest.fixture
def built(manager):
    circuit = EnclosureFactory().circuit
    unit = design_build(
        design=FilterDesignFactory(), uuid=uuid4(), code="F77", name="New barrel", circuit=circuit,
        area=AreaFactory(), is_protected=True, by=manager,
    )  # fmt: skip
    FilterUnit.objects.filter(pk=unit.pk).update(state="cycling")
    return FilterUnit.objects.get(pk=unit.pk)


def bucket(unit, flow_m3_h, by, **said):
    at = timezone.now() - timedelta(minutes=1)
    seconds = 20 / flow_m3_h * 3.6
    return maintenance_record(unit=unit, kind="bucket_test", by=by, at=at, uuid=uuid4(), bucket_l=20, bucket_seconds=seconds, **said)  # fmt: skip


def kept(unit):
    return FilterUnit.objects.get(pk=unit.pk).commissioning_flow_m3_h


def test_half_of_the_plan_is_not_taken_as_the_flow_when_new(built, manager):
    wanted = planned(built).flow_m3_h
    bucket(built, 0.49 * wanted, manager)
    assert kept(built) is None
    found = look(built).bucket
    assert found.expected_m3_h == pytest.approx(wanted, rel=0.01)
    assert found.state[0] == "act"
    assert found.findings[0].words.startswith("The flow is 49\u00a0% of the plan")
    assert "valve, the strainer and the pump" in found.findings[0].would_do


@pytest.mark.parametrize("share", [0.82, 1.0, 1.2])
def test_one_near_the_plan_is(built, manager, share):
    wanted = share * planned(built).flow_m3_h
    bucket(built, wanted, manager)
    assert kept(built) == pytest.approx(wanted)


@pytest.mark.parametrize(("flow", "fits"), [(0.79, False), (0.8, True), (1.25, True), (1.26, False)])
def test_how_far_from_the_plan_still_fits(flow, fits):
    assert Planned(1.0, 0.1).fits(flow) is fits


def test_whoever_says_so_makes_it_the_flow_when_new(built, manager):
    wanted = 0.49 * planned(built).flow_m3_h
    bucket(built, wanted, manager, is_new_flow=True)
    assert kept(built) == pytest.approx(wanted)
    assert look(built).bucket.state == ("good", "as it should be")


def test_without_a_plan_the_first_one_counts_as_before(manager):
    unit = FilterUnitFactory(commissioning_flow_m3_h=None)
    bucket(unit, 2.4, manager)
    assert kept(unit) == pytest.approx(2.4)


def test_the_form_asks_only_until_it_is_known(client, built, manager):
    url = reverse("record_new", args=["bucket_test", built.pk])
    assert "This is its flow when new" in client.get(url).content.decode()
    client.post(url, {"bucket_m3": "20", "bucket_seconds": "60", "is_new_flow": "on"})
    assert kept(built) == pytest.approx(1.2)
    assert "This is its flow when new" not in client.get(url).content.decode()


def test_its_record_is_corrected_without_the_question(built, manager):
    record = bucket(built, 1.2, manager, is_new_flow=True)
    form = recorder("bucket_test").amend_form(record)
    assert "is_new_flow" not in form.fields
    maintenance_amend(record=record, by=manager, reason="Misread", bucket_seconds=30.0)
    assert kept(built) == pytest.approx(2.4)
    assert Maintenance.objects.get().flow_m3_h == pytest.approx(2.4)


def test_a_bucket_test_entered_late_is_the_first_if_it_came_first(manager):
    unit = FilterUnitFactory(commissioning_flow_m3_h=None)

    def tested(days_ago, seconds):
        at = timezone.now() - timedelta(days=days_ago)
        numbers = {"bucket_l": 20, "bucket_seconds": seconds}
        maintenance_record(unit=unit, kind="bucket_test", by=manager, at=at, uuid=uuid4(), **numbers)
        unit.refresh_from_db()
        return unit.commissioning_flow_m3_h

    assert tested(1, 30) == pytest.approx(2.4)
    assert tested(40, 24) == pytest.approx(3.0)  # as if it had been entered in time
    assert tested(20, 28) == pytest.approx(3.0)


def test_a_flow_when_new_that_was_typed_stays(manager):
    unit = FilterUnitFactory(commissioning_flow_m3_h=3.1)
    bucket(unit, 2.4, manager)
    at = timezone.now() - timedelta(days=40)
    maintenance_record(
        unit=unit, kind="bucket_test", by=manager, at=at, uuid=uuid4(), bucket_l=20, bucket_seconds=24
    )
    assert kept(unit) == 3.1
