"""How work on the waters is entered."""

from typing import Any

from enclosures.forms import WaterChangeForm, WaterTestForm
from enclosures.models import Circuit, WaterChange, WaterTest
from enclosures.services import water_change_record, water_test_record
from refuge.rounds.recording import Recorder, Saved, register

SHORT = {
    "temperature_c": "{:.1f} °C",
    "ph": "pH {:.1f}",
    "tan_mg_l": "ammonia {:.2f}",
    "nitrite_n_mg_l": "nitrite {:.2f}",
    "nitrate_n_mg_l": "nitrate {:.1f}",
    "alkalinity_mg_l": "alkalinity {:.0f}",
    "oxygen_mg_l": "oxygen {:.1f}",
    "chlorine_mg_l": "chlorine {:.2f}",
}


def test_words(test: WaterTest) -> str:
    """A test in one line; mg/L, nitrogen as N."""
    parts = [
        form.format(getattr(test, name)) for name, form in SHORT.items() if getattr(test, name) is not None
    ]
    if test.clarity is not None:
        parts.append(test.get_clarity_display().lower())
    return "; ".join(parts) or "hardness only"


test_words.__test__ = False  # type: ignore[attr-defined]


@register
class WaterTestRecorder(Recorder):
    key, title, subject = "water_test", "Water test", "circuit"
    record_model = "enclosures.WaterTest"
    form_class = WaterTestForm
    cautions = ("hands",)

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        readings = {name: cleaned.get(name) for name in WaterTest.READINGS}
        test = water_test_record(
            circuit=Circuit.objects.get(pk=subject_id),
            by=by,
            at=cleaned["at"],
            uuid=cleaned["uuid"],
            note=cleaned["note"],
            **readings,
        )
        return Saved(test, f"Tested: {test_words(test)}")


@register
class WaterChangeRecorder(Recorder):
    key, title, subject = "water_change", "Water change or top-up", "circuit"
    record_model = "enclosures.WaterChange"
    form_class = WaterChangeForm
    cautions = ("unplug", "dechlorinate", "slips", "hands")

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
            **{
                name: cleaned[name]
                for name in (
                    "at",
                    "uuid",
                    "note",
                    "kind",
                    "volume_m3",
                    "source",
                    "conditioner",
                    "conditioner_g",
                )
            },
        )
        return Saved(change, f"{change.get_kind_display()}: {change.volume_m3 * 1000:.0f} L")
