"""The pages of what happened to a filter: who may, what is said, what is refused beside the field."""

import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from filtration.harms.services import harm_take_back
from filtration.models import FilterHarm, Maintenance
from tests import factories as make
from tests.filtration.a_water import NOW, a_water, days_ago
from tests.filtration.test_harms import harmed

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(client):
    circuit = a_water()
    client.circuit, client.unit = circuit, circuit.filters.get()
    return client


def sign_in(client, **role):
    person = make.UserFactory(**role)
    client.force_login(person)
    return person


def new_url(unit):
    return reverse("record_new", args=["filter_harm", unit.pk])


class TestPages:
    def test_a_volunteer_records_it_and_is_led_to_what_to_do(self, site):
        sign_in(site)
        assert "Something happened to it" in site.get(site.unit.get_absolute_url()).content.decode()
        answer = site.post(
            new_url(site.unit), {"kind": "no_flow", "hours": "9", "noticed_by": "The night watch"}
        )
        record = FilterHarm.objects.get()
        assert answer.url == record.get_absolute_url()
        assert timezone.now() - record.ended < timedelta(minutes=1)  # no time said: it has only just ended
        page = site.get(answer.url).content.decode()
        for words in ("69\u00a0%", "Flush the bed", "hydrogen sulphide", "Give no food", "Staff are asked"):
            assert words in page, words
        assert "Call it disturbed" not in page
        assert record.get_absolute_url() in site.get(site.unit.get_absolute_url()).content.decode()
        assert "harmed" in site.get(reverse("filter_list")).content.decode()
        for subject in (site.unit, site.circuit):
            history = site.get(subject.get_absolute_url()).content.decode()
            assert "Stood without flow: 9 hours" in history
            assert "Noticed by The night watch" in history

    def test_whoever_says_that_it_still_stands_is_believed_until_a_flow_is_measured(self, site):
        sign_in(site)
        answer = site.post(new_url(site.unit), {"kind": "no_flow", "hours": "2", "runs_again": "no"})
        assert not FilterHarm.objects.get().runs_again
        pages = (answer.url, site.unit.get_absolute_url(), reverse("water_forecast", args=[site.circuit.pk]))
        for url in pages:
            assert "taken as still standing" in site.get(url).content.decode()
        nothing = '<span class="value">0.0</span> <span class="unit-word">g TAN a day</span><small>of'
        assert nothing in site.get(answer.url).content.decode()
        amend = reverse("record_amend", args=["filtration.filterharm", FilterHarm.objects.get().pk])
        (no,) = re.findall(r'<input[^>]*value="no"[^>]*>', site.get(amend).content.decode())
        assert "checked" in no
        Maintenance.objects.create(filter=site.unit, kind="bucket_test", flow_m3_h=1.9)
        for url in pages:
            assert "taken as still standing" not in site.get(url).content.decode()

    def test_staff_call_it_disturbed_once_and_nobody_else_may(self, site):
        record = harmed(site.circuit, hours=24.0, at=timezone.now() - timedelta(hours=25))
        url = reverse("filter_harm_disturbed", args=[record.pk])
        sign_in(site)
        assert site.post(url, {"uuid": str(uuid4())}).status_code == 403
        sign_in(site, staff=True)
        assert "Call it disturbed" in site.get(record.get_absolute_url()).content.decode()
        key = str(uuid4())
        for _ in range(2):
            assert site.post(url, {"uuid": key}).status_code == 302
        site.unit.refresh_from_db()
        assert site.unit.state == "disturbed"
        assert Maintenance.objects.filter(kind="state").count() == 1
        assert "Call it disturbed" not in site.get(record.get_absolute_url()).content.decode()
        assert site.post(url, {"uuid": "no"}).status_code == 404

    @pytest.mark.parametrize(
        ("typed", "field", "words"),
        [
            ({"note": "?"}, "kind", "The answer is missing"),
            ({"kind": "no_flow"}, "hours", "how long"),
            ({"kind": "chlorine"}, "volume_m3", "how much"),
            ({"kind": "medicine"}, "substance", "Name the medicine"),
            ({"kind": "no_flow", "hours": "9", "at": "2027-03-10T09:00"}, "hours", "later than now"),
        ],
    )
    def test_what_is_missing_is_said_beside_its_field(self, site, time_machine, typed, field, words):
        time_machine.move_to(NOW, tick=False)
        sign_in(site)
        answer = site.post(new_url(site.unit), typed)
        assert answer.status_code == 422
        assert words in " ".join(answer.context["form"].errors[field])
        assert not FilterHarm.objects.exists()

    def test_what_belongs_to_another_kind_does_not_count(self, site):
        sign_in(site)
        site.post(
            new_url(site.unit),
            {"kind": "medicine", "substance": "As Dr Vale wrote", "hours": "many", "volume_m3": "3"},
        )
        record = FilterHarm.objects.get()
        assert (record.hours, record.volume_m3, record.source) == (None, None, None)

    def test_whoever_entered_it_strikes_it_out_and_says_why(self, site):
        record = harmed(site.circuit, hours=9.0)
        url = reverse("filter_harm_strike_out", args=[record.pk])
        sign_in(site)
        assert site.post(url, {"why": "Wrong filter"}).status_code == 403  # somebody else's
        assert "Strike it out" not in site.get(record.get_absolute_url()).content.decode()
        record.by = sign_in(site)
        record.save()
        assert "Strike it out" in site.get(record.get_absolute_url()).content.decode()
        assert site.post(url, {"why": " "}).url == record.get_absolute_url()
        assert site.post(url, {"why": "Wrong filter"}).url == site.unit.get_absolute_url()
        assert FilterHarm.everything.get().history.first().history_change_reason == "Wrong filter"

    def test_what_was_struck_out_has_no_page(self, site):
        record = harmed(site.circuit, hours=9.0)
        harm_take_back(record=record, by=sign_in(site))
        assert site.get(record.get_absolute_url()).status_code == 404

    def test_costs_the_same_however_much_happened(self, site):
        sign_in(site)
        record, counts = harmed(site.circuit, hours=9.0), []
        for _ in range(2):
            for url in (record.get_absolute_url(), site.unit.get_absolute_url()):
                site.get(url)
                with CaptureQueriesContext(connection) as seen:
                    assert site.get(url).status_code == 200
                counts.append(len(seen))
            for n in range(6):
                harmed(site.circuit, hours=3.0, at=days_ago(n + 1))
        assert counts[:2] == counts[2:]
