"""How work with the animals is entered."""

from datetime import datetime
from functools import partial
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from enclosures.models import Enclosure
from husbandry import first_plan, services, stays  # noqa: F401  the first registers its own
from husbandry.forms import (
    FeedingForm,
    FindingForm,
    HeadCountForm,
    HealthForm,
    MeasurementForm,
    QuarantineReviewForm,
)
from husbandry.held import Held, held_meal, water_of
from husbandry.models import (
    Animal,
    Feeding,
    FeedingPlan,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
    Quarantine,
    QuarantineCheck,
)
from refuge.forms import RecordForm
from refuge.people.selectors import site_today
from refuge.records import TAKEN_BACK
from refuge.rounds.recording import About, Recorder, Saved, differs, register
from refuge.rules.words import amount

COMMON = ("at", "uuid", "note")


def _common(cleaned: dict[str, Any]) -> dict[str, Any]:
    return {name: cleaned[name] for name in COMMON}


def feeding_words(feeding: Any) -> str:
    """A meal in one line."""
    offered = amount(feeding.offered_kg, "food")
    if feeding.refused:
        return f"Refused {offered} {feeding.food}"
    left = f", {amount(feeding.left_kg, 'food')} left" if feeding.left_kg else ""
    return f"Fed {offered} {feeding.food}{left}"


class MealRecorder(Recorder):
    """A meal."""

    icon = "fish"
    record_model = "husbandry.Feeding"
    form_class = FeedingForm
    fields = ("food", "offered_kg", "left_kg", "refused")
    cautions = ("bites", "hands")

    def words(self, record: Feeding) -> str:
        return feeding_words(record)

    def columns(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        """A refused meal was left as it was offered: so it is stored."""
        left = cleaned["offered_kg"] if cleaned["refused"] else cleaned["left_kg"]
        return {**super().columns(cleaned), "left_kg": left}

    def values(self, record: Feeding) -> dict[str, Any]:
        shown = super().values(record)
        return {**shown, "left_kg": None} if record.refused or not record.left_kg else shown

    def amend_options(self, record: Feeding) -> dict[str, Any]:
        """What may be given now says nothing of a meal that was given then."""
        return {}

    def amend_service(self, **values: Any) -> Any:
        return services.feeding_amend(**values)

    def waters(self, record: Feeding) -> list[int]:
        return [record.circuit_id]


@register
class FeedingByPlan(MealRecorder):
    """A meal of a feeding plan."""

    key, title = "feeding", "Meal by plan"
    subject, subject_model, subject_field = "plan", "husbandry.FeedingPlan", "plan_id"

    def owns(self, record: Feeding) -> bool:
        return record.plan_id is not None

    def about(self, subject_id: int) -> About:
        plan = FeedingPlan.objects.select_related("animal", "enclosure").get(pk=subject_id)
        eater: Any = plan.animal or plan.enclosure
        return About(str(eater), eater.get_absolute_url())

    def initial(self, subject_id: int) -> dict[str, Any]:
        plan = FeedingPlan.objects.select_related("food").get(pk=subject_id)
        return {"food": plan.food, "offered_kg": plan.ration_kg}

    def form(self, subject_id: int, *, prefill: dict[str, Any] | None = None, **kwargs: Any) -> RecordForm:
        """A task knows what may be given, and says why; without one it is asked for."""
        if prefill is None:
            held = held_meal(_water_of_plan(subject_id), plan_id=subject_id)
            prefill = {"offered_kg": held.at_most_kg or None} if held else {}
        else:
            held = Held(at_most_kg=prefill["at_most_kg"]) if "at_most_kg" in prefill else None
        return super().form(subject_id, prefill=prefill, held=held, **kwargs)

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        plan = FeedingPlan.objects.select_related("enclosure", "animal").get(pk=subject_id)
        feeding = services.feeding_record(
            by=by,
            plan=plan,
            enclosure=plan.enclosure,
            animal=plan.animal,
            **self.columns(cleaned),
            **_common(cleaned),
        )
        return Saved(feeding, self.words(feeding))

    def one_tap(self, subject_id: int, prefill: dict[str, Any]) -> dict[str, Any]:
        """As much as the task says: for now that may be less than the ration."""
        told = {"offered_kg": kg} if (kg := prefill.get("offered_kg")) is not None else {}
        return {**self.initial(subject_id), **told, "left_kg": 0.0, "refused": False}

    def tap_word(self, label: str, prefill: dict[str, Any]) -> str:
        return f"Fed {amount(prefill['offered_kg'], 'food')}" if prefill.get("at_most_kg") else label

    def tap_value(self, prefill: dict[str, Any]) -> str:
        kg = prefill.get("offered_kg")
        return super().tap_value(prefill) if kg is None else f"{kg:.9f} kg"

    def tapped(self, prefill: dict[str, Any], value: str) -> dict[str, Any]:
        if not value.endswith(" kg"):  # of a page from before it was sent along
            return prefill
        try:
            return {**prefill, "offered_kg": FeedingForm.base_fields["offered_kg"].clean(value)}
        except ValidationError:
            return prefill


def _water_of_plan(plan_id: int) -> int | None:
    plan = FeedingPlan.objects.select_related("enclosure").get(pk=plan_id)
    return plan.enclosure.circuit_id if plan.enclosure else water_of(plan.animal_id or 0)


class FreeFeeding(MealRecorder):
    """A meal that no task or plan asked to be entered; it counts for the plan that it meets all the same."""

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        eater, held = self.eater(subject_id), self.held(subject_id)
        met = services.plan_met(
            food=cleaned["food"],
            offered_kg=cleaned["offered_kg"],
            at_most_kg=held.at_most_kg if held else None,
            **eater,
        )
        feeding = services.feeding_record(
            by=by,
            plan=met,
            **self.columns(cleaned),
            **eater,
            **_common(cleaned),
        )
        return Saved(feeding, self.words(feeding))

    def form_options(self, subject_id: int) -> dict[str, Any]:
        return {"held": self.held(subject_id)}

    def held(self, subject_id: int) -> Held | None:
        """What holds a meal of this eater back for now."""
        raise NotImplementedError

    def eater(self, subject_id: int) -> dict[str, Any]:
        raise NotImplementedError


@register
class EnclosureFeeding(FreeFeeding):
    key, title = "enclosure_feeding", "Meal of the group"
    subject, subject_model, subject_field = "enclosure", "enclosures.Enclosure", "enclosure_id"

    def owns(self, record: Feeding) -> bool:
        return record.plan_id is None and record.animal_id is None

    def held(self, subject_id: int) -> Held | None:
        water = Enclosure.objects.values_list("circuit_id", flat=True).get(pk=subject_id)
        return held_meal(water, enclosure_id=subject_id)

    def eater(self, subject_id: int) -> dict[str, Any]:
        return {"enclosure": Enclosure.objects.get(pk=subject_id)}


@register
class AnimalFeeding(FreeFeeding):
    key, title = "animal_feeding", "Meal"
    subject, subject_model, subject_field = "animal", "husbandry.Animal", "animal_id"

    def owns(self, record: Feeding) -> bool:
        return record.plan_id is None and record.animal_id is not None

    def held(self, subject_id: int) -> Held | None:
        return held_meal(water_of(subject_id), animal_id=subject_id)

    def eater(self, subject_id: int) -> dict[str, Any]:
        return {"animal": Animal.objects.get(pk=subject_id)}


class AnimalRecorder(Recorder):
    """Something seen or measured of an animal."""

    subject, subject_model, subject_field = "animal", "husbandry.Animal", "animal_id"

    def amend_service(self, **values: Any) -> Any:
        return services.animal_record_amend(**values)

    def waters(self, record: Any) -> list[int]:
        """That of the enclosure, or the one that the animal lives in now."""
        if isinstance(record, HeadCount):
            return [record.enclosure.circuit_id]
        homes = Placement.objects.filter(animal=record.animal_id, ends_at__isnull=True)
        return list(homes.values_list("circuit_id", flat=True))


@register
class HeadCounting(AnimalRecorder):
    key, title, icon = "head_count", "Head count", "eye"
    subject, subject_model, subject_field = "enclosure", "enclosures.Enclosure", "enclosure_id"
    record_model = "husbandry.HeadCount"
    form_class = HeadCountForm
    fields = ("seen",)
    cautions = ("hands",)

    def words(self, record: HeadCount) -> str:
        return f"{record.seen} of {record.expected} seen"

    def amend_options(self, record: HeadCount) -> dict[str, Any]:
        def expected_at(at: datetime) -> int:
            is_other = differs(record.at, at)
            return services.living_in(record.enclosure_id, at) if is_other else record.expected

        return {"expected": record.expected, "expected_at": expected_at}

    def form_options(self, subject_id: int) -> dict[str, Any]:
        return {
            "expected": services.living_in(subject_id, timezone.now()),
            "expected_at": partial(services.living_in, subject_id),
        }

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        count = services.head_count_record(
            enclosure=Enclosure.objects.get(pk=subject_id), by=by, seen=cleaned["seen"], **_common(cleaned)
        )
        return Saved(count, self.words(count))

    def one_tap(self, subject_id: int, prefill: dict[str, Any]) -> dict[str, Any]:
        return {"seen": None}  # all that lived there at the time of the tap, which may be sent later

    def columns(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        return {} if cleaned["seen"] is None else super().columns(cleaned)


@register
class Weighing(AnimalRecorder):
    key, title, icon, role = "measurement", "Weight and length", "weigh", "staff"
    record_model = "husbandry.Measurement"
    form_class = MeasurementForm
    fields = ("mass_kg", "carapace_m")
    cautions = ("lifting", "bites", "hands")

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        measurement = services.measurement_record(
            animal=Animal.objects.get(pk=subject_id),
            by=by,
            **self.columns(cleaned),
            **_common(cleaned),
        )
        return Saved(measurement, self.words(measurement))

    def words(self, record: Measurement) -> str:
        parts = [
            amount(record.mass_kg, "mass") if record.mass_kg else "",
            amount(record.carapace_m, "length") if record.carapace_m else "",
        ]
        return "Measured " + ", ".join(part for part in parts if part)


class FindingRecorder(AnimalRecorder):
    """Whether all was normal, and what was not."""

    icon = "health"
    record_model = "husbandry.HealthRecord"
    form_class = FindingForm
    fields = ("is_normal", "finding")

    def words(self, record: HealthRecord) -> str:
        return "Nothing unusual" if record.is_normal else f"Unusual: {record.finding}"

    def values(self, record: HealthRecord) -> dict[str, Any]:
        return {**super().values(record), "is_normal": "yes" if record.is_normal else "no"}


@register
class QuarantineLook(FindingRecorder):
    key, title, icon = "quarantine_look", "Look", "eye"
    cautions = ("hands", "quarantine_gear")

    def owns(self, record: HealthRecord) -> bool:
        return record.kind == HealthRecord.Kind.LOOK

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        record = _health(subject_id, by, HealthRecord.Kind.LOOK, cleaned)
        return Saved(record, self.words(record))

    def one_tap(self, subject_id: int, prefill: dict[str, Any]) -> dict[str, Any]:
        return {"is_normal": True, "finding": ""}


@register
class HealthNote(FindingRecorder):
    key, title, role = "health", "Examination, sample, treatment, observation", "staff"
    form_class = HealthForm
    fields = ("kind", "is_normal", "finding")
    cautions = ("bites", "lifting", "hands")

    def owns(self, record: HealthRecord) -> bool:
        return record.kind != HealthRecord.Kind.LOOK and _answered(record) is None

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        record = _health(subject_id, by, cleaned["kind"], cleaned)
        return Saved(record, self.words(record))


@register
class QuarantineChecking(FindingRecorder):
    """The earliest planned check that is not answered yet."""

    key, title, role = "quarantine_check", "Quarantine check", "staff"
    cautions = ("bites", "lifting", "hands", "quarantine_gear")

    def owns(self, record: HealthRecord) -> bool:
        return _answered(record) is not None

    def words(self, record: HealthRecord) -> str:
        check = _answered(record)
        seen = super().words(record)
        return f"{check.get_kind_display()}: {seen[0].lower()}{seen[1:]}" if check else seen

    def take_back(self, record: HealthRecord, *, by: Any, reason: str = TAKEN_BACK) -> None:
        QuarantineCheck.objects.filter(answered_by=record).update(answered_by=None)
        super().take_back(record, by=by, reason=reason)

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        check = (
            QuarantineCheck.objects.filter(
                quarantine__animal=subject_id, quarantine__released_on__isnull=True, answered_by__isnull=True
            )
            .select_related("quarantine")
            .first()
        )
        if check is None:
            raise services.HusbandryError("No planned check is open for this animal any more.")
        kind = HealthRecord.Kind.FAECAL if check.kind.startswith("faecal") else HealthRecord.Kind.EXAM
        record = _health(subject_id, by, kind, cleaned, check)
        return Saved(record, self.words(record))


def _answered(record: HealthRecord) -> QuarantineCheck | None:
    """The planned check that a record answers, if it does."""
    return QuarantineCheck.objects.filter(answered_by=record).first()


def _health(
    animal_id: int, by: Any, kind: str, cleaned: dict[str, Any], check: QuarantineCheck | None = None
) -> HealthRecord:
    return services.health_record(
        animal=Animal.objects.get(pk=animal_id),
        by=by,
        kind=kind,
        is_normal=cleaned["is_normal"],
        finding=cleaned["finding"],
        check=check,
        **_common(cleaned),
    )


@register
class QuarantineReview(AnimalRecorder):
    """Release or extend; kept as an observation in the animal's records, which is amended as any other."""

    key, title, icon, role = "quarantine_review", "Quarantine review", "quarantine", "manager"
    record_model = "husbandry.HealthRecord"
    form_class = QuarantineReviewForm
    can_take_back = False
    cautions = ("vet",)

    def owns(self, record: HealthRecord) -> bool:
        return False

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        quarantine = Quarantine.objects.filter(animal=subject_id, released_on__isnull=True).first()
        if quarantine is None:
            raise services.HusbandryError("This animal is in quarantine no longer.")
        if cleaned["decision"] == "release":
            stays.quarantine_release(
                quarantine=quarantine, by=by, on=site_today(), outcome=cleaned["outcome"]
            )
            words = "Released from quarantine"
        else:
            stays.quarantine_extend(
                quarantine=quarantine, by=by, ends_on=cleaned["ends_on"], reason=cleaned["outcome"]
            )
            words = f"Quarantine goes on until {cleaned['ends_on']:%d %b %Y}"
        record = services.health_record(
            animal=quarantine.animal,
            by=by,
            kind=HealthRecord.Kind.OBSERVATION,
            finding=f"{words}: {cleaned['outcome']}",
            **_common(cleaned),
        )
        return Saved(record, words)
