"""Every place that shows a sentence of a rule or a record says its amounts in the units of whoever reads."""

import io
import json
import re
import zipfile
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.core import mail
from django.urls import reverse
from django.utils import timezone

from refuge.rounds import reminders, services
from refuge.rounds.delivery import send_waiting
from refuge.rounds.models import Completion, Message, Task
from refuge.rounds.planner import plan_site
from refuge.units import spoken
from tests import factories as make
from tests.rounds.conftest import client_of, committed

pytestmark = pytest.mark.django_db

RAW = re.compile(r"\{[a-z]+:")


@pytest.fixture
def us(walk):
    """The manager reads in US units."""
    walk.manager.unit_system = "us"
    walk.manager.save()
    return client_of(walk.manager)


def text(html: str) -> str:
    assert not RAW.search(html), RAW.search(html)
    plain = re.sub(r"<[^>]+>", " ", html).replace("&nbsp;", " ").replace("\u00a0", " ")
    return re.sub(r"\s+", " ", plain.replace("\u202f", " "))


def read(client, path, **headers):
    return text(client.get(path, headers=headers).content.decode())


def fed(walk, **values):
    entry = {"uuid": uuid4(), "at": timezone.now(), "note": "", "left_kg": 0.0, "refused": False, **values}
    task = walk.task("husbandry.feeding")
    with committed():
        return services.task_complete(
            task_id=task.pk, by=walk.manager, cleaned={"food": walk.plan.food, "offered_kg": 1.36, **entry}
        )


def slow_filter(walk):
    """A bucket test that found half of the flow when new: 1,000 of 2,000 L/h, 264 of 528 gal/h."""
    from filtration.models import Maintenance

    at = timezone.now() - timedelta(days=1)
    Maintenance.objects.create(
        filter=walk.barrel, kind="bucket_test", at=at, bucket_l=10, bucket_seconds=36, flow_m3_h=1.0
    )
    plan_site()


class TestRound:
    def test_todays_page_says_reasons_and_what_was_done(self, walk, us):
        assert "Plan: 3 lb" in read(us, "/")
        fed(walk)
        assert "Fed 3 lb" in read(us, "/")
        assert "Fed 1.36 kg" in read(client_of(walk.volunteer), "/")

    def test_an_opened_task_says_its_reasons_and_what_to_do(self, walk, us):
        task = walk.task("enclosures.water_change", scope=walk.pond.circuit_id)
        assert "Change 66 gal (25 % of 264 gal)" in read(us, f"/tasks/{task.pk}/")
        assert "Change 66 gal" in read(us, f"/tasks/{task.pk}/", **{"hx-request": "true"})

    def test_the_line_at_the_foot_and_the_row_after_finishing(self, walk, us):
        task = walk.task("husbandry.feeding")
        data = {"outcome": "done", "food": walk.plan.food.pk, "offered_kg": "3"}
        answer = walk.send(walk.manager, f"/tasks/{task.pk}/done/", **data)
        words = text(answer.content.decode())
        assert words.count("Fed 3 lb") == 3  # its row, the list of today, the line with undo

    def test_who_was_first(self, walk, us):
        task = walk.task("husbandry.feeding")
        fed(walk)
        answer = walk.send(walk.manager, f"/tasks/{task.pk}/done/", tap="1")
        assert answer.status_code == 409
        assert "was first" in text(answer.content.decode())
        assert "Fed 3 lb" in text(answer.content.decode())
        assert "Fed 3 lb" in read(us, f"/tasks/{task.pk}/")

    def test_a_record_of_its_own_and_its_versions(self, walk, us):
        fed(walk)
        done = Completion.objects.get()
        page = reverse("record_amend", args=[done.record_kind, done.record_id])
        assert "Fed 3 lb" in read(us, page)
        data = {
            "food": walk.plan.food.pk,
            "offered_kg": "4 lb",
            "at": "2026-01-01T10:00",
            "why": "Read again",
        }
        with committed():
            us.post(page, data)
        words = read(us, page)
        assert "Fed 4 lb" in words and "Fed 3 lb" in words
        assert "Fed 4 lb" in read(us, "/")
        assert "{food:1.81437} " in Completion.objects.get().summary

    def test_a_message_after_a_record_without_script(self, walk, us):
        with committed():
            answer = us.post(
                reverse("record_new", args=["animal_feeding", walk.old.pk]),
                {"food": walk.plan.food.pk, "offered_kg": "3", "uuid": str(uuid4())},
                follow=True,
            )
        assert "Fed 3 lb" in text(answer.content.decode())


class TestManager:
    def test_overview(self, walk, us):
        slow_filter(walk)
        assert "Flow 264 gal/h" in read(us, "/overview/")

    def test_a_limits_page_and_its_preview(self, walk, us):
        slow_filter(walk)
        key = "filtration.rinse_flow_share"
        assert "of the 528 gal/h when new" in read(us, f"/limits/{key}/")
        typed = {"place": "site:0", "value": "10", "from_on": timezone.now().date().isoformat()}
        moved = us.get("/limits/husbandry.weigh_young_days/preview/", typed)
        assert "Weight (26.5 lb" in text(moved.content.decode())

    def test_pages_of_water_and_filter(self, walk, us):
        slow_filter(walk)
        assert "Flow 264 gal/h" in read(us, walk.barrel.get_absolute_url())
        assert "Bucket test: 264 gal/h" in read(us, walk.barrel.get_absolute_url())
        read(us, walk.pond.circuit.get_absolute_url())

    def test_the_schedule_an_arrival_would_get(self, walk, us):
        make.WaterTestFactory(circuit=walk.tank.circuit)
        typed = {
            "mass_kg": "121",
            "species": make.SpeciesFactory().pk,
            "food": walk.plan.food.pk,
            "every_days": "7",
            "ration_kg": "3",
            "quarantine_days": "365",
            "enclosure": walk.tank.pk,
        }
        words = text(us.get("/arrivals/outlook/", typed, headers={"hx-request": "true"}).content.decode())
        assert "Plan: 3 lb" in words
        assert "Weight (121 lb" in words


class TestMessages:
    def test_a_reading_is_one_notice_each_in_their_own_units(self, walk, us, settings):
        settings.EMAIL_CONFIGURED = True
        other = make.UserFactory(manager=True, name="Otto Brandt")
        slow_filter(walk)
        reminders.tell_findings(None, timezone.now().date())
        assert "Flow 264 gal/h" in read(us, "/notices/")
        assert "Flow 1 000 L/h" in read(client_of(other), "/notices/")
        send_waiting()
        letters = {letter.to[0]: letter for letter in mail.outbox}
        for person, words in ((walk.manager, "264 gal/h"), (other, "1 000 L/h")):
            letter = letters[person.email]
            assert words in text(letter.body)
            assert words in text(letter.alternatives[0].content)

    def test_changing_ones_units_brings_no_second_notice(self, walk, us):
        slow_filter(walk)
        reminders.tell_findings(None, timezone.now().date())
        before = Message.objects.count()
        walk.manager.unit_system = "metric"
        walk.manager.save()
        with time_machine.travel(timezone.now() + timedelta(days=1), tick=False):
            reminders.tell_findings(None, timezone.now().date())
        assert Message.objects.count() == before


class TestApi:
    def test_is_metric_whoever_asks(self, walk, us):
        from tests.api.conftest import client_of as program_of

        api = program_of(walk.manager)
        rows = api.get("/api/tasks/", {"day": str(timezone.now().date() + timedelta(days=1))}).json()[
            "results"
        ]
        told = text(json.dumps(rows, ensure_ascii=False))
        assert "Plan: 1.36 kg" in told and "Change 250 L" in told
        fed(walk)
        assert "Fed 1.36 kg" in text(api.get("/api/completions/").content.decode())
        task = Task.objects.get(rule="husbandry.feeding", status="done")
        answer = api.post("/api/completions/", {"uuid": str(uuid4()), "task": task.pk})
        assert answer.status_code == 409
        assert "Fed 1.36 kg" in text(answer.content.decode())


class TestFiles:
    def test_tables_are_metric(self, walk, us):
        fed(walk)
        answer = us.get("/files/everything.zip")
        whole = zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))
        assert "Plan: 1.36 kg" in text(whole.read("tasks.csv").decode())
        assert "Fed 1.36 kg" in text(whole.read("completions.csv").decode())


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("53% of the water", "53\u00a0% of the water"),
        ("about 23 % of it", "about 23\u00a0% of it"),
        ("33\u00a0%", "33\u00a0%"),
        ("{volume:0.333} (33%)", "333\u00a0L (33\u00a0%)"),
        ("no share: %d", "no share: %d"),
    ],
)
def test_a_percentage_is_written_one_way(written, said):
    assert spoken(written) == said
