"""Finishing a task from a phone: one tap, forms, mistakes, repeats, being second, and taking it back."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from enclosures.models import WaterTest
from filtration.models import Maintenance
from husbandry.models import Feeding, HeadCount
from refuge.rounds.models import Completion, Task
from refuge.units import spoken
from tests import factories as make
from tests.rounds.conftest import client_of

pytestmark = pytest.mark.django_db


def undo(walk, person, completion, **data):
    return walk.send(person, f"/completions/{completion.uuid}/undo/", **data)


class TestOpening:
    def test_in_place_with_reasons_limits_cautions_and_form(self, walk):
        task = walk.task("filtration.drain")
        client = client_of(walk.manager)
        html = client.get(f"/tasks/{task.pk}/", headers={"hx-request": "true"}).content.decode()
        assert "<html" not in html
        for reason in task.reasons:
            assert spoken(reason["text"]).split(";")[0] in html
        assert "What this went by" in html
        assert "Unplug the pump before you reach in" in html
        assert html.count('type="radio"') >= 3
        assert 'name="drained_m3"' in html

    def test_on_a_page_of_its_own_without_script(self, walk):
        task = walk.task("filtration.drain")
        html = client_of(walk.staff).get(f"/tasks/{task.pk}/").content.decode()
        assert "<html" in html
        assert "hx-post" not in html.partition("<main")[2].partition("</main")[0]
        assert f'action="/tasks/{task.pk}/done/"' in html

    def test_amounts_are_asked_and_shown_in_the_units_of_who_reads(self, walk):
        walk.volunteer.unit_system = "us"
        walk.volunteer.save()
        task = walk.task("husbandry.feeding")
        html = client_of(walk.volunteer).get(f"/tasks/{task.pk}/").content.decode()
        assert 'value="2.998"' in html  # 1.36 kg / 0.45359237 kg a pound
        assert ">lb" in html

    def test_it_closes_to_its_row_again(self, walk):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        answer = client_of(walk.staff).get(f"/tasks/{task.pk}/?row=1", headers={"hx-request": "true"})
        html = answer.content.decode()
        assert html.count("<article") == 1
        assert "All seen" in html

    def test_work_above_ones_role_cannot_be_opened(self, walk):
        task = walk.task("filtration.drain")
        assert client_of(walk.volunteer).get(f"/tasks/{task.pk}/").status_code == 403

    def test_opened_after_somebody_finished_it_says_so(self, walk):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        walk.finish(walk.volunteer, task, tap="1")
        html = client_of(walk.staff).get(f"/tasks/{task.pk}/").content.decode()
        assert "1 of 1 seen" in html
        assert "Bento Alves" in html


class TestOneTap:
    def test_makes_the_record_and_answers_with_the_stop_progress_and_undo(self, walk):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        answer = walk.finish(walk.volunteer, task, tap="1")
        html = answer.content.decode()
        assert answer.status_code == 200
        assert HeadCount.objects.get().seen == 1
        assert f'id="stop-enclosures-{walk.pond.pk}"' in html
        assert "1 of 1 seen" in html
        assert "just now" in html
        assert 'id="round-progress"' in html
        assert "<b>1</b> of" in html
        completion = Completion.objects.get()
        assert f"/completions/{completion.uuid}/undo/" in html
        assert "records-changed" in answer.headers["HX-Trigger"]

    def test_a_water_test_is_repeated_in_the_words_of_the_kit(self, walk):
        """2.0 as NH4 is 1.55 as N: 14.007 / 18.04 (IUPAC atomic weights), 0.5 as NO2 0.15 as N: 14.007 / 46.01."""
        task = walk.task("enclosures.water_test", scope=walk.pond.circuit_id)
        typed = {"basis": "ion", "tan_mg_l": "2.0", "nitrite_n_mg_l": "0.5", "alkalinity_mg_l": "90"}
        answer = walk.finish(walk.volunteer, task, **typed).content.decode()
        words = "ammonia 2.0 mg/L NH₄ (1.55 as N); nitrite 0.5 mg/L NO₂ (0.15 as N); alkalinity 90 mg/L CaCO₃"
        assert answer.count(words) >= 2  # the row, and the line at the foot

    def test_and_as_nitrogen_where_the_kit_says_so(self, walk):
        task = walk.task("enclosures.water_test", scope=walk.pond.circuit_id)
        answer = walk.finish(walk.volunteer, task, basis="n", tan_mg_l="0.25").content.decode()
        assert "ammonia 0.25 mg/L N" in answer and "NH₄ (" not in answer

    def test_fed_as_planned_takes_the_ration_of_the_plan(self, walk):
        walk.finish(walk.volunteer, walk.task("husbandry.feeding"), tap="1")
        meal = Feeding.objects.get()
        assert (meal.offered_kg, meal.left_kg, meal.refused) == (1.36, 0.0, False)

    def test_looks_normal(self, walk):
        walk.finish(walk.volunteer, walk.task("husbandry.quarantine_look"), tap="1")
        assert Completion.objects.get().summary == "Nothing unusual"

    def test_where_numbers_are_needed_it_opens_the_form_instead(self, walk):
        answer = walk.finish(
            walk.staff, walk.task("enclosures.water_test", scope=walk.pond.circuit_id), tap="1"
        )
        assert answer.status_code == 422
        assert not Completion.objects.exists()

    def test_works_without_script_and_leads_back_to_the_stop(self, walk):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        answer = walk.finish(walk.volunteer, task, tap="1", phone=False, uuid="")
        assert answer.status_code == 302
        assert answer.url == f"/#stop-enclosures-{walk.pond.pk}"
        html = client_of(walk.volunteer).get("/").content.decode()
        assert f'action="/completions/{Completion.objects.get().uuid}/undo/"' in html

    @pytest.mark.parametrize("where", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:1"])
    def test_never_leads_off_the_site(self, walk, where):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        assert "elsewhere" not in walk.finish(walk.staff, task, tap="1", phone=False, next=where).url


class TestForms:
    def test_a_mistake_comes_back_in_place_with_everything_typed(self, walk):
        task = walk.task("enclosures.water_test", scope=walk.pond.circuit_id)
        answer = walk.finish(walk.volunteer, task, ph="seventy", temperature_c="21", note="Milky since noon")
        html = answer.content.decode()
        assert answer.status_code == 422
        assert answer.headers["HX-Retarget"] == f"#task-{task.pk}"
        for typed in ("seventy", "21", "Milky since noon"):
            assert typed in html
        assert "This is no number" in html
        assert 'aria-invalid="true"' in html
        assert not WaterTest.objects.exists()
        assert Task.objects.get(pk=task.pk).status == "open"

    def test_what_the_service_refuses_comes_back_the_same_way(self, walk):
        make.PlacementFactory(animal=make.AnimalFactory(), enclosure=walk.tank)
        stray = make.AnimalFactory()  # lives nowhere
        plan = make.FeedingPlanFactory(animal=stray)
        task = walk.task("husbandry.feeding")
        Task.objects.filter(pk=task.pk).update(subject_id=plan.pk)
        answer = walk.finish(walk.staff, task, food=plan.food_id, offered_kg="2", note="He was hungry")
        assert answer.status_code == 422
        assert "was in no enclosure at that time" in answer.content.decode()
        assert "He was hungry" in answer.content.decode()

    @pytest.mark.parametrize("outcome", ["could_not", "not_needed"])
    def test_set_aside_needs_a_reason_and_keeps_what_else_was_typed(self, walk, outcome):
        task = walk.task("enclosures.water_test", scope=walk.pond.circuit_id)
        answer = walk.finish(walk.volunteer, task, outcome=outcome, ph="7.1", note="half done")
        html = answer.content.decode()
        assert answer.status_code == 422
        assert "Say why, in a few words." in html
        assert 'value="7.1"' in html
        assert "half done" in html

    def test_could_not_is_asked_again_tomorrow(self, walk):
        task = walk.task("filtration.pump_clean")
        answer = walk.finish(walk.volunteer, task, outcome="could_not", reason="The shed is locked")
        assert "Could not: The shed is locked" in answer.content.decode()
        again = walk.task("filtration.pump_clean")
        assert again.due_on == timezone.localdate() + timedelta(days=1)
        assert not Maintenance.objects.exists()

    def test_an_unknown_outcome_changes_nothing(self, walk):
        task = walk.task("filtration.pump_clean")
        assert walk.finish(walk.volunteer, task, outcome="exploded", reason="x").status_code == 422
        assert not Completion.objects.exists()


class TestRepeats:
    def test_the_same_entry_twice_is_one_record_and_one_answer(self, walk):
        task, entry = walk.task("husbandry.feeding"), str(uuid4())
        first = walk.finish(walk.volunteer, task, tap="1", uuid=entry)
        second = walk.finish(walk.volunteer, task, tap="1", uuid=entry)
        assert (first.status_code, second.status_code) == (200, 200)
        assert "Fed 1.36" in second.content.decode()
        assert Feeding.objects.count() == Completion.objects.count() == 1

    def test_the_same_reason_twice_is_one(self, walk):
        task, entry = walk.task("filtration.pump_clean"), str(uuid4())
        for _ in range(2):
            said = {"outcome": "not_needed", "reason": "Done on Monday", "uuid": entry}
            assert walk.finish(walk.volunteer, task, **said).status_code == 200
        assert Completion.objects.count() == 1

    def test_an_entry_that_was_taken_back_does_not_come_back_by_a_late_repeat(self, walk):
        task, entry = walk.task("husbandry.feeding"), str(uuid4())
        walk.finish(walk.volunteer, task, tap="1", uuid=entry)
        undo(walk, walk.volunteer, Completion.objects.get())
        answer = walk.finish(walk.volunteer, task, tap="1", uuid=entry)
        assert answer.status_code == 409
        assert "taken back already" in answer.content.decode()
        assert not Feeding.objects.exists()

    def test_an_entry_of_another_task_is_refused(self, walk):
        entry = str(uuid4())
        walk.finish(walk.volunteer, walk.task("husbandry.feeding"), tap="1", uuid=entry)
        seen = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        assert walk.finish(walk.volunteer, seen, tap="1", uuid=entry).status_code == 422
        assert Task.objects.get(pk=seen.pk).status == "open"


class TestSecond:
    def test_learns_in_place_who_was_first(self, walk):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        walk.finish(walk.volunteer, task, tap="1")
        answer = walk.finish(walk.staff, task, tap="1")
        assert answer.status_code == 409
        assert "Bento Alves was first, at" in answer.content.decode()
        assert HeadCount.objects.count() == 1

    def test_keeps_what_was_typed_and_may_record_it_as_well(self, walk):
        task = walk.task("enclosures.water_test", scope=walk.pond.circuit_id)
        walk.finish(walk.volunteer, task, ph="7.0", basis="n")
        entry = str(uuid4())
        answer = walk.finish(walk.staff, task, ph="7.3", basis="n", note="By the inlet", uuid=entry)
        html = answer.content.decode()
        assert answer.status_code == 409
        assert answer.headers["HX-Retarget"] == f"#task-{task.pk}"
        assert "Bento Alves was first" in html
        assert 'value="7.3"' in html
        assert "By the inlet" in html
        path = f"/record/water_test/{walk.pond.circuit_id}/"
        assert f'action="{path}"' in html
        walk.send(walk.staff, path, phone=False, ph="7.3", note="By the inlet", uuid=entry, basis="n")
        assert sorted(WaterTest.objects.values_list("ph", flat=True)) == [7.0, 7.3]


class TestRoles:
    def test_a_volunteer_cannot_finish_staff_work_by_its_address(self, walk):
        task = walk.task("filtration.protection_test")
        for data in ({"passed": "yes"}, {"outcome": "not_needed", "reason": "x"}, {"tap": "1"}):
            assert walk.finish(walk.volunteer, task, **data).status_code == 403
        assert Task.objects.get(pk=task.pk).status == "open"
        assert not Completion.objects.exists()

    def test_only_by_post(self, walk):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        assert client_of(walk.staff).get(f"/tasks/{task.pk}/done/").status_code == 405


class TestUndo:
    def test_brings_the_task_back_and_strikes_the_record_out(self, walk):
        task = walk.task("husbandry.feeding")
        walk.finish(walk.volunteer, task, tap="1")
        answer = undo(walk, walk.volunteer, Completion.objects.get())
        assert answer.status_code == 200
        assert "Taken back: Feed" in answer.content.decode()
        assert f'id="task-{task.pk}"' in answer.content.decode()
        assert not Feeding.objects.exists()
        assert Feeding.everything.get().voided_at is not None
        assert walk.task("husbandry.feeding").pk == task.pk

    def test_twice_is_the_same_as_once(self, walk):
        walk.finish(walk.volunteer, walk.task("husbandry.feeding"), tap="1")
        for _ in range(2):
            assert undo(walk, walk.volunteer, Completion.objects.get()).status_code == 200
        assert Feeding.everything.get().history.count() == 2

    def test_too_late_leads_to_the_amendment(self, walk):
        walk.finish(walk.volunteer, walk.task("husbandry.feeding"), tap="1")
        completion = Completion.objects.get()
        Completion.objects.update(entered_at=timezone.now() - timedelta(minutes=2))
        answer = undo(walk, walk.volunteer, completion)
        html = answer.content.decode()
        assert answer.status_code == 409
        assert "too late to take this back" in html
        assert f"/amend/husbandry.feeding/{completion.record_id}/" in html
        assert Feeding.objects.exists()

    def test_not_somebody_elses(self, walk):
        walk.finish(walk.volunteer, walk.task("husbandry.feeding"), tap="1")
        assert undo(walk, walk.manager, Completion.objects.get()).status_code == 409
        assert Feeding.objects.exists()

    def test_without_script_it_leads_back(self, walk):
        walk.finish(walk.volunteer, walk.task("husbandry.feeding"), tap="1", phone=False)
        answer = undo(walk, walk.volunteer, Completion.objects.get(), phone=False)
        assert answer.url == f"/#stop-enclosures-{walk.pond.pk}"


class TestOnThePageOfAThing:
    def test_the_same_list_comes_back_without_the_walk(self, walk):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        token = f"path:/enclosures/{walk.pond.pk}/"
        answer = walk.finish(walk.staff, task, tap="1", within=token, page=f"/enclosures/{walk.pond.pk}/")
        html = answer.content.decode()
        assert f'id="due-path-enclosures-{walk.pond.pk}"' in html
        assert 'id="round-progress"' not in html
        assert "1 of 1 seen" in html
        assert "All animals seen: P1 North pond" in html  # no stop's header says so here

    def test_an_unknown_list_is_not_found(self, walk):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        answer = client_of(walk.staff).post(
            f"/completions/{uuid4()}/undo/", {"within": "x"}, headers={"hx-request": "true"}
        )
        assert answer.status_code == 404
        assert walk.finish(walk.staff, task, tap="1", within="nothing:1").status_code == 404

    def test_a_label_leads_to_what_is_due_there(self, walk):
        html = client_of(walk.volunteer).get(f"/here/?path=/enclosures/{walk.tank.pk}/").content.decode()
        assert "Q1 Tank one" in html
        assert "Look at it: quarantine" in html
        assert "Feed" not in html.partition("<main")[2].partition("</main")[0].replace("Fed as planned", "")

    @pytest.mark.parametrize("path", ["", "/", 'x"y', "/a/?b=", "//evil.example/", "/enclosures/3"])
    def test_a_label_that_is_no_address_of_a_place_is_not_found(self, walk, path):
        assert client_of(walk.volunteer).get("/here/", {"path": path}).status_code == 404


class TestAssign:
    def assign(self, walk, person, task, to, **data):
        return walk.send(person, f"/tasks/{task.pk}/assign/", to=to.pk if to else "", **data)

    def test_staff_take_a_task_and_hand_it_back(self, walk):
        task = walk.task("filtration.drain")
        assert self.assign(walk, walk.staff, task, walk.staff).status_code == 200
        assert walk.task("filtration.drain").assigned_to == walk.staff
        self.assign(walk, walk.staff, task, None)
        assert walk.task("filtration.drain").assigned_to is None

    def test_one_that_somebody_took_stays_theirs(self, walk):
        task, other = walk.task("filtration.drain"), make.UserFactory(staff=True)
        self.assign(walk, other, task, other)
        answer = self.assign(walk, walk.staff, task, walk.staff)
        assert answer.status_code == 409
        assert "has taken this already" in answer.content.decode()
        assert walk.task("filtration.drain").assigned_to == other

    def test_a_manager_gives_it_to_anybody_who_may_do_it(self, walk):
        task = walk.task("filtration.drain")
        assert self.assign(walk, walk.manager, task, walk.staff).status_code == 200
        answer = self.assign(walk, walk.manager, task, walk.volunteer)
        assert answer.status_code == 409
        assert "it is work for staff" in answer.content.decode()

    def test_a_volunteer_assigns_nothing(self, walk):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        assert self.assign(walk, walk.volunteer, task, walk.volunteer).status_code == 409
        assert walk.task("husbandry.all_seen", subject_id=walk.pond.pk).assigned_to is None


@pytest.mark.django_db(transaction=True)
class TestWhatItChanged:
    """The plan follows each commit, so that these answers need real ones."""

    def test_a_water_test_changes_the_plan_and_says_how(self, walk):
        task = walk.task("enclosures.water_test", scope=walk.pond.circuit_id)
        numbers = {"temperature_c": "75 °F", "ph": "7,2", "tan_mg_l": "0", "nitrate_n_mg_l": "300"}
        answer = walk.finish(walk.volunteer, task, basis="n", **numbers)
        test = WaterTest.objects.get()
        assert test.temperature_c == pytest.approx(23.889, abs=1e-3)
        assert (test.ph, test.nitrate_n_mg_l) == (7.2, 300)
        html = answer.content.decode()
        assert "Next: tomorrow" in html  # nitrate is beyond its limit: tested again within a day
        assert Task.objects.get(rule=task.rule, scope=task.scope, status="open").due_on == (
            timezone.localdate() + timedelta(days=1)
        )

    def test_names_what_became_due_elsewhere_on_the_same_water(self, walk):
        """A rinse asks for a bucket test, which was not due yet; a later stop of the water moves with it."""
        yesterday = f"{timezone.now() - timedelta(days=1):%Y-%m-%dT%H:%M}"
        test = {"bucket_m3": "10", "bucket_seconds": "18", "at": yesterday}
        walk.send(walk.staff, f"/record/bucket_test/{walk.barrel.pk}/", phone=False, **test)
        assert Maintenance.objects.get().flow_m3_h == pytest.approx(2.0)  # 10 L in 18 s is 2,000 L/h
        assert walk.task("filtration.bucket_test").due_on > timezone.localdate()
        answer = walk.finish(walk.staff, walk.task("filtration.rinse"))
        assert walk.task("filtration.bucket_test").due_on <= timezone.localdate() + timedelta(days=1)
        assert "Bucket test of the flow, F1" in answer.content.decode()
