"""The day's work over the API: read in walking order, finished once, taken back at once."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from enclosures.models import WaterTest
from husbandry.models import Feeding, HeadCount
from refuge.rounds.models import Completion, Task
from refuge.rounds.planner import plan_site
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(refuge):
    """A tank with a fed animal on a filter, planned."""
    circuit = make.CircuitFactory()
    tank = make.EnclosureFactory(circuit=circuit, area__code="POND")
    animal = make.AnimalFactory(placed_in=tank, mass_kg=55)
    make.FeedingPlanFactory(animal=animal)
    make.FilterUnitFactory(circuit=circuit, area=tank.area)
    plan_site()
    return tank


def task(rule):
    return Task.objects.get(rule=rule, status="open")


def rule_recorded_by(key):
    from refuge.rules.registry import rules

    return [rule.key for rule in rules if rule.recorder == key]


def task_for(key):
    return Task.objects.filter(rule__in=rule_recorded_by(key), status="open").first()


def finish(api, which, **values):
    return api.post("/api/completions/", {"uuid": str(uuid4()), "task": which.pk, **values})


class TestTasks:
    def test_what_is_due_in_walking_order_with_its_reasons(self, api, site):
        rows = api.get("/api/tasks/").json()["results"]
        assert rows and all(row["due_on"] <= str(date.today() + timedelta(days=1)) for row in rows)
        assert all(row["reasons"][0]["text"] for row in rows)
        assert all(row["reasons"][0]["due_on"] == row["due_on"] for row in rows)
        walk = [(row["area_rank"], row["stop_code"]) for row in rows]
        assert walk == sorted(walk)

    def test_clean_areas_come_before_quarantine(self, api, site):
        clean = make.EnclosureFactory(area__biosecurity_rank=0, area__code="Z")
        sick = make.EnclosureFactory(area__biosecurity_rank=9, area__code="A")
        for tank in (sick, clean):
            make.AnimalFactory(placed_in=tank)
        plan_site()
        ranks = [row["area_rank"] for row in api.get("/api/tasks/").json()["results"]]
        assert ranks == sorted(ranks) and set(ranks) == {0, 9}

    def test_it_is_the_list_of_today_s_page(self, api, site, staff):
        from refuge.rounds.round_parts import Filters, due_tasks

        shown = {row["id"] for row in api.get("/api/tasks/").json()["results"]}
        assert shown == set(due_tasks(staff, Filters(), timezone.localdate()).values_list("pk", flat=True))

    def test_narrowed_by_area_person_and_day(self, api, site, staff):
        mine = Task.objects.filter(status="open").first()
        Task.objects.filter(pk=mine.pk).update(assigned_to=staff)
        assert [row["id"] for row in api.get("/api/tasks/?mine=true").json()["results"]] == [mine.pk]
        assert api.get("/api/tasks/?area=NONE").json()["count"] == 0
        assert api.get("/api/tasks/?area=POND").json()["count"] == api.get("/api/tasks/").json()["count"]
        ahead = Task.objects.filter(status="open").exclude(pk=mine.pk).first()
        Task.objects.filter(pk=ahead.pk).update(due_on=timezone.localdate() + timedelta(days=3))
        assert ahead.pk not in {row["id"] for row in api.get("/api/tasks/").json()["results"]}
        later = api.get(f"/api/tasks/?day={timezone.localdate() + timedelta(days=3)}").json()["results"]
        assert {mine.pk, ahead.pk} <= {row["id"] for row in later}
        assert api.get("/api/tasks/?day=2026-02-30").status_code == 400

    def test_a_volunteer_sees_only_what_volunteers_do(self, volunteer_api, api, site):
        later = f"/api/tasks/?day={timezone.localdate() + timedelta(days=365)}"
        assert {row["role"] for row in volunteer_api.get(later).json()["results"]} == {"volunteer"}
        assert {row["role"] for row in api.get(later).json()["results"]} > {"volunteer"}

    @pytest.mark.parametrize("role", ["staff", "manager"])
    def test_work_above_ones_role_is_refused_as_its_page_does(
        self, volunteer_api, volunteer, client, site, role
    ):
        above = Task.objects.filter(status="open").first()
        Task.objects.filter(pk=above.pk).update(role=role)
        client.force_login(volunteer)
        page, answer = client.get(f"/tasks/{above.pk}/"), volunteer_api.get(f"/api/tasks/{above.pk}/")
        assert (page.status_code, answer.status_code) == (403, 403)
        assert "reasons" not in answer.json()

    def test_one_task_says_what_it_asks_for(self, api, site):
        shown = api.get(f"/api/tasks/{task_for('water_test').pk}/").json()
        asked = {each["name"]: each for each in shown["fields_asked"]}
        assert asked["temperature_c"]["unit"] == "°C"
        assert (asked["ph"]["minimum"], asked["ph"]["maximum"]) == (0, 14)
        assert {each["value"] for each in asked["basis"]["choices"]} == {"n", "ion"}
        assert any("Salmonella" in words for words in shown["cautions"])


class TestComplete:
    def test_a_completion_makes_its_record_once(self, api, site, django_capture_on_commit_callbacks):
        body = {
            "uuid": str(uuid4()),
            "task": task_for("water_test").pk,
            "fields": {"ph": 7.2, "tan_mg_l": 0.1},
        }
        with django_capture_on_commit_callbacks(execute=True):
            first = api.post("/api/completions/", body)
        again = api.post("/api/completions/", body)
        assert (first.status_code, again.status_code) == (201, 200)
        assert first.json() == again.json()
        assert Completion.objects.count() == WaterTest.objects.count() == 1
        assert WaterTest.objects.get().tan_mg_l == 0.1
        assert "pH 7.2" in first.json()["summary"]
        assert Task.objects.get(pk=body["task"]).status == "done"

    def test_as_planned_needs_no_fields(self, api, site):
        assert finish(api, task_for("feeding")).status_code == 201
        assert Feeding.objects.get().offered_kg == pytest.approx(1.36)
        at = timezone.now() - timedelta(hours=2)
        assert finish(api, task_for("head_count"), at=at.isoformat()).status_code == 201
        assert HeadCount.objects.get().seen == 1
        assert (
            HeadCount.objects.get().at == Completion.objects.get(record_kind="husbandry.headcount").at == at
        )

    def test_as_planned_is_refused_while_a_bad_test_forbids_food(self, api, site):
        before = task_for("feeding")
        assert api.get(f"/api/tasks/{before.pk}/").json()["needs_fields"] is False
        make.WaterTestFactory(circuit=site.circuit, at=timezone.now(), nitrite_n_mg_l=1.5)
        plan_site()
        shown = api.get(f"/api/tasks/{before.pk}/").json()
        assert (shown["needs_fields"], shown["reasons"][0]["kind"]) == (True, "against")
        refused = finish(api, before)
        assert refused.status_code == 400
        [why] = refused.json()["fields"]
        assert why.startswith("No food until a test is good: Nitrite was 1.5 mg/L N")
        assert not Feeding.objects.exists()
        fields = {"food": make.FoodFactory().pk, "offered_kg": 0.1}
        assert finish(api, before, fields=fields).status_code == 201
        assert finish(api, before).status_code == 409

    def test_bare_numbers_are_si_and_text_may_carry_a_unit(self, api, site, staff):
        staff.unit_system = "us"  # the person's own units are for pages
        staff.save()
        food = task_for("feeding")
        fields = {"food": make.FoodFactory().pk, "offered_kg": "3 lb", "left_kg": 0.5, "refused": False}
        assert finish(api, food, fields=fields).status_code == 201
        meal = Feeding.objects.get()
        assert (meal.offered_kg, meal.left_kg) == (pytest.approx(1.360777), 0.5)

    @pytest.mark.parametrize(
        ("fields", "wrong"),
        [
            ({"ph": "nan"}, "ph"),
            ({"ph": "inf"}, "ph"),
            ({"ph": 15}, "ph"),
            ({"ph": -1}, "ph"),
            ({"ph": "sour"}, "ph"),
            ({"ph": True}, "ph"),
            ({"ph": [7]}, "ph"),
            ({"temperature_c": "inf"}, "temperature_c"),
            ({"temperature_c": 50.01}, "temperature_c"),
            ({"temperature_c": "3 lb"}, "temperature_c"),
            ({"salinity": 1}, "salinity"),
            ({}, "non_field_errors"),
            ({"clarity": "murky"}, "clarity"),
        ],
    )
    def test_errors_are_those_of_the_page_s_form_keyed_by_field(self, api, site, fields, wrong):
        answer = finish(api, task_for("water_test"), fields=fields)
        assert answer.status_code == 400
        assert list(answer.json()) == ["fields"] and list(answer.json()["fields"]) == [wrong]
        assert Completion.objects.count() == 0 and task_for("water_test")

    def test_more_left_than_offered(self, api, site):
        fields = {"food": make.FoodFactory().pk, "offered_kg": 1, "left_kg": 2}
        answer = finish(api, task_for("feeding"), fields=fields)
        assert list(answer.json()["fields"]) == ["left_kg"]

    @pytest.mark.parametrize("refused", ["no", "false", False, 0])
    def test_a_no_is_a_no(self, api, site, refused):
        fields = {"food": make.FoodFactory().pk, "offered_kg": 1, "refused": refused}
        assert finish(api, task_for("feeding"), fields=fields).status_code == 201
        assert Feeding.objects.get().refused is False

    def test_what_was_not_done_needs_a_reason(self, api, site):
        which = task_for("water_test")
        refused = finish(api, which, outcome="could_not")
        assert refused.status_code == 400 and list(refused.json()) == ["reason"]
        body = {"uuid": str(uuid4()), "task": which.pk, "outcome": "could_not", "reason": "Kit is empty"}
        assert api.post("/api/completions/", body).status_code == 201
        assert api.post("/api/completions/", body).status_code == 200
        assert Task.objects.get(pk=which.pk).status == "could_not"

    def test_somebody_else_was_first(self, api, volunteer_api, site):
        which = task_for("head_count")
        assert finish(volunteer_api, which).status_code == 201
        answer = finish(api, which)
        assert answer.status_code == 409 and "first" in answer.json()["detail"]
        assert HeadCount.objects.count() == 1

    def test_a_volunteer_may_not_finish_what_staff_do(self, volunteer_api, site):
        which = Task.objects.filter(status="open").exclude(role="volunteer").first()
        answer = finish(volunteer_api, which, outcome="not_needed", reason="Looks fine")
        assert answer.status_code == 403

    def test_of_work_above_ones_role_nothing_is_told(self, api, volunteer_api, site):
        done = {"outcome": "not_needed", "reason": "In confidence"}
        uuid = finish(api, task("filtration.drain"), **done).json()["uuid"]
        assert api.get("/api/completions/").json()["count"] == 1
        assert volunteer_api.get("/api/completions/").json()["results"] == []
        assert volunteer_api.get(f"/api/completions/{uuid}/").status_code == 404

    def test_nor_which_of_its_fields_are_wrong(self, volunteer_api, site):
        answer = finish(volunteer_api, task("filtration.drain"), fields={"drained_m3": "much"})
        assert answer.status_code == 403

    @pytest.mark.parametrize("body", ['"fields": {"seen": 1, "note": "\\ud800"}', '"\\udfff": 1'])
    def test_half_a_letter_is_refused_in_words(self, api, site, body):
        which = task("husbandry.all_seen")
        sent = f'{{"uuid": "{uuid4()}", "task": {which.pk}, {body}}}'
        answer = api.post("/api/completions/", sent, content_type="application/json")
        assert answer.status_code == 400
        assert "Send whole letters" in answer.json()["detail"]

    @pytest.mark.parametrize("task_id", [0, 2**70, "x", None])
    def test_no_such_task(self, api, site, task_id):
        answer = api.post("/api/completions/", {"uuid": str(uuid4()), "task": task_id})
        assert answer.status_code == 400 and list(answer.json()) == ["task"]


class TestUndo:
    def test_taken_back_once_however_often_it_is_asked(self, api, site):
        which = task_for("head_count")
        path = f"/api/completions/{finish(api, which).json()['uuid']}/"
        for _ in range(2):
            answer = api.post(f"{path}undo/")
            assert answer.status_code == 200 and answer.json()["undone_at"]
        assert HeadCount.objects.count() == 0
        assert Task.objects.get(pk=which.pk).status == "open"
        assert api.get("/api/completions/").json()["count"] == 0

    def test_not_by_somebody_else_and_not_later(self, api, volunteer_api, site):
        path = f"/api/completions/{finish(api, task_for('head_count')).json()['uuid']}/undo/"
        assert volunteer_api.post(path).status_code == 403
        Completion.objects.update(entered_at=timezone.now() - timedelta(minutes=5))
        answer = api.post(path)
        assert answer.status_code == 409 and "too late" in answer.json()["detail"]

    def test_none_of_this_number(self, api):
        assert api.post(f"/api/completions/{uuid4()}/undo/").status_code == 404
