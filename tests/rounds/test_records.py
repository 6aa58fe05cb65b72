"""Records that no task asked for, corrections, and notices, as pages."""

from uuid import uuid4

import pytest
from django.utils import timezone

from enclosures.models import WaterTest
from filtration.models import Maintenance
from refuge.rounds.models import Message
from tests import factories as make
from tests.rounds.conftest import client_of, committed

pytestmark = pytest.mark.django_db


class TestRecordNew:
    def path(self, walk):
        return f"/record/water_test/{walk.pond.circuit_id}/"

    def test_is_a_page_or_a_part_of_one(self, walk):
        client = client_of(walk.volunteer)
        whole = client.get(self.path(walk) + "?next=/enclosures/1/").content.decode()
        part = client.get(self.path(walk), headers={"hx-request": "true"}).content.decode()
        assert "<html" in whole
        assert 'name="next" value="/enclosures/1/"' in whole
        assert "<html" not in part
        assert f'hx-post="{self.path(walk)}"' in part

    def test_saves_once_and_leads_back(self, walk):
        data = {"uuid": str(uuid4()), "ph": "7.4", "basis": "n", "next": "/enclosures/1/"}
        for _ in range(2):
            answer = walk.send(walk.volunteer, self.path(walk), phone=False, **data)
            assert (answer.status_code, answer.url) == (302, "/enclosures/1/")
        assert WaterTest.objects.get().by == walk.volunteer

    def test_tells_htmx_to_leave(self, walk):
        answer = walk.send(walk.volunteer, self.path(walk), ph="7.4", basis="n", next="/x/")
        assert answer.headers["HX-Redirect"] == "/x/"

    def test_leads_to_the_subject_when_asked_off_the_site(self, walk):
        data = {"ph": "7.4", "basis": "n", "next": "https://elsewhere.example/"}
        answer = walk.send(walk.volunteer, self.path(walk), phone=False, **data)
        assert answer.url == f"/waters/{walk.pond.circuit_id}/"

    @pytest.mark.parametrize("wrong", ["nan", "inf", "seven", "-1", "15"])
    def test_a_wrong_number_comes_back_with_all_that_was_typed(self, walk, wrong):
        data = {"ph": wrong, "basis": "n", "note": "Foam at the inlet"}
        answer = walk.send(walk.volunteer, self.path(walk), phone=False, **data)
        html = answer.content.decode()
        assert answer.status_code == 422
        assert f'value="{wrong}"' in html
        assert "Foam at the inlet" in html
        assert not WaterTest.objects.exists()

    def test_asks_for_the_role_and_for_something_that_exists(self, walk):
        client = client_of(walk.volunteer)
        assert client.get(f"/record/drain/{walk.barrel.pk}/").status_code == 403
        assert client.post(f"/record/drain/{walk.barrel.pk}/").status_code == 403
        assert client.get("/record/water_test/99999/").status_code == 404
        assert client.get("/record/nothing/1/").status_code == 404
        assert not Maintenance.objects.exists()


class TestAmend:
    @pytest.fixture
    def test_record(self, walk):
        return make.WaterTestFactory(
            circuit=walk.pond.circuit, by=walk.volunteer, ph=7.2, nitrate_n_mg_l=6.7771
        )

    def path(self, record):
        return f"/amend/enclosures.watertest/{record.pk}/"

    def amend(self, person, record, **data):
        local = timezone.localtime(record.at)
        form = {"at": f"{local:%Y-%m-%dT%H:%M}", "basis": "n", "ph": "7.2", "nitrate_n_mg_l": "6.7771"}
        same = {"temperature_c": "24", "tan_mg_l": "0", "nitrite_n_mg_l": "0"}
        with committed():
            return client_of(person).post(self.path(record), form | same | data)

    def test_shows_what_is_stored(self, walk, test_record):
        html = client_of(walk.volunteer).get(self.path(test_record)).content.decode()
        assert 'value="6.7771"' in html
        assert "pH 7.2" in html

    def test_keeps_the_earlier_version_with_who_and_why(self, walk, test_record):
        answer = self.amend(walk.staff, test_record, ph="8.2", why="Read the wrong column")
        assert answer.url == f"/waters/{walk.pond.circuit_id}/"
        assert WaterTest.objects.get().ph == 8.2
        html = client_of(walk.volunteer).get(self.path(test_record)).content.decode()
        assert html.index("pH 8.2") < html.index("pH 7.2")
        assert "Ines Tarouca" in html
        assert "Read the wrong column" in html

    def test_the_same_correction_twice_is_one(self, walk, test_record):
        for _ in range(2):
            assert self.amend(walk.staff, test_record, ph="8.2", why="Wrong column").status_code == 302
        assert test_record.history.count() == 2

    def test_asks_why(self, walk, test_record):
        answer = self.amend(walk.staff, test_record, ph="8.2", note="Typed with cold hands")
        assert answer.status_code == 422
        assert "Typed with cold hands" in answer.content.decode()
        assert WaterTest.objects.get().ph == 7.2

    def test_is_not_for_other_volunteers(self, walk, test_record):
        other = make.UserFactory()
        html = client_of(other).get(self.path(test_record)).content.decode()
        assert 'name="why"' not in html
        assert self.amend(other, test_record, ph="8.2", why="Mischief").status_code == 403
        assert WaterTest.objects.get().ph == 7.2

    @pytest.mark.parametrize(
        "path", ["enclosures.watertest/999", "people.user/1", "no.model/1", "nonsense/1", "enclosures.area/1"]
    )
    def test_only_records_are_corrected(self, walk, path):
        assert client_of(walk.manager).get(f"/amend/{path}/").status_code == 404


class TestNotices:
    def message(self, person, day=1, **values):
        made = {
            "kind": "digest",
            "channel": "app",
            "subject": f"Day {day}",
            "body": "Nine tasks.",
            "path": "/",
        }
        return Message.objects.create(person=person, day=f"2026-01-{day:02}", **{**made, **values})

    def test_unread_first_and_only_ones_own(self, walk):
        self.message(walk.staff, 3, read_at=timezone.now(), subject="Read already")
        self.message(walk.staff, 2, subject="Not read yet")
        self.message(walk.staff, 4, channel="email", subject="A letter")
        self.message(walk.manager, 5, subject="Somebody else's")
        html = client_of(walk.staff).get("/notices/").content.decode()
        assert html.index("Not read yet") < html.index("Read already")
        assert "A letter" not in html
        assert "Somebody else" not in html
        assert '<b class="count">1<' in html

    def test_what_the_role_may_not_read_any_more_is_not_shown(self, walk):
        self.message(walk.volunteer, for_role="manager", subject="For managers")
        assert "For managers" not in client_of(walk.volunteer).get("/notices/").content.decode()

    def test_opening_one_marks_it_and_leads_on(self, walk):
        message = self.message(walk.staff, path="/waters/3/")
        client = client_of(walk.staff)
        assert client.post(f"/notices/{message.pk}/", {"follow": "1"}).url == "/waters/3/"
        message.refresh_from_db()
        assert message.read_at is not None

    def test_a_path_off_the_site_is_not_followed(self, walk):
        message = self.message(walk.staff, path="//elsewhere.example/")
        answer = client_of(walk.staff).post(f"/notices/{message.pk}/", {"follow": "1"})
        assert answer.url == "/notices/"

    def test_somebody_elses_cannot_be_marked(self, walk):
        message = self.message(walk.manager)
        assert client_of(walk.staff).post(f"/notices/{message.pk}/").status_code == 404
        message.refresh_from_db()
        assert message.read_at is None

    def test_all_read(self, walk):
        for day in (1, 2):
            self.message(walk.staff, day)
        client = client_of(walk.staff)
        client.post("/notices/read/")
        assert not Message.objects.filter(read_at__isnull=True).exists()
        assert 'class="count"' not in client.get("/notices/").content.decode()

    def test_reading_is_a_post(self, walk):
        assert client_of(walk.staff).get("/notices/read/").status_code == 405
