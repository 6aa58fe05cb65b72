"""How work on filters is entered."""

from typing import Any

from filtration.forms import BucketForm, DrainForm, PassedForm, PlainForm, RinseForm, StateForm
from filtration.models import FilterUnit, Maintenance
from filtration.services import filter_set_state, maintenance_record
from refuge.rounds.recording import Recorder, Saved, register


def maintenance_words(record: Maintenance) -> str:
    """Work in one line."""
    words = record.get_kind_display()
    if record.kind == Maintenance.Kind.BUCKET_TEST and record.flow_m3_h:
        return f"{words}: {record.flow_m3_h * 1000:.0f} L/h"
    if record.kind == Maintenance.Kind.DRAIN:
        depth = (
            f"{record.sediment_depth_m * 100:.0f} cm of sediment"
            if record.sediment_depth_m is not None
            else ""
        )
        litres = f"{record.litres_drained:.0f} L let out" if record.litres_drained is not None else ""
        return f"{words}: " + ", ".join(part for part in (depth, litres) if part)
    if record.passed is not None:
        return f"{words}: {'passed' if record.passed else 'did not pass'}"
    if record.new_state:
        return f"Now {record.get_new_state_display().lower()}"
    return f"{words}: {record.layer}" if record.layer else words


class MaintenanceRecorder(Recorder):
    """One kind of work on a filter."""

    subject = "filter"
    record_model = "filtration.Maintenance"
    kind: str
    form_class = PlainForm

    def seen(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        """The columns that this kind of work fills."""
        return {}

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        record = maintenance_record(
            unit=FilterUnit.objects.select_for_update().get(pk=subject_id),
            kind=self.kind,
            by=by,
            at=cleaned["at"],
            uuid=cleaned["uuid"],
            note=cleaned["note"],
            **self.seen(cleaned),
        )
        return Saved(record, maintenance_words(record))


@register
class Drain(MaintenanceRecorder):
    key, title, kind, role = "drain", "Sediment drain", Maintenance.Kind.DRAIN, "staff"
    form_class = DrainForm
    cautions = ("unplug", "lifting", "slips", "hands")

    def seen(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        drained = cleaned["drained_m3"]
        return {
            "sediment_depth_m": cleaned["sediment_depth_m"],
            "litres_drained": None if drained is None else drained * 1000,
        }


@register
class Rinse(MaintenanceRecorder):
    key, title, kind, role = "rinse", "Media rinse", Maintenance.Kind.RINSE, "staff"
    form_class = RinseForm
    cautions = ("unplug", "one_layer", "lifting", "slips", "hands")

    def form_options(self, subject_id: int) -> dict[str, Any]:
        return {"unit_id": subject_id}

    def seen(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        return {"layer": cleaned["layer"]}


@register
class PumpClean(MaintenanceRecorder):
    key, title, kind = "pump_clean", "Pump and strainer clean", Maintenance.Kind.PUMP_CLEAN
    cautions = ("unplug", "hands")


@register
class BucketTest(MaintenanceRecorder):
    key, title, kind = "bucket_test", "Bucket test", Maintenance.Kind.BUCKET_TEST
    form_class = BucketForm
    cautions = ("lifting", "hands")

    def seen(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        return {"bucket_l": cleaned["bucket_m3"] * 1000, "bucket_seconds": cleaned["bucket_seconds"]}


class PassOrFail(MaintenanceRecorder):
    form_class = PassedForm
    role = "staff"

    def seen(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        return {"passed": cleaned["passed"]}


@register
class ProtectionTest(PassOrFail):
    key, title, kind = (
        "protection_test",
        "Residual-current (ground-fault) test",
        Maintenance.Kind.PROTECTION_TEST,
    )
    cautions = ("electricity",)


@register
class LeakTest(PassOrFail):
    key, title, kind = "leak_test", "Leak test", Maintenance.Kind.LEAK_TEST
    cautions = ("unplug", "lifting", "slips")


@register
class Inspection(MaintenanceRecorder):
    key, title, kind = "inspection", "Looked over", Maintenance.Kind.INSPECTION
    cautions = ("electricity", "slips", "hands")


@register
class StateChange(Recorder):
    key, title, subject, role = "filter_state", "Change of state", "filter", "staff"
    record_model = "filtration.Maintenance"
    form_class = StateForm

    def form_options(self, subject_id: int) -> dict[str, Any]:
        return {"now": FilterUnit.objects.get(pk=subject_id).state}

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        record = filter_set_state(
            unit=FilterUnit.objects.get(pk=subject_id),
            state=cleaned["new_state"],
            by=by,
            at=cleaned["at"],
            uuid=cleaned["uuid"],
            note=cleaned["note"],
        )
        return Saved(record, maintenance_words(record))
