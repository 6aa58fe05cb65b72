"""How work on filters is entered."""

from typing import Any

from filtration.by_plan import planned
from filtration.forms import BucketForm, DrainForm, PassedForm, PlainForm, RinseForm, StateForm
from filtration.harms import recorder as harms  # noqa: F401 (it registers itself)
from filtration.models import FilterUnit, Maintenance
from filtration.services import (
    filter_set_state,
    maintenance_amend,
    maintenance_record,
    maintenance_take_back,
)
from refuge.records import TAKEN_BACK
from refuge.rounds.recording import Recorder, Saved, register
from refuge.rules.words import amount, litres


def drained_words(record: Maintenance) -> str:
    """What a drain showed: the depth of sediment, what was let out, or both."""
    depth, let_out = record.sediment_depth_m, record.litres_drained
    parts = [
        "" if depth is None else f"{amount(depth, 'length')} of sediment",
        "" if let_out is None else f"{litres(let_out)} let out",
    ]
    return ", ".join(part for part in parts if part)


def maintenance_words(record: Maintenance) -> str:
    """Work in one line."""
    words = record.get_kind_display()
    if record.kind == Maintenance.Kind.BUCKET_TEST and record.flow_m3_h:
        return f"{words}: {amount(record.flow_m3_h, 'flow')}"
    if record.kind == Maintenance.Kind.DRAIN:
        return f"{words}: {drained_words(record)}"
    if record.passed is not None:
        return f"{words}: {'passed' if record.passed else 'did not pass'}"
    if record.new_state:
        return f"Now {record.get_new_state_display().lower()}"
    return f"{words}: {record.layer}" if record.layer else words


class MaintenanceRecorder(Recorder):
    """One kind of work on a filter."""

    subject, subject_model, subject_field = "filter", "filtration.FilterUnit", "filter_id"
    record_model = "filtration.Maintenance"
    kind: str
    form_class = PlainForm

    def words(self, record: Maintenance) -> str:
        return maintenance_words(record)

    def owns(self, record: Maintenance) -> bool:
        return record.kind == self.kind

    def made(self, record: Maintenance, subject_id: int, cleaned: dict[str, Any]) -> bool:
        return self.owns(record) and super().made(record, subject_id, cleaned)

    def amend_service(self, **values: Any) -> Any:
        return maintenance_amend(**values)

    def take_back(self, record: Maintenance, *, by: Any, reason: str = TAKEN_BACK) -> None:
        maintenance_take_back(record=record, by=by, reason=reason)

    def waters(self, record: Maintenance) -> list[int]:
        return [record.filter.circuit_id]

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        record = maintenance_record(
            unit=FilterUnit.objects.select_for_update().get(pk=subject_id),
            kind=self.kind,
            by=by,
            at=cleaned["at"],
            uuid=cleaned["uuid"],
            note=cleaned["note"],
            **self.columns(cleaned),
            **self.said(cleaned),
        )
        return Saved(record, self.words(record))

    def said(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        """What was said with the record and is kept elsewhere: further arguments of the service."""
        return {}


@register
class Drain(MaintenanceRecorder):
    key, title, kind, role = "drain", "Sediment drain", Maintenance.Kind.DRAIN, "staff"
    icon = "drain"
    form_class = DrainForm
    cautions = ("unplug", "lifting", "slips", "hands")

    def columns(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        drained = cleaned["drained_m3"]
        return {
            "sediment_depth_m": cleaned["sediment_depth_m"],
            "litres_drained": None if drained is None else drained * 1000,
        }

    def values(self, record: Maintenance) -> dict[str, Any]:
        drained = record.litres_drained
        return {
            "sediment_depth_m": record.sediment_depth_m,
            "drained_m3": None if drained is None else drained / 1000,
        }


@register
class Rinse(MaintenanceRecorder):
    key, title, kind, role = "rinse", "Media rinse", Maintenance.Kind.RINSE, "staff"
    icon = "rinse"
    form_class = RinseForm
    fields = ("layer",)
    cautions = ("unplug", "one_layer", "lifting", "slips", "hands")

    def form_options(self, subject_id: int) -> dict[str, Any]:
        return {"unit_id": subject_id}


@register
class PumpClean(MaintenanceRecorder):
    key, title, kind = "pump_clean", "Pump and strainer clean", Maintenance.Kind.PUMP_CLEAN
    icon = "pump"
    cautions = ("unplug", "hands")


@register
class BucketTest(MaintenanceRecorder):
    key, title, kind = "bucket_test", "Bucket test", Maintenance.Kind.BUCKET_TEST
    icon = "bucket"
    form_class = BucketForm
    cautions = ("lifting", "hands")

    def form_options(self, subject_id: int) -> dict[str, Any]:
        unit = FilterUnit.objects.get(pk=subject_id)
        plan = planned(unit) if unit.commissioning_flow_m3_h is None else None
        return {"planned_m3_h": plan.flow_m3_h if plan else None}

    def amend_options(self, record: Maintenance) -> dict[str, Any]:
        return {}

    def said(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        return {"is_new_flow": cleaned.get("is_new_flow", False)}

    def columns(self, cleaned: dict[str, Any]) -> dict[str, Any]:
        return {"bucket_l": cleaned["bucket_m3"] * 1000, "bucket_seconds": cleaned["bucket_seconds"]}

    def values(self, record: Maintenance) -> dict[str, Any]:
        return {"bucket_m3": (record.bucket_l or 0) / 1000, "bucket_seconds": record.bucket_seconds}


class PassOrFail(MaintenanceRecorder):
    form_class = PassedForm
    fields = ("passed",)
    role = "staff"

    def values(self, record: Maintenance) -> dict[str, Any]:
        return {"passed": "yes" if record.passed else "no"}


@register
class ProtectionTest(PassOrFail):
    key, title, kind = (
        "protection_test",
        "Residual-current (ground-fault) test",
        Maintenance.Kind.PROTECTION_TEST,
    )
    icon = "mains"
    cautions = ("electricity",)


@register
class LeakTest(PassOrFail):
    key, title, kind = "leak_test", "Leak test", Maintenance.Kind.LEAK_TEST
    icon = "leak"
    cautions = ("unplug", "lifting", "slips")


@register
class Inspection(MaintenanceRecorder):
    key, title, kind = "inspection", "Looked over", Maintenance.Kind.INSPECTION
    icon = "eye"
    cautions = ("electricity", "slips", "hands")


@register
class StateChange(MaintenanceRecorder):
    """A step from state to state: it is followed by another step, never rewritten."""

    key, title, kind, role = "filter_state", "Change of state", Maintenance.Kind.STATE, "staff"
    icon = "sprout"
    form_class = StateForm
    fields = ("new_state",)
    can_take_back = can_amend = False

    def form_options(self, subject_id: int) -> dict[str, Any]:
        unit = FilterUnit.objects.get(pk=subject_id)
        stands = unit.state in {FilterUnit.State.LEAK_TESTED, FilterUnit.State.RESTING}
        return {"now": unit.state, "asks_water": stands and not unit.is_water_counted}

    def initial(self, subject_id: int) -> dict[str, Any]:
        """One that was leak-tested is most likely started, with the water that its plan says."""
        unit = FilterUnit.objects.get(pk=subject_id)
        if unit.state != FilterUnit.State.LEAK_TESTED:
            return {"water_m3": unit.water_m3}
        plan = None if unit.water_m3 else planned(unit)
        water = plan.water_m3 if plan else unit.water_m3
        return {"new_state": FilterUnit.State.CYCLING, "water_m3": water}

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        record = filter_set_state(
            unit=FilterUnit.objects.get(pk=subject_id),
            state=cleaned["new_state"],
            by=by,
            at=cleaned["at"],
            uuid=cleaned["uuid"],
            note=cleaned["note"],
            water_m3=cleaned.get("water_m3"),
        )
        return Saved(record, self.words(record))
