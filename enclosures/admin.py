"""The waters, to look at."""

from django.contrib import admin

from enclosures.models import Area, Circuit, Enclosure, WaterChange, WaterSource, WaterTest
from refuge.only_to_look import OnlyToLook, RecordsToLook


@admin.register(Area)
class AreaAdmin(OnlyToLook):
    list_display = ("code", "name", "biosecurity_rank", "position")


@admin.register(WaterSource)
class WaterSourceAdmin(OnlyToLook):
    list_display = ("name", "disinfectant", "total_chlorine_mg_l", "nitrate_n_mg_l", "alkalinity_mg_l")


@admin.register(Circuit)
class CircuitAdmin(OnlyToLook):
    list_display = ("code", "name", "water_source", "usual_temperature_c", "is_quarantine")
    list_filter = ("is_quarantine",)
    list_select_related = ("water_source",)
    search_fields = ("code", "name")


@admin.register(Enclosure)
class EnclosureAdmin(OnlyToLook):
    list_display = ("code", "name", "area", "circuit", "purpose", "in_use")
    list_filter = ("purpose", "in_use", "is_outdoor")
    list_select_related = ("area", "circuit")
    search_fields = ("code", "name")


@admin.register(WaterTest)
class WaterTestAdmin(RecordsToLook):
    list_display = ("at", "circuit", "temperature_c", "ph", "tan_mg_l", "nitrite_n_mg_l", "by", "voided_at")
    list_select_related = ("circuit", "by")
    search_fields = ("circuit__code", "circuit__name")


@admin.register(WaterChange)
class WaterChangeAdmin(RecordsToLook):
    list_display = ("at", "circuit", "kind", "volume_m3", "source", "by", "voided_at")
    list_filter = ("kind",)
    list_select_related = ("circuit", "source", "by")
    search_fields = ("circuit__code", "circuit__name")
