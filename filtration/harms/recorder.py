"""How something that happened to a filter is entered: by anybody who saw it, volunteers too."""

from typing import Any

from filtration.harms.forms import HarmForm
from filtration.harms.models import FilterHarm
from filtration.harms.services import harm_amend, harm_record, harm_take_back
from filtration.harms.words import harm_words
from filtration.models import FilterUnit
from refuge.records import TAKEN_BACK
from refuge.rounds.recording import Lead, Recorder, Saved, register


@register
class HarmRecorder(Recorder):
    key, title, icon = "filter_harm", "Something happened to it", "notice"
    subject, subject_model, subject_field = "filter", "filtration.FilterUnit", "filter_id"
    record_model = "filtration.FilterHarm"
    form_class = HarmForm
    fields = ("kind", "hours", "runs_again", "volume_m3", "source", "substance", "noticed_by")
    cautions = ("unplug", "foul_gas")

    def initial(self, subject_id: int) -> dict[str, Any]:
        """Untreated water mostly comes from where the water is filled from."""
        unit = FilterUnit.objects.select_related("circuit").get(pk=subject_id)
        return {"source": unit.circuit.water_source_id}

    def values(self, record: FilterHarm) -> dict[str, Any]:
        return {**super().values(record), "runs_again": "yes" if record.runs_again else "no"}

    def words(self, record: FilterHarm) -> str:
        return harm_words(record)

    def save(self, subject_id: int, *, by: Any, cleaned: dict[str, Any]) -> Saved:
        record = harm_record(
            unit=FilterUnit.objects.get(pk=subject_id),
            by=by,
            at=cleaned["at"],
            uuid=cleaned["uuid"],
            note=cleaned["note"],
            **self.columns(cleaned),
        )
        return Saved(record, self.words(record))

    def lead(self, record_id: int) -> Lead | None:
        """It leads to what is left and what to do now."""
        record = FilterHarm.objects.filter(pk=record_id).first()
        return Lead("What is left, and what to do now", record.get_absolute_url()) if record else None

    def amend_service(self, **values: Any) -> Any:
        return harm_amend(**values)

    def take_back(self, record: FilterHarm, *, by: Any, reason: str = TAKEN_BACK) -> None:
        harm_take_back(record=record, by=by, reason=reason)

    def waters(self, record: FilterHarm) -> list[int]:
        return [record.filter.circuit_id]
