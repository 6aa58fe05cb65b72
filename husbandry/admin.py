"""The animals, to look at."""

from django.contrib import admin

from husbandry.models import (
    Animal,
    Feeding,
    FeedingPlan,
    Food,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
    Quarantine,
    QuarantineCheck,
    QuarantineRestart,
    Species,
)
from refuge.only_to_look import OnlyToLook, RecordsToLook, Rows

OF_AN_ANIMAL = ("animal__code", "animal__name")


@admin.register(Species)
class SpeciesAdmin(OnlyToLook):
    list_display = ("name", "scientific_name", "adult_mass_kg", "temperature_low_c", "temperature_high_c")


@admin.register(Food)
class FoodAdmin(OnlyToLook):
    list_display = ("name", "water_fraction", "protein_fraction", "fat_fraction", "source", "in_use")


@admin.register(Animal)
class AnimalAdmin(OnlyToLook):
    list_display = ("code", "name", "species", "sex", "arrived_on", "status", "left_on", "brumating_since")
    list_filter = ("status", "sex")
    list_select_related = ("species",)
    search_fields = ("code", "name", "marks", "transponder")


@admin.register(Placement)
class PlacementAdmin(OnlyToLook):
    list_display = ("animal", "enclosure", "circuit", "starts_at", "ends_at", "by", "reason")
    list_select_related = ("animal", "enclosure", "circuit", "by")
    search_fields = OF_AN_ANIMAL


class CheckRows(Rows):
    model = QuarantineCheck
    fields = ("kind", "due_on", "answered_by")


class RestartRows(Rows):
    model = QuarantineRestart
    fk_name = "quarantine"
    fields = ("on", "because_of", "previous_clock_from", "previous_ends_on")


@admin.register(Quarantine)
class QuarantineAdmin(OnlyToLook):
    list_display = ("animal", "started_on", "clock_from", "days", "ends_on", "released_on", "released_by")
    list_select_related = ("animal", "released_by")
    search_fields = OF_AN_ANIMAL
    inlines = (CheckRows, RestartRows)


@admin.register(FeedingPlan)
class FeedingPlanAdmin(OnlyToLook):
    list_display = ("animal", "enclosure", "food", "ration_kg", "every_days", "starts_on", "ends_on")
    list_select_related = ("animal", "enclosure", "food")
    search_fields = (*OF_AN_ANIMAL, "enclosure__code", "enclosure__name")


@admin.register(Feeding)
class FeedingAdmin(RecordsToLook):
    list_display = (
        "at",
        "enclosure",
        "animal",
        "food",
        "offered_kg",
        "left_kg",
        "refused",
        "by",
        "voided_at",
    )
    list_select_related = ("enclosure", "animal", "food", "by")
    search_fields = (*OF_AN_ANIMAL, "enclosure__code")


@admin.register(Measurement)
class MeasurementAdmin(RecordsToLook):
    list_display = ("at", "animal", "mass_kg", "carapace_m", "by", "voided_at")
    list_select_related = ("animal", "by")
    search_fields = OF_AN_ANIMAL


@admin.register(HealthRecord)
class HealthRecordAdmin(RecordsToLook):
    list_display = ("at", "animal", "kind", "is_normal", "finding", "by", "voided_at")
    list_filter = ("kind", "is_normal")
    list_select_related = ("animal", "by")
    search_fields = OF_AN_ANIMAL


@admin.register(HeadCount)
class HeadCountAdmin(RecordsToLook):
    list_display = ("at", "enclosure", "seen", "expected", "by", "voided_at")
    list_select_related = ("enclosure", "by")
    search_fields = ("enclosure__code", "enclosure__name")
