"""The API of the filters: what they are built of, and the work done on them."""

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers

from filtration.hydraulics.bed import LEAST_VOID, MOST_VOID
from filtration.models import FilterUnit, Maintenance, MediaLayer, Pump
from refuge.api.fields import Number
from refuge.api.queries import Query, RecordQuery, id_field
from refuge.api.reading import ReadViewSet
from refuge.api.records import RECORD_FIELDS, RecordIn, RecordOut, RecordViewSet, record_schema
from refuge.rounds.recording import Recorder, recorder


class LayerOut(serializers.ModelSerializer):
    class Meta:
        model = MediaLayer
        fields = [
            "id",
            "position",
            "medium",
            "depth_m",
            "is_bagged",
            "surface_m2_m3",
            "void_fraction",
            "grain_size_m",
        ]

    surface_m2_m3 = serializers.FloatField(read_only=True, help_text="As measured, else the table's value.")
    void_fraction = serializers.FloatField(
        read_only=True,
        allow_null=True,
        min_value=LEAST_VOID,
        max_value=MOST_VOID,
        help_text="Share of the layer that is water, if measured; null takes the medium's own.",
    )


class PumpOut(serializers.ModelSerializer):
    class Meta:
        model = Pump
        fields = ["name", "rated_flow_m3_h", "shutoff_head_m", "power_w", "is_protected"]


class FilterQuery(Query):
    circuit = id_field("Filters of this water.")
    state = serializers.ChoiceField(choices=FilterUnit.State.choices, required=False)


class FilterOut(serializers.ModelSerializer):
    layers = LayerOut(many=True, read_only=True, help_text="From the void up.")
    pump = PumpOut(read_only=True, allow_null=True, default=None)
    void_volume_m3 = serializers.FloatField(read_only=True)

    class Meta:
        model = FilterUnit
        fields = [
            "id",
            "code",
            "name",
            "circuit",
            "area",
            "position",
            "shape",
            "length_m",
            "width_m",
            "height_m",
            "void_height_m",
            "void_volume_m3",
            "inlet_bore_m",
            "return_bore_m",
            "commissioning_flow_m3_h",
            "state",
            "state_since",
            "seeded",
            "note",
            "layers",
            "pump",
        ]


@extend_schema_view(list=extend_schema(parameters=[FilterQuery]))
class FilterViewSet(ReadViewSet):
    """Upflow filters with their layers and pumps."""

    queryset = FilterUnit.objects.select_related("pump").prefetch_related("layers")
    serializer_class = FilterOut
    query_class = FilterQuery


class MaintenanceQuery(RecordQuery):
    filter = id_field("Work on this filter.")
    circuit = id_field("Work on the filters of this water.")
    kind = serializers.ChoiceField(choices=Maintenance.Kind.choices, required=False)

    def narrow(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        circuit = self.validated_data.pop("circuit", None)
        return super().narrow(rows.filter(filter__circuit=circuit) if circuit else rows)


class MaintenanceOut(RecordOut):
    class Meta:
        model = Maintenance
        fields = [
            *RECORD_FIELDS,
            "filter",
            "kind",
            "litres_drained",
            "sediment_depth_m",
            "predicted_sediment_l",
            "predicted_factor",
            "observed_sediment_l",
            "layer",
            "bucket_l",
            "bucket_seconds",
            "flow_m3_h",
            "passed",
            "new_state",
        ]


class MaintenanceIn(RecordIn):
    """Give what belongs to the kind: a drain its depth or litres, a bucket test its bucket and seconds,
    a leak or protection test whether it passed, a change of state the new one. The form of the kind says
    what is missing or does not belong."""

    filter = serializers.PrimaryKeyRelatedField(queryset=FilterUnit.objects.all())
    kind = serializers.ChoiceField(choices=Maintenance.Kind.choices)
    litres_drained = Number(
        required=False, allow_null=True, help_text="Let out until it ran clear, water and sediment [L]."
    )
    sediment_depth_m = Number(required=False, allow_null=True, help_text="Before the drain [m].")
    layer = serializers.PrimaryKeyRelatedField(
        queryset=MediaLayer.objects.all(), required=False, allow_null=True, help_text="The layer rinsed."
    )
    bucket_l = Number(required=False, allow_null=True, help_text="Size of the bucket [L].")
    bucket_seconds = Number(required=False, allow_null=True, help_text="Time to fill it [s].")
    passed = serializers.BooleanField(required=False, allow_null=True)
    new_state = serializers.ChoiceField(choices=FilterUnit.State.choices, required=False)


class MaintenanceViewSet(RecordViewSet):
    """Work on filters, with what was seen."""

    queryset = Maintenance.everything.select_related("by")
    serializer_class = MaintenanceOut
    input_class = MaintenanceIn
    query_class = MaintenanceQuery
    subject_fields = ("filter", "kind")
    form_names = {"litres_drained": "drained_m3", "bucket_l": "bucket_m3"}
    form_factors = {"litres_drained": 0.001, "bucket_l": 0.001}

    def recorder_for(self, given: Mapping[str, Any]) -> tuple[Recorder, int]:
        kind = given["kind"]
        own = recorder("filter_state" if kind == Maintenance.Kind.STATE else kind)
        return own, given["filter"].pk


record_schema("Maintenance", MaintenanceViewSet)
