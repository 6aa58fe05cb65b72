"""How work on the waters is entered."""

from typing import Any

from django.urls import reverse

from enclosures.chemistry import ion_from_nitrogen
from enclosures.forms import AS_N, NITROGEN, FullerTestForm, WaterChangeForm, WaterTestForm
from enclosures.limits import beyond
from enclosures.models import Circuit, WaterChange, WaterTest
from enclosures.services import water_change_record, water_record_amend, water_test_record
from enclosures.tested import known_of
from refuge.rounds.planner import moment_for
from refuge.rounds.recording import Lead, Recorder, Saved, register
from refuge.rules.words import amount

SHORT = {
    "ph": ("pH", 1, ""),
    "tan_mg_l": ("ammonia", 2, " mg/L"),
    "nitrite_n_mg_l": ("nitrite", 2, " mg/L"),
    "nitrate_n_mg_l": ("nitrate", 1, " mg/L"),
    "alkalinity_mg_l": ("alkalinity", 0, " mg/L CaCO₃"),
    "oxygen_mg_l": ("oxygen", 1, " mg/L"),
    "chlorine_mg_l": ("chlorine", 2, " mg/L"),
}
IONS = {"ammonium": "NH₄", "nitrite": "NO₂", "nitrate": "NO₃"}


def test_words(test: WaterTest, read_as: str = AS_N) -> str:
    """A test in one line. read_as: how the kit told nitrogen; what it showed comes first then, beside what is kept."""
    parts = [] if test.temperature_c is None else [amount(test.temperature_c, "temperature")]
    parts += [
        _reading_words(name, value, read_as) for name in SHORT if (value := getattr(test, name)) is not None
    ]
    if test.clarity is not None:
        parts.append(test.get_clarity_display().lower())
    return "; ".join(parts) or "hardness only"


def _reading_words(name: str, value: float, read_as: str) -> str:
    label, digits, unit = SHORT[name]
    if name not in NITROGEN:
        return f"{label} {_decimals(value, digits)}{unit}"
    if read_as == AS_N:
        return f"{label} {_decimals(value, digits)}{unit} N"
    species = NITROGEN[name][1]
    shown = _decimals(ion_from_nitrogen(species, value), digits)
    return f"{label} {shown}{unit} {IONS[species]} ({_decimals(value, digits)} as N)"


def _decimals(value: float, digits: int) -> str:
    """Two decimals where they say something: 0.25, but 2.0."""
    text = f"{value:.{digits}f}"
    return text[:-1] if digits == 2 and text.endswith("0") else text


test_words.__test__ = False  # type: ignore[attr-defined]


def change_words(change: WaterChange) -> str:
    """Water replaced or topped up, in one line."""
    return f"{change.get_kind_display()}: {amount(change.volume_m3, 'volume')}"


class WaterRecorder(Recorder):
    """Something that was done to, or read of, a circuit's water."""

    subject, subject_model, subject_field = "circuit", "enclosures.Circuit", "circuit_id"

    def amend_service(self, **values: Any) -> Any:
        return water_record_amend(**values)

    def waters(self, record: WaterTest | WaterChange) -> list[int]:
        return [record.circuit_id]


@register
class WaterTestRecorder(WaterRecorder):
    key, title, icon = "water_test", "Water test", "vial"
    record_model = "enclosures.WaterTest"
    form_class = WaterTestForm
    fields = WaterTest.READINGS
    cautions = ("hands",)

    def words(self, record: WaterTest) -> str:
        return f"Tested: {test_words(record)}"

    def values(self, record: WaterTest) -> dict[str, Any]:
        return {**super().values(record), "basis": AS_N}  # as it is stored

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        test = water_test_record(
            circuit=Circuit.objects.get(pk=subject_id),
            by=by,
            at=cleaned["at"],
            uuid=cleaned["uuid"],
            note=cleaned["note"],
            **self.columns(cleaned),
        )
        return Saved(test, f"Tested: {test_words(test, cleaned.get('basis', AS_N))}")

    def lead(self, record_id: int) -> Lead | None:
        """A reading beyond its limit leads to what to do about it."""
        test = WaterTest.objects.select_related("circuit").filter(pk=record_id).first()
        if test is None:
            return None
        moment = moment_for()
        found = beyond(known_of(test, moment), moment.limits(test.circuit_id))
        return Lead(found[0], reverse("water_help", args=[test.circuit_id])) if found else None


@register
class FullerTestRecorder(WaterTestRecorder):
    """The same record, for the task that asks for nitrate and alkalinity. Corrected as any other water test."""

    key, title = "fuller_water_test", "Fuller water test"
    form_class = FullerTestForm
    on_pages = False

    def owns(self, record: WaterTest) -> bool:
        return False


@register
class WaterChangeRecorder(WaterRecorder):
    key, title, icon = "water_change", "Water change or top-up", "exchange"
    record_model = "enclosures.WaterChange"
    form_class = WaterChangeForm
    fields = ("kind", "volume_m3", "source", "conditioner", "conditioner_g")
    cautions = ("unplug", "dechlorinate", "slips", "hands")

    def words(self, record: WaterChange) -> str:
        return change_words(record)

    def initial(self, subject_id: int) -> dict[str, Any]:
        circuit = Circuit.objects.select_related("water_source").get(pk=subject_id)
        treated = circuit.water_source.disinfectant != "none"
        return {
            "source": circuit.water_source,
            "kind": WaterChange.Kind.CHANGE,
            "conditioner": "Sodium thiosulfate" if treated else "",
        }

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        change = water_change_record(
            circuit=Circuit.objects.get(pk=subject_id),
            by=by,
            at=cleaned["at"],
            uuid=cleaned["uuid"],
            note=cleaned["note"],
            **self.columns(cleaned),
        )
        return Saved(change, self.words(change))
