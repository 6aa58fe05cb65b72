"""How work with the animals is entered."""

from typing import Any

from enclosures.models import Enclosure
from husbandry import services, stays
from husbandry.forms import (
    FeedingForm,
    FindingForm,
    HeadCountForm,
    HealthForm,
    MeasurementForm,
    QuarantineReviewForm,
)
from husbandry.models import Animal, FeedingPlan, HealthRecord, Placement, Quarantine, QuarantineCheck
from refuge.people.selectors import site_today
from refuge.rounds.recording import Recorder, Saved, register

COMMON = ("at", "uuid", "note")


def _common(cleaned: dict[str, Any]) -> dict[str, Any]:
    return {name: cleaned[name] for name in COMMON}


def feeding_words(feeding: Any) -> str:
    """A meal in one line."""
    if feeding.refused:
        return f"Refused {feeding.offered_kg:.2f} kg {feeding.food}"
    left = f", {feeding.left_kg:.2f} kg left" if feeding.left_kg else ""
    return f"Fed {feeding.offered_kg:.2f} kg {feeding.food}{left}"


@register
class FeedingByPlan(Recorder):
    """A meal of a feeding plan."""

    key, title, subject = "feeding", "Meal by plan", "plan"
    record_model = "husbandry.Feeding"
    form_class = FeedingForm
    cautions = ("bites", "hands")

    def initial(self, subject_id: int) -> dict[str, Any]:
        plan = FeedingPlan.objects.select_related("food").get(pk=subject_id)
        return {"food": plan.food, "offered_kg": plan.ration_kg}

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        plan = FeedingPlan.objects.select_related("enclosure", "animal").get(pk=subject_id)
        feeding = services.feeding_record(
            by=by,
            plan=plan,
            enclosure=plan.enclosure,
            animal=plan.animal,
            food=cleaned["food"],
            offered_kg=cleaned["offered_kg"],
            left_kg=cleaned["left_kg"],
            refused=cleaned["refused"],
            **_common(cleaned),
        )
        return Saved(feeding, feeding_words(feeding))

    def one_tap(self, subject_id: int, prefill: dict[str, Any]) -> dict[str, Any]:
        return {**self.initial(subject_id), "left_kg": 0.0, "refused": False}


class FreeFeeding(Recorder):
    """A meal outside any plan."""

    record_model = "husbandry.Feeding"
    form_class = FeedingForm
    cautions = ("bites", "hands")

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        feeding = services.feeding_record(
            by=by,
            food=cleaned["food"],
            offered_kg=cleaned["offered_kg"],
            left_kg=cleaned["left_kg"],
            refused=cleaned["refused"],
            **self.eater(subject_id),
            **_common(cleaned),
        )
        return Saved(feeding, feeding_words(feeding))

    def eater(self, subject_id: int) -> dict[str, Any]:
        raise NotImplementedError


@register
class EnclosureFeeding(FreeFeeding):
    key, title, subject = "enclosure_feeding", "Meal of the group", "enclosure"

    def eater(self, subject_id: int) -> dict[str, Any]:
        return {"enclosure": Enclosure.objects.get(pk=subject_id)}


@register
class AnimalFeeding(FreeFeeding):
    key, title, subject = "animal_feeding", "Meal", "animal"

    def eater(self, subject_id: int) -> dict[str, Any]:
        return {"animal": Animal.objects.get(pk=subject_id)}


@register
class HeadCounting(Recorder):
    key, title, subject = "head_count", "Head count", "enclosure"
    record_model = "husbandry.HeadCount"
    form_class = HeadCountForm
    cautions = ("hands",)

    def _expected(self, subject_id: int) -> int:
        return Placement.objects.filter(enclosure=subject_id, ends_at__isnull=True).count()

    def form_options(self, subject_id: int) -> dict[str, Any]:
        return {"expected": self._expected(subject_id)}

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        count = services.head_count_record(
            enclosure=Enclosure.objects.get(pk=subject_id), by=by, seen=cleaned["seen"], **_common(cleaned)
        )
        return Saved(count, f"{count.seen} of {count.expected} seen")

    def one_tap(self, subject_id: int, prefill: dict[str, Any]) -> dict[str, Any]:
        return {"seen": self._expected(subject_id)}


@register
class Weighing(Recorder):
    key, title, subject, role = "measurement", "Weight and length", "animal", "staff"
    record_model = "husbandry.Measurement"
    form_class = MeasurementForm
    cautions = ("lifting", "bites", "hands")

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        measurement = services.measurement_record(
            animal=Animal.objects.get(pk=subject_id),
            by=by,
            mass_kg=cleaned["mass_kg"],
            carapace_m=cleaned["carapace_m"],
            **_common(cleaned),
        )
        parts = [
            f"{measurement.mass_kg:.2f} kg" if measurement.mass_kg else "",
            f"{measurement.carapace_m * 100:.1f} cm" if measurement.carapace_m else "",
        ]
        return Saved(measurement, "Measured " + ", ".join(part for part in parts if part))


@register
class QuarantineLook(Recorder):
    key, title, subject = "quarantine_look", "Look", "animal"
    record_model = "husbandry.HealthRecord"
    form_class = FindingForm
    cautions = ("hands", "quarantine_gear")

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        return _health(subject_id, by, HealthRecord.Kind.LOOK, cleaned)

    def one_tap(self, subject_id: int, prefill: dict[str, Any]) -> dict[str, Any]:
        return {"is_normal": True, "finding": ""}


@register
class HealthNote(Recorder):
    key, title, subject, role = "health", "Examination, sample, treatment, observation", "animal", "staff"
    record_model = "husbandry.HealthRecord"
    form_class = HealthForm
    cautions = ("bites", "lifting", "hands")

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        return _health(subject_id, by, cleaned["kind"], cleaned)


@register
class QuarantineChecking(Recorder):
    """The earliest planned check that is not answered yet."""

    key, title, subject, role = "quarantine_check", "Quarantine check", "animal", "staff"
    record_model = "husbandry.HealthRecord"
    form_class = FindingForm
    cautions = ("bites", "lifting", "hands", "quarantine_gear")

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
        saved = _health(subject_id, by, kind, cleaned, check)
        return Saved(saved.record, f"{check.get_kind_display()}: {saved.summary.lower()}")


def _health(
    animal_id: int, by: Any, kind: str, cleaned: dict[str, Any], check: QuarantineCheck | None = None
) -> Saved:
    record = services.health_record(
        animal=Animal.objects.get(pk=animal_id),
        by=by,
        kind=kind,
        is_normal=cleaned["is_normal"],
        finding=cleaned["finding"],
        check=check,
        **_common(cleaned),
    )
    return Saved(record, "Nothing unusual" if record.is_normal else f"Unusual: {record.finding}")


@register
class QuarantineReview(Recorder):
    """Release or extend; kept as an examination in the animal's records."""

    key, title, subject, role = "quarantine_review", "Quarantine review", "animal", "manager"
    record_model = "husbandry.HealthRecord"
    form_class = QuarantineReviewForm
    cautions = ("vet",)

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        quarantine = Quarantine.objects.get(animal=subject_id, released_on__isnull=True)
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
