"""The API of what happened to filters."""

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from enclosures.models import WaterSource
from filtration.harms.models import FilterHarm
from filtration.models import FilterUnit
from refuge.api.fields import Number
from refuge.api.queries import RecordQuery, id_field
from refuge.api.records import RECORD_FIELDS, RecordIn, RecordOut, RecordViewSet, record_schema
from refuge.rounds.recording import Recorder, recorder


class HarmQuery(RecordQuery):
    filter = id_field("What happened to this filter.")
    circuit = id_field("What happened to the filters of this water.")
    kind = serializers.ChoiceField(choices=FilterHarm.Kind.choices, required=False)

    def narrow(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        circuit = self.validated_data.pop("circuit", None)
        return super().narrow(rows.filter(filter__circuit=circuit) if circuit else rows)


class HarmOut(RecordOut):
    class Meta:
        model = FilterHarm
        fields = [
            *RECORD_FIELDS,
            "filter",
            "kind",
            "hours",
            "runs_again",
            "volume_m3",
            "source",
            "substance",
            "noticed_by",
        ]


class HarmIn(RecordIn):
    """Give what belongs to the kind: no flow and drying their hours, chlorine the water and its source, medicine its
    name. `at` is when it began; without it, it has only just ended."""

    filter = serializers.PrimaryKeyRelatedField(queryset=FilterUnit.objects.all())
    kind = serializers.ChoiceField(choices=FilterHarm.Kind.choices)
    hours = Number(required=False, allow_null=True, help_text="How long it lasted [h].")
    runs_again = serializers.BooleanField(
        required=False,
        allow_null=True,
        help_text="Of a stop or drying: false while it goes on. Yes, if left out.",
    )
    volume_m3 = Number(required=False, allow_null=True, help_text="Untreated water that got in [m3].")
    source = serializers.PrimaryKeyRelatedField(
        queryset=WaterSource.objects.all(), required=False, allow_null=True, help_text="Where it came from."
    )
    substance = serializers.CharField(
        required=False,
        allow_blank=True,
        max_length=120,
        help_text="The medicine, as the veterinarian named it.",
    )
    noticed_by = serializers.CharField(required=False, allow_blank=True, max_length=80)


class HarmViewSet(RecordViewSet):
    """What happened to filters and may have cost them bacteria."""

    queryset = FilterHarm.everything.select_related("by")
    serializer_class = HarmOut
    input_class = HarmIn
    query_class = HarmQuery
    subject_fields = ("filter",)

    def recorder_for(self, given: Mapping[str, Any]) -> tuple[Recorder, int]:
        return recorder("filter_harm"), given["filter"].pk


record_schema("Harm to filters", HarmViewSet)
