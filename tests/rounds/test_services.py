"""Writes of the round by themselves: what an undo, an assignment or a correction leaves behind."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from enclosures.models import WaterTest
from filtration.models import FilterUnit, Maintenance
from husbandry.models import Feeding, HeadCount, HealthRecord, QuarantineCheck
from refuge.rounds import services
from refuge.rounds.models import Completion, Task
from refuge.rounds.planner import plan_site
from refuge.rounds.recording import differs, recorder, recorder_of, recorders
from refuge.units import spoken
from tests import factories as make
from tests.rounds.conftest import committed

pytestmark = pytest.mark.django_db


def entry(**values):
    return {"uuid": uuid4(), "at": timezone.now(), "note": "", **values}


def complete(walk, rule, by=None, *, where=None, **values):
    task = walk.task(rule, **(where or {}))
    with committed():
        return services.task_complete(task_id=task.pk, by=by or walk.manager, cleaned=entry(**values))


def undo(completion, by):
    with committed():
        return services.completion_undo(uuid=completion.uuid, by=by)


class TestEveryRecorder:
    @pytest.mark.parametrize("kind", list(recorders()), ids=lambda each: each.key)
    def test_knows_its_subject_and_what_it_records(self, kind):
        from django.apps import apps

        model = apps.get_model(kind.record_model)
        assert kind.subject_field in {
            field.attname for field in model._meta.get_fields() if hasattr(field, "attname")
        }
        assert apps.get_model(kind.subject_model)
        from refuge.templatetags.look import icon_names

        assert kind.icon in icon_names()

    @pytest.mark.parametrize("kind", list(recorders()), ids=lambda each: each.key)
    def test_says_there_is_no_such_subject(self, kind):
        from django.core.exceptions import ObjectDoesNotExist

        with pytest.raises(ObjectDoesNotExist):
            kind.about(10**9)


class TestUndo:
    def test_the_next_task_that_the_plan_opened_meanwhile_gives_way(self, walk):
        done = complete(
            walk, "husbandry.feeding", food=walk.plan.food, offered_kg=1.0, left_kg=0.0, refused=False
        )
        assert walk.task("husbandry.feeding").pk != done.completion.task_id
        undo(done.completion, walk.manager)
        assert walk.task("husbandry.feeding").pk == done.completion.task_id

    def test_the_next_task_may_have_a_past_of_its_own(self, walk):
        """Finished and taken back itself before the first one is: it is withdrawn, never deleted."""
        meal = {"food": walk.plan.food, "offered_kg": 1.0, "left_kg": 0.0, "refused": False}
        first = complete(walk, "husbandry.feeding", **meal)
        second = complete(walk, "husbandry.feeding", **meal)
        undo(second.completion, walk.manager)
        undo(first.completion, walk.manager)
        assert walk.task("husbandry.feeding").pk == first.completion.task_id
        assert Completion.objects.filter(undone_at__isnull=False).count() == 2

    def test_of_a_planned_check_leaves_the_check_open(self, walk):
        quarantine = walk.new.quarantines.get()
        check = QuarantineCheck.objects.create(
            quarantine=quarantine, kind="faecal_sample_1", due_on=timezone.localdate()
        )
        plan_site()
        done = complete(walk, "husbandry.quarantine_check", is_normal=True, finding="")
        check.refresh_from_db()
        assert check.answered_by_id == done.completion.record_id
        assert done.completion.summary == "First faecal sample: nothing unusual"
        undo(done.completion, walk.manager)
        check.refresh_from_db()
        assert check.answered_by is None

    def test_of_a_passed_leak_test_takes_the_state_back(self, walk):
        unit = make.FilterUnitFactory(state="building", area=walk.clean)
        plan_site()
        done = complete(walk, "filtration.leak_test", where={"subject_id": unit.pk}, passed=True)
        assert FilterUnit.objects.get(pk=unit.pk).state == "leak_tested"
        undo(done.completion, walk.manager)
        assert FilterUnit.objects.get(pk=unit.pk).state == "building"

    def test_of_the_first_bucket_test_takes_the_first_flow_back(self, walk):
        FilterUnit.objects.filter(pk=walk.barrel.pk).update(commissioning_flow_m3_h=None)
        done = complete(walk, "filtration.bucket_test", bucket_m3=0.01, bucket_seconds=18.0)
        assert FilterUnit.objects.get(pk=walk.barrel.pk).commissioning_flow_m3_h == pytest.approx(2.0)
        undo(done.completion, walk.manager)
        assert FilterUnit.objects.get(pk=walk.barrel.pk).commissioning_flow_m3_h is None

    def test_what_set_other_things_going_is_not_taken_back(self, walk):
        quarantine = walk.new.quarantines.get()
        type(quarantine).objects.filter(pk=quarantine.pk).update(ends_on=timezone.localdate())
        plan_site()
        done = complete(
            walk, "husbandry.quarantine_review", decision="release", ends_on=None, outcome="All tests clear"
        )
        with pytest.raises(services.TaskError, match="cannot be taken back"):
            undo(done.completion, walk.manager)
        assert Completion.objects.get().undone_at is None

    def test_of_a_reason_asks_again_at_once(self, walk):
        task = walk.task("filtration.pump_clean")
        with committed():
            done = services.task_set_aside(
                task_id=task.pk, by=walk.staff, outcome="not_needed", reason="New pump", uuid=uuid4()
            )
        assert walk.task("filtration.pump_clean").due_on > timezone.localdate()
        undo(done.completion, walk.staff)
        again = walk.task("filtration.pump_clean")
        assert (again.pk, again.due_on <= timezone.localdate()) == (task.pk, True)

    def test_ends_after_its_time(self, walk):
        done = complete(walk, "husbandry.all_seen", where={"subject_id": walk.pond.pk}, seen=1)
        late = timezone.now() - timedelta(seconds=services.UNDO_SECONDS + services.UNDO_GRACE_SECONDS + 1)
        Completion.objects.update(entered_at=late)
        with pytest.raises(services.TooLate):
            undo(done.completion, walk.manager)


class TestRecordNew:
    def test_twice_is_one_record(self, walk):
        kind, cleaned = recorder("water_test"), entry(**dict.fromkeys(WaterTest.READINGS)) | {"ph": 7.0}
        first, second = (
            services.record_new(kind=kind, subject_id=walk.pond.circuit_id, by=walk.staff, cleaned=cleaned)
            for _ in range(2)
        )
        assert first.record == second.record
        assert first.summary == second.summary == "Tested: pH 7.0"

    @pytest.mark.parametrize(("place", "ph"), [("pond", 6.1), ("tank", 7.0)])
    def test_the_same_uuid_with_something_else_is_refused_with_what_was_entered(self, walk, place, ph):
        kind, cleaned = recorder("water_test"), entry(**dict.fromkeys(WaterTest.READINGS)) | {"ph": 7.0}
        new = {"kind": kind, "by": walk.staff}
        services.record_new(subject_id=walk.pond.circuit_id, cleaned=cleaned, **new)
        other = {"subject_id": getattr(walk, place).circuit_id, "cleaned": cleaned | {"ph": ph}}
        with pytest.raises(services.AlreadyEntered, match=r"Tested: pH 7\.0") as refused:
            services.record_new(**new, **other)
        assert str(walk.pond.circuit) in str(refused.value)
        assert WaterTest.objects.count() == 1

    def test_the_same_uuid_for_other_work_is_refused(self, walk):
        new = {"subject_id": walk.barrel.pk, "by": walk.staff, "cleaned": entry()}
        services.record_new(kind=recorder("pump_clean"), **new)
        with pytest.raises(services.AlreadyEntered):
            services.record_new(kind=recorder("inspection"), **new)

    def test_a_repeated_step_is_one_and_another_step_is_refused(self, walk):
        new = {"kind": recorder("filter_state"), "subject_id": walk.barrel.pk, "by": walk.staff}
        cleaned = entry(new_state="resting")
        assert services.record_new(cleaned=cleaned, **new).is_new
        assert not services.record_new(cleaned=cleaned, **new).is_new
        with pytest.raises(services.AlreadyEntered):
            services.record_new(cleaned=cleaned | {"new_state": "cycling"}, **new)

    def test_a_repeat_of_what_was_corrected_since_is_still_the_same(self, walk):
        kind, cleaned = recorder("water_test"), entry(**dict.fromkeys(WaterTest.READINGS)) | {"ph": 7.0}
        new = {"kind": kind, "by": walk.staff, "subject_id": walk.pond.circuit_id, "cleaned": cleaned}
        first = services.record_new(**new)
        services.record_amend(
            record=first.record, by=walk.staff, reason="Misread", cleaned=cleaned | {"ph": 7.5}
        )
        again = services.record_new(**new)
        assert (again.is_new, again.summary) == (False, "Tested: pH 7.5")

    def test_a_repeated_check_answers_no_second_check(self, walk):
        quarantine = walk.new.quarantines.get()
        for kind in ("faecal_sample_1", "faecal_sample_2"):
            QuarantineCheck.objects.create(quarantine=quarantine, kind=kind, due_on=timezone.localdate())
        cleaned = entry(is_normal=True, finding="")
        for _ in range(3):
            services.record_new(
                kind=recorder("quarantine_check"), subject_id=walk.new.pk, by=walk.staff, cleaned=cleaned
            )
        assert QuarantineCheck.objects.filter(answered_by__isnull=False).count() == 1
        assert HealthRecord.objects.count() == 1

    def test_asks_for_the_role(self, walk):
        with pytest.raises(services.NotAllowed):
            services.record_new(
                kind=recorder("drain"), subject_id=walk.barrel.pk, by=walk.volunteer, cleaned=entry()
            )


class TestRepeatSentAtOnce:
    """Both look for an earlier one before either has made it: only a look behind the lock finds the other's."""

    @pytest.fixture
    def overtaken(self, monkeypatch):
        """Whatever is given is done by the other request just before this one has its lock."""

        def by(other):
            lock = services._locked_task
            calls = iter([other])
            monkeypatch.setattr(
                services, "_locked_task", lambda pk: (next(calls, lambda: None)(), lock(pk))[1]
            )

        return by

    def test_of_a_finished_task_is_the_first_one(self, walk, overtaken):
        task = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        same = {"task_id": task.pk, "by": walk.volunteer, "cleaned": entry(seen=1)}
        overtaken(lambda: services.task_complete(**same))
        assert not services.task_complete(**same).is_new
        assert HeadCount.objects.count() == 1

    def test_of_one_set_aside_is_the_first_one(self, walk, overtaken):
        task = walk.task("filtration.pump_clean")
        same = {"task_id": task.pk, "by": walk.volunteer, "outcome": "could_not", "reason": "Stuck"}
        same["uuid"] = uuid4()
        overtaken(lambda: services.task_set_aside(**same))
        assert not services.task_set_aside(**same).is_new


AMENDMENTS = [
    ("husbandry.feeding", {"offered_kg": 2.0}, "Fed 2 kg"),
    ("husbandry.all_seen", {"seen": 0, "note": "Hiding"}, "0 of 1 seen"),
    ("husbandry.quarantine_look", {"is_normal": False, "finding": "Limping"}, "Unusual: Limping"),
    ("filtration.bucket_test", {"bucket_seconds": 36.0}, "Bucket test: 1 000 L/h"),
    ("filtration.drain", {"drained_m3": 0.05}, "50 L let out"),
    ("enclosures.water_test", {"ph": 6.9}, "pH 6.9"),
    ("enclosures.water_change", {"volume_m3": 0.2}, "200 L"),
]


def first_entries(walk):
    return {
        "husbandry.feeding": {"food": walk.plan.food, "offered_kg": 1.0, "left_kg": 0.0, "refused": False},
        "husbandry.all_seen": {"seen": 1},
        "husbandry.quarantine_look": {"is_normal": True, "finding": ""},
        "filtration.bucket_test": {"bucket_m3": 0.01, "bucket_seconds": 18.0},
        "filtration.drain": {"sediment_depth_m": None, "drained_m3": 0.03},
        "enclosures.water_test": {**dict.fromkeys(WaterTest.READINGS), "ph": 7.2},
        "enclosures.water_change": {
            "kind": "change",
            "volume_m3": 0.1,
            "source": walk.pond.circuit.water_source,
            "conditioner": "",
            "conditioner_g": None,
        },
    }


def where(walk, rule):
    if rule == "husbandry.all_seen":
        return {"subject_id": walk.pond.pk}
    return {"scope": walk.pond.circuit_id} if rule.startswith("enclosures") else {}


class TestAmend:
    @pytest.mark.parametrize(("rule", "change", "words"), AMENDMENTS, ids=[each[0] for each in AMENDMENTS])
    def test_keeps_the_earlier_version_and_retells_what_was_done(self, walk, rule, change, words):
        values = first_entries(walk)[rule]
        done = complete(walk, rule, where=where(walk, rule), **values).completion
        record = _record_of(done)
        cleaned = {"at": record.at, "note": record.note, **values, **change}
        with committed():
            services.record_amend(record=record, by=walk.manager, reason="Read again", cleaned=cleaned)
        done.refresh_from_db()
        assert words in spoken(done.summary).replace("\u00a0", " ").replace("\u202f", " ")
        assert done.summary.endswith("(amended)")
        newest, oldest = record.history.order_by("-history_id")
        assert (newest.history_user, newest.history_change_reason) == (walk.manager, "Read again")
        assert words not in recorder_of(record).words(oldest.instance)

    @pytest.mark.parametrize(("rule", "change", "words"), AMENDMENTS, ids=[each[0] for each in AMENDMENTS])
    def test_its_form_sent_back_unchanged_changes_nothing(self, walk, rule, change, words):
        """In US units too: what is rounded for the screen is not taken for a correction."""
        done = complete(walk, rule, where=where(walk, rule), **first_entries(walk)[rule]).completion
        record = _record_of(done)
        kind = recorder_of(record)
        shown = kind.amend_form(record, system="us")
        sent = {name: shown[name].value() for name in shown.fields if shown[name].value() is not None}
        sent = {name: getattr(value, "pk", value) for name, value in sent.items() if value is not False}
        local = timezone.localtime(record.at)
        form = kind.amend_form(record, data={**sent, "at": f"{local:%Y-%m-%dT%H:%M}"}, system="us")
        assert form.is_valid(), form.errors
        same = services.record_amend(record=record, by=walk.manager, reason="x", cleaned=form.cleaned_data)
        assert same is record
        assert record.history.count() == 1

    def test_of_the_time_is_told_to_the_round(self, walk):
        done = complete(walk, "husbandry.all_seen", where={"subject_id": walk.pond.pk}, seen=1).completion
        earlier = done.at - timedelta(days=2)
        cleaned = {"seen": 1, "note": "", "at": earlier}
        services.record_amend(record=_record_of(done), by=walk.manager, reason="Late entry", cleaned=cleaned)
        done.refresh_from_db()
        assert done.at == _record_of(done).at == earlier

    def test_of_ones_own_record_or_by_staff_only(self, walk):
        done = complete(
            walk, "husbandry.all_seen", walk.volunteer, where={"subject_id": walk.pond.pk}, seen=1
        )
        record = HeadCount.objects.get(pk=done.completion.record_id)
        other = make.UserFactory()
        assert services.may_amend(record=record, by=walk.volunteer)
        assert services.may_amend(record=record, by=walk.staff)
        assert not services.may_amend(record=record, by=other)
        with pytest.raises(services.NotAllowed):
            services.record_amend(record=record, by=other, reason="x", cleaned={"seen": 0})

    def test_not_of_a_record_that_was_taken_back(self, walk):
        done = complete(walk, "husbandry.all_seen", where={"subject_id": walk.pond.pk}, seen=1)
        undo(done.completion, walk.manager)
        assert not services.may_amend(record=_record_of(done.completion), by=walk.manager)

    def test_a_correction_to_failed_takes_the_leak_tested_state_back(self, walk):
        unit = make.FilterUnitFactory(state="building", area=walk.clean)
        plan_site()
        done = complete(walk, "filtration.leak_test", where={"subject_id": unit.pk}, passed=True)
        record = Maintenance.objects.get(pk=done.completion.record_id)
        cleaned = {"at": record.at, "note": "It dripped overnight", "passed": False}
        services.record_amend(record=record, by=walk.manager, reason="Dripped", cleaned=cleaned)
        assert FilterUnit.objects.get(pk=unit.pk).state == "building"

    def test_a_larger_meal_weighs_more_on_the_water(self, walk):
        values = first_entries(walk)["husbandry.feeding"]
        done = complete(walk, "husbandry.feeding", **values)
        before = Feeding.objects.get()
        cleaned = {"at": before.at, "note": "", **values, "offered_kg": 2.0}
        services.record_amend(record=before, by=walk.staff, reason="Two trays", cleaned=cleaned)
        assert Feeding.objects.get().tan_g == pytest.approx(2 * before.tan_g)
        assert done.completion.record_id == before.pk


def _record_of(completion):
    from django.apps import apps

    return apps.get_model(completion.record_kind).everything.get(pk=completion.record_id)


@pytest.mark.parametrize(
    ("stored", "typed", "is_other"),
    [
        (1.36, 1.36000001, False),
        (1.36, 1.361, True),
        (0.0, 0.0, False),
        (0.0, 0.001, True),
        (None, 0.0, True),
        (None, None, False),
        (1.0, None, True),
        ("a", "b", True),
        (True, False, True),
    ],
)
def test_differs(stored, typed, is_other):
    assert differs(stored, typed) is is_other


def test_a_task_that_is_gone_says_so(walk):
    with pytest.raises(services.TaskError, match="not on the list any more"):
        services.task_complete(task_id=10**9, by=walk.manager, cleaned=entry())
    assert not Task.objects.filter(status="done").exists()
