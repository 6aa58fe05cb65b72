"""The API of the waters: places to read, water tests and water changes to read, enter and correct."""

from collections.abc import Iterable, Mapping
from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from enclosures.chemistry import ion_from_nitrogen
from enclosures.forms import AS_ION, AS_N, NITROGEN
from enclosures.models import Area, Circuit, Enclosure, WaterChange, WaterSource, WaterTest
from refuge.api.queries import Query, RecordQuery, id_field
from refuge.api.reading import ReadViewSet
from refuge.api.records import RECORD_FIELDS, RecordIn, RecordOut, RecordViewSet, record_schema
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from refuge.rounds.recording import Recorder, recorder
from refuge.rules.facts import CircuitFacts


class AreaOut(serializers.ModelSerializer):
    class Meta:
        model = Area
        fields = ["id", "code", "name", "biosecurity_rank", "position"]


class AreaViewSet(ReadViewSet):
    """Walkable parts of the site, in walking order."""

    queryset = Area.objects.all()
    serializer_class = AreaOut


class WaterSourceOut(serializers.ModelSerializer):
    class Meta:
        model = WaterSource
        fields = [
            "id",
            "name",
            "disinfectant",
            "total_chlorine_mg_l",
            "nitrate_n_mg_l",
            "alkalinity_mg_l",
            "ph",
            "note",
        ]


class WaterSourceViewSet(ReadViewSet):
    """Where new water comes from."""

    queryset = WaterSource.objects.all()
    serializer_class = WaterSourceOut


class CircuitTodayOut(serializers.Serializer):
    """What is known of a water today; null is not known. Loads in g of total ammonia nitrogen a day."""

    volume_m3 = serializers.FloatField()
    temperature_c = serializers.FloatField(help_text="Latest reading, or the usual temperature.")
    animals = serializers.IntegerField()
    mass_kg = serializers.FloatField(help_text="Weight of the animals, as far as they were weighed.")
    tan_g_day = serializers.FloatField(help_text="The greater of what was fed and what is planned.")
    recent_tan_g_day = serializers.FloatField()
    planned_tan_g_day = serializers.FloatField()
    solids_g_day = serializers.FloatField()
    filters = serializers.IntegerField()
    is_cycling = serializers.BooleanField()
    capacity_tan_g_day = serializers.FloatField(allow_null=True, help_text="Of the filters running today.")
    mature_capacity_tan_g_day = serializers.FloatField(allow_null=True, help_text="Once all are mature.")
    load_share = serializers.FloatField(allow_null=True, help_text="Share of today's capacity in use.")
    last_fed_on = serializers.DateField(allow_null=True)
    last_change_on = serializers.DateField(allow_null=True)
    last_panel_on = serializers.DateField(allow_null=True, help_text="Last test with nitrate and alkalinity.")


class CircuitOut(serializers.ModelSerializer):
    today = CircuitTodayOut(allow_null=True, read_only=True)

    class Meta:
        model = Circuit
        fields = [
            "id",
            "code",
            "name",
            "water_source",
            "extra_volume_m3",
            "usual_temperature_c",
            "coldest_temperature_c",
            "warmest_month",
            "is_quarantine",
            "note",
            "today",
        ]


class CircuitViewSet(ReadViewSet):
    """Shared bodies of water, each with what is known of it today."""

    queryset = Circuit.objects.all()
    serializer_class = CircuitOut

    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        page = self.paginate_queryset(self.get_queryset()) or []
        return self.get_paginated_response(self.get_serializer(with_facts(page), many=True).data)

    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        return Response(self.get_serializer(with_facts([self.get_object()])[0]).data)


def with_facts(circuits: Iterable[Circuit]) -> list[Circuit]:
    """The circuits with today's facts: a fixed number of queries for any number of circuits."""
    found = list(circuits)
    facts: dict[int, CircuitFacts] = load_facts(frozenset(each.pk for each in found), moment_for()).circuit
    for each in found:
        each.today = facts.get(each.pk)  # type: ignore[attr-defined]
    return found


class EnclosureQuery(Query):
    circuit = id_field("Enclosures of this water.")
    area = id_field("Enclosures of this area.")
    in_use = serializers.BooleanField(required=False, allow_null=True, default=None)


class EnclosureOut(serializers.ModelSerializer):
    water_surface_m2 = serializers.FloatField(read_only=True)
    water_volume_m3 = serializers.FloatField(read_only=True, help_text="As measured, else from the shape.")

    class Meta:
        model = Enclosure
        fields = [
            "id",
            "code",
            "name",
            "area",
            "circuit",
            "purpose",
            "position",
            "shape",
            "length_m",
            "width_m",
            "water_depth_m",
            "measured_volume_m3",
            "water_surface_m2",
            "water_volume_m3",
            "is_outdoor",
            "in_use",
            "note",
        ]


@extend_schema_view(list=extend_schema(parameters=[EnclosureQuery]))
class EnclosureViewSet(ReadViewSet):
    """Tanks, tubs and ponds, in walking order."""

    queryset = Enclosure.objects.all()
    serializer_class = EnclosureOut
    query_class = EnclosureQuery


class CircuitRecordQuery(RecordQuery):
    circuit = id_field("Records of this water.")


class CircuitRecordViewSet(RecordViewSet):
    query_class = CircuitRecordQuery
    subject_fields = ("circuit",)

    def recorder_for(self, given: Mapping[str, Any]) -> tuple[Recorder, int]:
        return recorder(self.input_class.recorder_key), given["circuit"].pk


class CircuitRecordIn(RecordIn):
    circuit = serializers.PrimaryKeyRelatedField(queryset=Circuit.objects.all())


class WaterTestOut(RecordOut):
    circuit_code = serializers.CharField(source="circuit.code", read_only=True)

    class Meta:
        model = WaterTest
        fields = [*RECORD_FIELDS, "circuit", "circuit_code", *WaterTest.READINGS]


class WaterTestIn(CircuitRecordIn):
    """At least one reading. Nitrogen counts as N, as the columns say, unless `basis` is "ion"."""

    recorder_key = "water_test"
    basis = serializers.ChoiceField(
        choices=[(AS_N, "mg/L as nitrogen"), (AS_ION, "mg/L as NH4, NO2, NO3")],
        required=False,
        help_text="How tan_mg_l, nitrite_n_mg_l and nitrate_n_mg_l are meant in this request. "
        "Kept and shown as nitrogen. As nitrogen, if left out.",
    )


class WaterTestViewSet(CircuitRecordViewSet):
    """Water tests. mg/L; nitrogen as N; alkalinity and hardness as CaCO3; temperature in °C."""

    queryset = WaterTest.everything.select_related("circuit", "by")
    serializer_class = WaterTestOut
    input_class = WaterTestIn

    def with_stored(self, record: WaterTest, given: dict[str, Any]) -> dict[str, Any]:
        """What is stored is nitrogen; beside values given as ions it must be read as ions too."""
        if given.get("basis") != AS_ION:
            return given
        stored = {
            name: ion_from_nitrogen(species, getattr(record, name))
            for name, (_, species) in NITROGEN.items()
            if getattr(record, name) is not None
        }
        return {**stored, **given}


class WaterChangeOut(RecordOut):
    circuit_code = serializers.CharField(source="circuit.code", read_only=True)

    class Meta:
        model = WaterChange
        fields = [
            *RECORD_FIELDS,
            "circuit",
            "circuit_code",
            "kind",
            "volume_m3",
            "source",
            "conditioner",
            "conditioner_g",
        ]


class WaterChangeIn(CircuitRecordIn):
    """Water from a treated source needs the name of the conditioner that was used."""

    recorder_key = "water_change"


class WaterChangeViewSet(CircuitRecordViewSet):
    """Water changed or topped up."""

    queryset = WaterChange.everything.select_related("circuit", "by")
    serializer_class = WaterChangeOut
    input_class = WaterChangeIn


record_schema("Water tests", WaterTestViewSet)
record_schema("Water changes", WaterChangeViewSet)
