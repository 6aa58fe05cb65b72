"""Records over the API: entered once, judged by the forms of the pages, corrected with a reason."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from enclosures.models import WaterTest
from filtration.models import Maintenance
from husbandry.models import Feeding, HealthRecord, Measurement
from refuge.records import void
from tests import factories as make
from tests.api.conftest import client_of

pytestmark = pytest.mark.django_db


def enter(api, path, **values):
    return api.post(f"/api/{path}/", {"uuid": str(uuid4()), **values})


class TestEnter:
    def test_the_same_uuid_twice_is_one_record(self, api):
        body = {"uuid": str(uuid4()), "circuit": make.CircuitFactory().pk, "ph": 7.4}
        first, again = api.post("/api/water-tests/", body), api.post("/api/water-tests/", body)
        assert (first.status_code, again.status_code) == (201, 200)
        assert first.json() == again.json()
        assert WaterTest.objects.count() == 1

    def test_the_same_uuid_with_something_else_is_refused(self, api):
        circuit, other = make.CircuitFactory(), make.CircuitFactory()
        body = {"uuid": str(uuid4()), "circuit": circuit.pk, "ph": 7.2}
        assert api.post("/api/water-tests/", body).status_code == 201
        for change in ({"circuit": other.pk}, {"ph": 6.1}, {"tan_mg_l": 1}):
            answer = api.post("/api/water-tests/", body | change)
            assert answer.status_code == 409
            assert "Tested: pH 7.2" in answer.json()["detail"] and str(circuit) in answer.json()["detail"]

    def test_a_repeat_of_what_was_corrected_since_is_still_the_same(self, api):
        body = {"uuid": str(uuid4()), "circuit": make.CircuitFactory().pk, "ph": 7.2}
        assert api.post("/api/water-tests/", body).status_code == 201
        api.patch(f"/api/water-tests/{body['uuid']}/", {"ph": 7.5, "reason": "Misread"})
        again = api.post("/api/water-tests/", body)
        assert (again.status_code, again.json()["ph"]) == (200, 7.5)

    def test_a_repeat_is_answered_even_when_it_would_be_refused_today(self, api):
        tank = make.EnclosureFactory()
        animal = make.AnimalFactory(placed_in=tank)
        body = {"uuid": str(uuid4()), "enclosure": tank.pk, "seen": 1}
        assert api.post("/api/head-counts/", body).status_code == 201
        animal.placements.update(ends_at=timezone.now())
        assert api.post("/api/head-counts/", body).status_code == 200

    def test_every_kind_of_record(self, api, staff):
        circuit = make.CircuitFactory()
        tank = make.EnclosureFactory(circuit=circuit)
        animal = make.AnimalFactory(placed_in=tank)
        food, unit = make.FoodFactory(), make.FilterUnitFactory(circuit=circuit)
        plan = make.FeedingPlanFactory(animal=animal, food=food)
        meal = {"food": food.pk, "offered_kg": 1.36}
        for path, values in [
            ("water-tests", {"circuit": circuit.pk, "temperature_c": 24.5, "clarity": 2}),
            (
                "water-changes",
                {
                    "circuit": circuit.pk,
                    "kind": "change",
                    "volume_m3": 0.2,
                    "source": circuit.water_source_id,
                },
            ),
            ("feedings", {"animal": animal.pk, **meal}),
            ("feedings", {"enclosure": tank.pk, **meal, "left_kg": 0.36}),
            ("feedings", {"plan": plan.pk, **meal, "refused": True}),
            ("measurements", {"animal": animal.pk, "mass_kg": 55, "carapace_m": 0.61}),
            ("health-records", {"animal": animal.pk, "kind": "look", "is_normal": True}),
            ("health-records", {"animal": animal.pk, "kind": "exam", "is_normal": False, "finding": "Thin"}),
            ("head-counts", {"enclosure": tank.pk, "seen": 1}),
            ("maintenance", {"filter": unit.pk, "kind": "drain", "litres_drained": 12.5}),
            ("maintenance", {"filter": unit.pk, "kind": "rinse", "layer": unit.layers.first().pk}),
            ("maintenance", {"filter": unit.pk, "kind": "bucket_test", "bucket_l": 10, "bucket_seconds": 20}),
            ("maintenance", {"filter": unit.pk, "kind": "protection_test", "passed": True}),
            ("maintenance", {"filter": unit.pk, "kind": "pump_clean"}),
            ("maintenance", {"filter": unit.pk, "kind": "state", "new_state": "disturbed"}),
            ("filter-harms", {"filter": unit.pk, "kind": "no_flow", "hours": 9}),
        ]:
            answer = enter(api, path, note="Cloudy", **values)
            assert answer.status_code == 201, (path, values, answer.json())
            shown = api.get(f"/api/{path}/{answer.json()['uuid']}/").json()
            assert shown == answer.json()
            assert shown["by"] == staff.pk and shown["note"] == "Cloudy"
            same = {name: values[name] for name in values if name in shown and name != "plan"}
            assert {name: shown[name] for name in same} == pytest.approx(same)

    def test_a_meal_and_a_bucket_test_are_computed_as_on_the_page(self, api):
        animal = make.AnimalFactory(placed_in=make.EnclosureFactory())
        food = make.FoodFactory(protein_fraction=0.2, water_fraction=0.7)
        meal = enter(api, "feedings", animal=animal.pk, food=food.pk, offered_kg=1.5, left_kg=0.5).json()
        # feed x protein x 0.092 (Timmons & Ebeling 2010) on the kilogram that was eaten; 0.25 of its dry matter
        assert meal["eaten_kg"] == pytest.approx(1.0)
        assert meal["tan_g"] == pytest.approx(18.4)
        assert meal["solids_g"] == pytest.approx(75.0)
        unit = make.FilterUnitFactory()
        values = {"filter": unit.pk, "kind": "bucket_test", "bucket_l": 10, "bucket_seconds": 18}
        assert enter(api, "maintenance", **values).json()["flow_m3_h"] == pytest.approx(2.0)

    def test_nitrogen_counts_as_the_column_says_unless_the_basis_is_the_ion(self, api):
        circuit = make.CircuitFactory()
        as_n = enter(api, "water-tests", circuit=circuit.pk, nitrate_n_mg_l=10).json()
        as_ion = enter(api, "water-tests", circuit=circuit.pk, nitrate_n_mg_l=44.27, basis="ion").json()
        assert as_n["nitrate_n_mg_l"] == 10
        # 62.004 / 14.007 = 4.427 mg of nitrate hold 1 mg of nitrogen (standard atomic weights)
        assert as_ion["nitrate_n_mg_l"] == pytest.approx(10, rel=1e-4)


class TestRefuse:
    NUMBERS = [
        ("water-tests", "temperature_c", -2, 50),
        ("water-tests", "ph", 0, 14),
        ("water-tests", "tan_mg_l", 0, 200),
        ("water-tests", "oxygen_mg_l", 0, 30),
        ("water-changes", "volume_m3", None, 2000),
        ("water-changes", "conditioner_g", 0, 100_000),
        ("feedings", "offered_kg", 0, 100),
        ("feedings", "left_kg", 0, 1),
        ("measurements", "mass_kg", None, 1000),
        ("measurements", "carapace_m", None, 3),
        ("head-counts", "seen", 0, 1),
        ("maintenance", "bucket_l", None, 1000),
        ("maintenance", "bucket_seconds", 0.2, 3600),
    ]

    @pytest.fixture
    def bodies(self):
        circuit = make.CircuitFactory()
        tank = make.EnclosureFactory(circuit=circuit)
        animal = make.AnimalFactory(placed_in=tank)
        return {
            "water-tests": {"circuit": circuit.pk},
            "water-changes": {
                "circuit": circuit.pk,
                "kind": "change",
                "volume_m3": 0.1,
                "source": circuit.water_source_id,
            },
            "feedings": {"animal": animal.pk, "food": make.FoodFactory().pk, "offered_kg": 1},
            "measurements": {"animal": animal.pk},
            "head-counts": {"enclosure": tank.pk},
            "maintenance": {
                "filter": make.FilterUnitFactory().pk,
                "kind": "bucket_test",
                "bucket_l": 10,
                "bucket_seconds": 20,
            },
        }

    @pytest.mark.parametrize(("path", "name", "low", "high"), NUMBERS)
    def test_what_is_no_number_or_just_past_a_bound_is_named(self, api, bodies, path, name, low, high):
        past = [] if low is None else [low - 0.001]
        for value in ["nan", "inf", "-inf", "a lot", "", True, [1], {}, -1e308, 1e308, high + 0.001, *past]:
            answer = enter(api, path, **{**bodies[path], name: value})
            assert answer.status_code == 400, value
            assert list(answer.json()) == [name], (value, answer.json())

    @pytest.mark.parametrize(("path", "name", "low", "high"), NUMBERS)
    def test_the_bounds_themselves_will_do(self, api, bodies, path, name, low, high):
        for value in [high] if low is None else [low, high]:
            extra = {"note": "One is missing, looked everywhere"} if path == "head-counts" else {}
            answer = enter(api, path, **{**bodies[path], name: value, **extra})
            assert answer.status_code == 201, (value, answer.json())

    @pytest.mark.parametrize("literal", ["NaN", "Infinity", "-Infinity", "1e400"])
    def test_numbers_that_json_cannot_hold(self, api, bodies, literal):
        body = f'{{"uuid": "{uuid4()}", "circuit": {bodies["water-tests"]["circuit"]}, "ph": {literal}}}'
        answer = api.post("/api/water-tests/", body, content_type="application/json")
        assert answer.status_code == 400

    @pytest.mark.parametrize(
        ("path", "values", "field"),
        [
            ("water-tests", {}, "non_field_errors"),
            ("water-tests", {"pH": 7}, "pH"),
            ("water-tests", {"ph": 7, "at": "0024-05-06T07:00:00Z"}, "at"),
            ("water-tests", {"ph": 7, "at": "2224-05-06T07:00:00Z"}, "at"),
            ("water-tests", {"ph": 7, "at": "yesterday"}, "at"),
            ("water-tests", {"ph": 7, "circuit": 2**70}, "circuit"),
            ("water-tests", {"ph": 7, "circuit": "x"}, "circuit"),
            ("water-tests", {"ph": 7, "uuid": "x"}, "uuid"),
            ("water-tests", {"ph": 7, "uuid": None}, "uuid"),
            ("water-tests", {"ph": 7, "clarity": 9}, "clarity"),
            ("water-tests", {"ph": 7, "note": "a\0b"}, "note"),
            ("water-tests", {"ph": 7, "basis": "mole"}, "basis"),
            ("feedings", {"left_kg": 2}, "left_kg"),
            ("feedings", {"plan": 1}, "plan"),
            ("feedings", {"refused": "perhaps"}, "refused"),
            ("measurements", {}, "mass_kg"),
            ("head-counts", {"seen": 0}, "note"),
            ("maintenance", {"kind": "drain"}, "bucket_l"),
            ("maintenance", {"passed": True}, "passed"),
        ],
    )
    def test_what_does_not_fit_is_named(self, api, bodies, path, values, field):
        answer = enter(api, path, **{**bodies[path], **values})
        assert answer.status_code == 400
        assert field in answer.json()
        assert (
            WaterTest.everything.count() == Feeding.everything.count() == Maintenance.everything.count() == 0
        )

    def test_tap_water_needs_the_conditioner_that_the_page_asks_for(self, api):
        tap = make.WaterSourceFactory(chloramine=True)
        circuit = make.CircuitFactory(water_source=tap)
        values = {"circuit": circuit.pk, "kind": "change", "volume_m3": 0.1, "source": tap.pk}
        answer = enter(api, "water-changes", **values)
        assert answer.status_code == 400 and "chloramine" in answer.json()["conditioner"][0]
        assert enter(api, "water-changes", **values, conditioner="Thiosulfate").status_code == 201

    def test_an_animal_that_was_nowhere_ate_nothing(self, api):
        animal, food = make.AnimalFactory(), make.FoodFactory()
        answer = enter(api, "feedings", animal=animal.pk, food=food.pk, offered_kg=1)
        assert answer.status_code == 400
        assert "in no enclosure" in answer.json()["non_field_errors"][0]

    def test_a_body_that_is_no_object(self, api):
        for body in ["[]", "3", "null", "{"]:
            answer = api.post("/api/water-tests/", body, content_type="application/json")
            assert answer.status_code == 400

    def test_nothing_is_deleted(self, api):
        test = make.WaterTestFactory()
        for path in ["", f"{test.uuid}/"]:
            assert api.delete(f"/api/water-tests/{path}").status_code == 405


class TestRoles:
    def test_a_volunteer_enters_what_volunteers_do(self, volunteer_api):
        unit = make.FilterUnitFactory()
        assert enter(volunteer_api, "maintenance", filter=unit.pk, kind="pump_clean").status_code == 201
        circuit = make.CircuitFactory()
        assert enter(volunteer_api, "water-tests", circuit=circuit.pk, ph=7).status_code == 201

    def test_a_volunteer_does_not_enter_what_staff_do(self, volunteer_api):
        unit = make.FilterUnitFactory()
        refused = enter(volunteer_api, "maintenance", filter=unit.pk, kind="drain", litres_drained=5)
        assert refused.status_code == 403 and "staff" in refused.json()["detail"]
        animal = make.AnimalFactory()
        assert enter(volunteer_api, "measurements", animal=animal.pk, mass_kg=5).status_code == 403
        assert Measurement.everything.count() == Maintenance.everything.count() == 0

    @pytest.mark.parametrize("path", ["water-tests", "tasks", "animals", "completions"])
    def test_nobody_reads_without_signing_in(self, refuge, client, path):
        answer = client.get(f"/api/{path}/")
        assert answer.status_code == 401
        assert answer["WWW-Authenticate"] == "Token"

    def test_removed_access_ends_at_the_next_request(self, api, staff):
        staff.is_active = False
        staff.save()
        assert api.get("/api/water-tests/").status_code == 401

    def test_a_browser_session_needs_the_page_s_own_proof(self, staff):
        from django.test import Client

        browser = Client(enforce_csrf_checks=True)
        browser.force_login(staff)
        assert browser.get("/api/areas/").status_code == 200
        answer = browser.post("/api/water-tests/", "{}", content_type="application/json")
        assert answer.status_code == 403 and "CSRF" in answer.json()["detail"]


class TestAmend:
    def test_the_earlier_version_stays(self, api, staff):
        test = make.WaterTestFactory(ph=7.2, by=staff)
        answer = api.patch(f"/api/water-tests/{test.uuid}/", {"ph": 7.8, "reason": "Misread the scale"})
        assert answer.status_code == 200 and answer.json()["ph"] == 7.8
        assert answer.json()["tan_mg_l"] == 0.0  # what was left out stays
        newest, first = test.history.all()
        assert (first.ph, newest.ph) == (7.2, 7.8)
        assert newest.history_change_reason == "Misread the scale"

    def test_a_reason_is_needed(self, api, staff):
        test = make.WaterTestFactory(by=staff)
        for body in [{"ph": 7}, {"ph": 7, "reason": " "}]:
            answer = api.patch(f"/api/water-tests/{test.uuid}/", body)
            assert answer.status_code == 400 and list(answer.json()) == ["reason"]

    def test_ions_beside_stored_nitrogen(self, api):
        test = make.WaterTestFactory(tan_mg_l=0.5, nitrate_n_mg_l=10.0)
        body = {"nitrate_n_mg_l": 88.54, "basis": "ion", "reason": "Read NO3"}
        shown = api.patch(f"/api/water-tests/{test.uuid}/", body).json()
        assert shown["nitrate_n_mg_l"] == pytest.approx(20, rel=1e-4)
        assert shown["tan_mg_l"] == 0.5

    def test_a_meal_s_load_follows(self, api):
        meal = make.FeedingFactory(food__protein_fraction=0.2, food__water_fraction=0.7)
        shown = api.patch(f"/api/feedings/{meal.uuid}/", {"offered_kg": 1.0, "reason": "Weighed"}).json()
        assert shown["tan_g"] == pytest.approx(18.4)
        refused = api.patch(f"/api/feedings/{meal.uuid}/", {"refused": True, "reason": "Found it"}).json()
        assert (refused["tan_g"], refused["left_kg"]) == (0, 1.0)

    def test_maintenance_under_its_own_columns(self, api):
        unit = make.FilterUnitFactory()
        values = {"filter": unit.pk, "kind": "bucket_test", "bucket_l": 10, "bucket_seconds": 20}
        uuid = enter(api, "maintenance", **values).json()["uuid"]
        shown = api.patch(f"/api/maintenance/{uuid}/", {"bucket_seconds": 36, "reason": "Slipped"}).json()
        assert shown["bucket_l"] == pytest.approx(10) and shown["flow_m3_h"] == pytest.approx(1.0)
        refused = api.patch(f"/api/maintenance/{uuid}/", {"bucket_l": 0, "reason": "Slipped"})
        assert refused.status_code == 400 and list(refused.json()) == ["bucket_l"]

    @pytest.mark.parametrize("change", [{"circuit": 1}, {"uuid": str(uuid4())}, {"tan": 1}])
    def test_what_it_is_about_cannot_be_changed(self, api, change):
        test = make.WaterTestFactory()
        answer = api.patch(f"/api/water-tests/{test.uuid}/", {**change, "reason": "Other tank"})
        assert answer.status_code == 400 and list(answer.json()) == list(change)

    def test_what_was_struck_out_is_entered_anew(self, api, staff):
        test = make.WaterTestFactory()
        void(record=test, by=staff, reason="Other tank")
        answer = api.patch(f"/api/water-tests/{test.uuid}/", {"ph": 7, "reason": "x"})
        assert answer.status_code == 409
        assert api.get(f"/api/water-tests/{test.uuid}/").json()["voided_at"]
        assert api.get("/api/water-tests/").json()["count"] == 0

    def test_a_change_of_state_is_not_rewritten(self, api):
        unit = make.FilterUnitFactory()
        uuid = enter(api, "maintenance", filter=unit.pk, kind="state", new_state="resting").json()["uuid"]
        assert api.patch(f"/api/maintenance/{uuid}/", {"note": "x", "reason": "y"}).status_code == 409

    def test_volunteers_correct_their_own(self, volunteer_api, volunteer):
        other, own = make.WaterTestFactory(), make.WaterTestFactory(by=volunteer)
        body = {"ph": 7.0, "reason": "Misread"}
        assert volunteer_api.patch(f"/api/water-tests/{other.uuid}/", body).status_code == 403
        assert volunteer_api.patch(f"/api/water-tests/{own.uuid}/", body).status_code == 200

    def test_only_the_kind_of_a_look_s_own_fields(self, api):
        animal = make.AnimalFactory()
        uuid = enter(api, "health-records", animal=animal.pk, kind="look", is_normal=True).json()["uuid"]
        path = f"/api/health-records/{uuid}/"
        assert api.patch(path, {"kind": "exam", "reason": "x"}).status_code == 400
        unusual = api.patch(path, {"is_normal": False, "reason": "x"})
        assert unusual.status_code == 400 and list(unusual.json()) == ["finding"]
        assert api.patch(path, {"is_normal": False, "finding": "Limps", "reason": "x"}).status_code == 200
        assert HealthRecord.objects.get().finding == "Limps"


class TestStrikeOut:
    def strike(self, client, uuid, **body):
        return client.post(f"/api/water-tests/{uuid}/strike-out/", body)

    def test_it_is_read_still_and_counts_no_more(self, api):
        body = {"uuid": str(uuid4()), "circuit": make.CircuitFactory().pk, "ph": 7.2}
        api.post("/api/water-tests/", body)
        for _ in range(2):
            answer = self.strike(api, body["uuid"], reason="Entered for the wrong water")
            assert answer.status_code == 200 and answer.json()["voided_at"]
        assert api.get("/api/water-tests/").json()["count"] == 0
        assert api.get(f"/api/water-tests/{body['uuid']}/").json()["ph"] == 7.2
        assert WaterTest.everything.get().history.count() == 2

    def test_a_reason_is_needed(self, api, staff):
        record = make.WaterTestFactory(by=staff)
        assert self.strike(api, record.uuid).json() == {"reason": ["This field is required."]}

    def test_volunteers_do_not(self, volunteer_api, volunteer):
        record = make.WaterTestFactory(by=volunteer)
        assert self.strike(volunteer_api, record.uuid, reason="Wrong water").status_code == 403
        assert WaterTest.objects.exists()


class TestList:
    def test_days_are_the_refuge_s_own_and_both_count(self, api):
        circuit = make.CircuitFactory()
        # Midnight in New York is 05:00 UTC in winter.
        for hour in (
            "2026-01-09T04:59:00",
            "2026-01-09T05:00:00",
            "2026-01-10T04:59:00",
            "2026-01-10T05:00:00",
        ):
            make.WaterTestFactory(circuit=circuit, at=f"{hour}+00:00")
        make.WaterTestFactory()
        rows = api.get(f"/api/water-tests/?circuit={circuit.pk}&since=2026-01-09&until=2026-01-09").json()
        assert [row["at"] for row in rows["results"]] == [
            "2026-01-09T23:59:00-05:00",
            "2026-01-09T00:00:00-05:00",
        ]
        oldest = api.get(f"/api/water-tests/?circuit={circuit.pk}&ordering=at").json()["results"]
        assert [row["at"] for row in oldest] == sorted(row["at"] for row in oldest) and len(oldest) == 4

    @pytest.mark.parametrize(
        "query",
        [
            "since=x",
            "until=0001-01-01",
            "until=9999-12-31",
            "ordering=ph",
            "circuit=0",
            "circuit=x",
            "circuit=1e9",
        ],
    )
    def test_a_query_that_makes_no_sense_is_named(self, api, query):
        answer = api.get(f"/api/water-tests/?{query}")
        assert answer.status_code == 400 and list(answer.json()) == [query.split("=")[0]]

    def test_huge_numbers_in_addresses(self, api):
        assert api.get(f"/api/water-tests/?circuit={2**63 - 1}").json()["count"] == 0
        assert api.get(f"/api/water-tests/?circuit={2**63}").status_code == 400
        assert api.get(f"/api/animals/{2**70}/").status_code == 404
        assert api.get(f"/api/water-tests/?offset={2**70}").status_code == 200

    def test_no_more_than_five_hundred_at_once(self, api):
        circuit, now = make.CircuitFactory(), timezone.now()
        WaterTest.objects.bulk_create(
            WaterTest(circuit=circuit, ph=7, at=now - timedelta(minutes=n)) for n in range(510)
        )
        answer = api.get("/api/water-tests/?limit=100000").json()
        assert (answer["count"], len(answer["results"])) == (510, 500)
        assert len(api.get("/api/water-tests/").json()["results"]) == 100

    def test_somebody_else_s_browser_type_gets_json_too(self, api):
        answer = api.get("/api/water-tests/", HTTP_ACCEPT="text/html,application/json;q=0.9")
        assert answer["Content-Type"] == "application/json"


def test_every_list_costs_the_same_for_any_number_of_rows(refuge, staff):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    api = client_of(staff)
    paths = [
        "areas", "water-sources", "circuits", "enclosures", "water-tests", "water-changes", "species", "foods",
        "animals", "placements", "feeding-plans", "feedings", "measurements", "health-records", "head-counts",
        "filters", "maintenance", "tasks", "completions",
    ]  # fmt: skip

    def costs():
        found = {}
        for path in paths:
            with CaptureQueriesContext(
                connection,
            ) as queries:
                answer = api.get(f"/api/{path}/")
            assert answer.status_code == 200
            found[path] = (len(queries), answer.json()["count"])
        return found

    fill(staff)
    few = costs()
    for _ in range(3):
        fill(staff)
    many = costs()
    assert {path: many[path][0] for path in paths} == {path: few[path][0] for path in paths}
    assert all(many[path][1] > few[path][1] for path in paths), many


def fill(staff):
    """One more of everything that the API lists."""
    from refuge.rounds.models import Completion, Task

    circuit = make.CircuitFactory()
    tank = make.EnclosureFactory(circuit=circuit)
    animal = make.AnimalFactory(placed_in=tank, mass_kg=20)
    plan = make.FeedingPlanFactory(animal=animal)
    make.FeedingFactory(enclosure=tank, animal=animal, plan=plan, by=staff)
    make.WaterTestFactory(circuit=circuit, by=staff)
    unit = make.FilterUnitFactory(circuit=circuit)
    unit.maintenance.create(kind="inspection", by=staff)
    circuit.water_changes.create(volume_m3=1, source=circuit.water_source, by=staff)
    animal.health_records.create(kind="look", by=staff)
    tank.head_counts.create(seen=1, expected=1, by=staff)
    place = {"area_code": "A", "area_name": "A", "area_rank": 0, "stop_code": "S", "stop_name": "S"}
    place |= {"stop_position": 0, "stop_path": "/", "subject_label": "x", "subject_path": "/", "title": "x"}
    today = timezone.now().date()
    for number in (0, 1):
        task = Task.objects.create(
            rule="water_test", subject_kind="circuit", subject_id=circuit.pk * 2 + number,
            due_on=today - timedelta(days=1), assigned_to=staff, **place,
        )  # fmt: skip
    Completion.objects.create(task=task, outcome="done", by=staff)
