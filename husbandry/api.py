"""The API of the animals: who they are and where they were; what they ate, weighed and how they were found."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from django.db.models import Prefetch, Q, QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field, extend_schema_view
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from enclosures.models import Enclosure
from husbandry.models import (
    Animal,
    Feeding,
    FeedingPlan,
    Food,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
    Species,
)
from refuge.api.queries import Day, Query, RecordQuery, day_start, id_field
from refuge.api.reading import ReadViewSet
from refuge.api.records import RECORD_FIELDS, RecordIn, RecordOut, RecordViewSet, record_schema
from refuge.rounds.recording import Recorder, recorder


class SpeciesOut(serializers.ModelSerializer):
    class Meta:
        model = Species
        fields = [
            "id",
            "name",
            "scientific_name",
            "temperature_low_c",
            "temperature_high_c",
            "adult_mass_kg",
            "note",
        ]


class SpeciesViewSet(ReadViewSet):
    """Kinds of turtles."""

    queryset = Species.objects.all()
    serializer_class = SpeciesOut


class FoodOut(serializers.ModelSerializer):
    class Meta:
        model = Food
        fields = [
            "id",
            "name",
            "water_fraction",
            "protein_fraction",
            "fat_fraction",
            "phosphorus_fraction",
            "source",
            "in_use",
        ]


class FoodViewSet(ReadViewSet):
    """Foods. Shares are of wet mass."""

    queryset = Food.objects.all()
    serializer_class = FoodOut


class FeedingPlanQuery(Query):
    animal = id_field("Plans of this animal.")
    enclosure = id_field("Plans of this enclosure's group.")
    on = Day(required=False, help_text="Plans in force on this day.")

    def narrow(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        wanted = dict(self.validated_data)
        on = wanted.pop("on", None)
        if on:
            rows = rows.filter(Q(ends_on__isnull=True) | Q(ends_on__gte=on), starts_on__lte=on)
        return rows.filter(**wanted)


class FeedingPlanOut(serializers.ModelSerializer):
    weekdays = serializers.SerializerMethodField(help_text="1 is Monday, 7 is Sunday.")

    class Meta:
        model = FeedingPlan
        fields = [
            "id",
            "animal",
            "enclosure",
            "food",
            "ration_kg",
            "every_days",
            "weekdays",
            "starts_on",
            "ends_on",
            "fasting_until",
            "note",
        ]

    def get_weekdays(self, plan: FeedingPlan) -> list[int]:
        bits = plan.weekdays or 0
        return [day + 1 for day in range(7) if bits >> day & 1]


@extend_schema_view(list=extend_schema(parameters=[FeedingPlanQuery]))
class FeedingPlanViewSet(ReadViewSet):
    """What is to be fed, to whom, and when."""

    queryset = FeedingPlan.objects.all()
    serializer_class = FeedingPlanOut
    query_class = FeedingPlanQuery


class PlacementOut(serializers.ModelSerializer):
    enclosure_code = serializers.CharField(source="enclosure.code", read_only=True)
    circuit_code = serializers.CharField(source="circuit.code", read_only=True)

    class Meta:
        model = Placement
        fields = [
            "id",
            "animal",
            "enclosure",
            "enclosure_code",
            "circuit",
            "circuit_code",
            "starts_at",
            "ends_at",
            "reason",
        ]


class PlacementQuery(Query):
    animal = id_field("Places of this animal.")
    enclosure = id_field("Who was in this enclosure.")
    circuit = id_field("Who was in this water.")
    on = Day(required=False, help_text="Places held at any time of this day.")

    def narrow(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        wanted = dict(self.validated_data)
        on = wanted.pop("on", None)
        return (_held_on(rows, on) if on else rows).filter(**wanted)


def _held_on(rows: QuerySet[Any], day: date) -> QuerySet[Any]:
    """Placements that cover any instant of a local day."""
    begin, end = day_start(day), day_start(day + timedelta(days=1))
    return rows.filter(Q(ends_at__isnull=True) | Q(ends_at__gt=begin), starts_at__lt=end)


@extend_schema_view(list=extend_schema(parameters=[PlacementQuery]))
class PlacementViewSet(ReadViewSet):
    """Where animals were, and in whose water; an open end is where they are now. Newest first."""

    queryset = Placement.objects.select_related("enclosure", "circuit").order_by("-starts_at", "-pk")
    serializer_class = PlacementOut
    query_class = PlacementQuery


class AnimalQuery(Query):
    status = serializers.ChoiceField(choices=Animal.Status.choices, required=False)
    species = id_field("Animals of this kind.")
    enclosure = id_field("Animals that are in this enclosure now.")
    circuit = id_field("Animals that are in this water now.")
    code = serializers.CharField(required=False, max_length=16)

    def narrow(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        wanted = dict(self.validated_data)
        place = {
            f"placements__{name}": wanted.pop(name) for name in ("enclosure", "circuit") if name in wanted
        }
        if place:
            rows = rows.filter(placements__ends_at__isnull=True, **place)
        return rows.filter(**wanted)


class AnimalOut(serializers.ModelSerializer):
    species_name = serializers.CharField(source="species.name", read_only=True)
    place = serializers.SerializerMethodField(help_text="Where it is now; null when it is nowhere here.")

    class Meta:
        model = Animal
        fields = [
            "id",
            "code",
            "name",
            "species",
            "species_name",
            "sex",
            "marks",
            "transponder",
            "hatched_on",
            "origin",
            "condition",
            "arrived_on",
            "status",
            "left_on",
            "brumating_since",
            "note",
            "place",
        ]

    @extend_schema_field(PlacementOut(allow_null=True))
    def get_place(self, animal: Any) -> Any:
        here = animal.open_placements
        return PlacementOut(here[0]).data if here else None


OPEN_PLACEMENTS = Prefetch(
    "placements",
    Placement.objects.filter(ends_at__isnull=True).select_related("enclosure", "circuit"),
    to_attr="open_placements",
)


@extend_schema_view(list=extend_schema(parameters=[AnimalQuery]))
class AnimalViewSet(ReadViewSet):
    """The animals, each with its present place."""

    queryset = Animal.objects.select_related("species").prefetch_related(OPEN_PLACEMENTS)
    serializer_class = AnimalOut
    query_class = AnimalQuery


class AnimalRecordQuery(RecordQuery):
    animal = id_field("Records of this animal.")


class FeedingQuery(RecordQuery):
    animal = id_field("Meals of this animal.")
    enclosure = id_field("Meals in this enclosure.")
    circuit = id_field("Meals in this water.")
    plan = id_field("Meals of this plan.")


class FeedingOut(RecordOut):
    eaten_kg = serializers.FloatField(read_only=True)
    food_name = serializers.CharField(source="food.name", read_only=True)

    class Meta:
        model = Feeding
        fields = [
            *RECORD_FIELDS,
            "animal",
            "enclosure",
            "circuit",
            "plan",
            "food",
            "food_name",
            "offered_kg",
            "left_kg",
            "refused",
            "eaten_kg",
            "tan_g",
            "solids_g",
        ]
        extra_kwargs = {
            "tan_g": {"help_text": "Total ammonia nitrogen that the meal will put into the water."},
            "solids_g": {"help_text": "Dry solids that the meal will put into the water."},
        }


FED = {"plan": "feeding", "animal": "animal_feeding", "enclosure": "enclosure_feeding"}


class FeedingIn(RecordIn):
    """A meal of exactly one of: a feeding plan, an animal, an enclosure's whole group."""

    recorder_key = "animal_feeding"
    plan = serializers.PrimaryKeyRelatedField(queryset=FeedingPlan.objects.all(), required=False)
    animal = serializers.PrimaryKeyRelatedField(queryset=Animal.objects.all(), required=False)
    enclosure = serializers.PrimaryKeyRelatedField(queryset=Enclosure.objects.all(), required=False)

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if sum(name in given for name in FED) != 1:
            raise ValidationError("Say who was fed: a plan, an animal or an enclosure, one of the three.")
        return given


class FeedingViewSet(RecordViewSet):
    """Meals, in kg. What was left is what was taken out again."""

    queryset = Feeding.everything.select_related("food", "by")
    serializer_class = FeedingOut
    input_class = FeedingIn
    query_class = FeedingQuery
    subject_fields = tuple(FED)

    def recorder_for(self, given: Mapping[str, Any]) -> tuple[Recorder, int]:
        name = next(name for name in FED if name in given)
        return recorder(FED[name]), given[name].pk


class AnimalRecordIn(RecordIn):
    animal = serializers.PrimaryKeyRelatedField(queryset=Animal.objects.all())


class AnimalRecordViewSet(RecordViewSet):
    query_class: type[RecordQuery] = AnimalRecordQuery
    subject_fields = ("animal",)

    def recorder_for(self, given: Mapping[str, Any]) -> tuple[Recorder, int]:
        return recorder(self.input_class.recorder_key), given["animal"].pk


class MeasurementOut(RecordOut):
    class Meta:
        model = Measurement
        fields = [*RECORD_FIELDS, "animal", "mass_kg", "carapace_m"]


class MeasurementIn(AnimalRecordIn):
    recorder_key = "measurement"


class MeasurementViewSet(AnimalRecordViewSet):
    """Weights [kg] and straight carapace lengths [m]."""

    queryset = Measurement.everything.select_related("by")
    serializer_class = MeasurementOut
    input_class = MeasurementIn


class HealthRecordQuery(AnimalRecordQuery):
    kind = serializers.ChoiceField(choices=HealthRecord.Kind.choices, required=False)


class HealthRecordOut(RecordOut):
    class Meta:
        model = HealthRecord
        fields = [*RECORD_FIELDS, "animal", "kind", "is_normal", "finding"]


class HealthRecordIn(AnimalRecordIn):
    """Something unusual must be described in `finding`. A daily look may be entered by anybody."""

    recorder_key = "health"
    kind = serializers.ChoiceField(choices=HealthRecord.Kind.choices)


class HealthRecordViewSet(AnimalRecordViewSet):
    """Daily looks, examinations, samples, treatments, and whatever was seen."""

    queryset = HealthRecord.everything.select_related("by")
    serializer_class = HealthRecordOut
    input_class = HealthRecordIn
    query_class = HealthRecordQuery
    choosing_fields = ("kind",)

    def recorder_for(self, given: Mapping[str, Any]) -> tuple[Recorder, int]:
        look = given["kind"] == HealthRecord.Kind.LOOK
        return recorder("quarantine_look" if look else "health"), given["animal"].pk


class HeadCountQuery(RecordQuery):
    enclosure = id_field("Counts in this enclosure.")


class HeadCountOut(RecordOut):
    class Meta:
        model = HeadCount
        fields = [*RECORD_FIELDS, "enclosure", "seen", "expected"]


class HeadCountIn(RecordIn):
    """When somebody is missing, the note says who, and what was done to find them."""

    recorder_key = "head_count"
    enclosure = serializers.PrimaryKeyRelatedField(queryset=Enclosure.objects.all())


class HeadCountViewSet(RecordViewSet):
    """How many animals of an enclosure were seen, of how many that live there."""

    queryset = HeadCount.everything.select_related("by")
    serializer_class = HeadCountOut
    input_class = HeadCountIn
    query_class = HeadCountQuery
    subject_fields = ("enclosure",)

    def recorder_for(self, given: Mapping[str, Any]) -> tuple[Recorder, int]:
        return recorder("head_count"), given["enclosure"].pk


record_schema("Feedings", FeedingViewSet)
record_schema("Measurements", MeasurementViewSet)
record_schema("Health records", HealthRecordViewSet)
record_schema("Head counts", HeadCountViewSet)
