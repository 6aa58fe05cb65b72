"""The API of the animals: who they are, where they were, and what they are to be fed. Only read."""

from datetime import date, timedelta
from typing import Any

from django.db.models import Prefetch, Q, QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field, extend_schema_view
from rest_framework import serializers

from husbandry.models import Animal, FeedingPlan, Food, Placement, Species
from refuge.api.queries import Day, Query, day_start, id_field
from refuge.api.reading import ReadViewSet


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
