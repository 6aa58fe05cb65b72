"""The API of the animals' records: what they ate, weighed and how they were found."""

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from enclosures.models import Enclosure
from husbandry.models import Animal, Feeding, FeedingPlan, HeadCount, HealthRecord, Measurement
from refuge.api.queries import RecordQuery, id_field
from refuge.api.records import RECORD_FIELDS, RecordIn, RecordOut, RecordViewSet, record_schema
from refuge.rounds.recording import Recorder, recorder


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
