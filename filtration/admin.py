"""The filters, to look at."""

from django.contrib import admin

from filtration.forecasting.models import ForecastStart, ForecastWanted, WaterForecast
from filtration.harms.models import FilterHarm
from filtration.models import FilterUnit, Maintenance, MediaLayer, Pump
from filtration.plans.models import DesignLayer, FilterBuild, FilterDesign
from refuge.only_to_look import OnlyToLook, RecordsToLook, Rows


class LayerRows(Rows):
    model = MediaLayer


class PumpRows(Rows):
    model = Pump


@admin.register(FilterUnit)
class FilterUnitAdmin(OnlyToLook):
    list_display = ("code", "name", "circuit", "area", "state", "state_since", "commissioning_flow_m3_h")
    list_filter = ("state",)
    list_select_related = ("circuit", "area")
    search_fields = ("code", "name")
    inlines = (LayerRows, PumpRows)


@admin.register(Maintenance)
class MaintenanceAdmin(RecordsToLook):
    list_display = ("at", "filter", "kind", "flow_m3_h", "observed_sediment_l", "passed", "by", "voided_at")
    list_filter = ("kind",)
    list_select_related = ("filter", "by")
    search_fields = ("filter__code", "filter__name")


@admin.register(FilterHarm)
class FilterHarmAdmin(RecordsToLook):
    list_display = (
        "at",
        "filter",
        "kind",
        "hours",
        "volume_m3",
        "substance",
        "noticed_by",
        "by",
        "voided_at",
    )
    list_filter = ("kind",)
    list_select_related = ("filter", "by")
    search_fields = ("filter__code", "filter__name")


class DesignLayerRows(Rows):
    model = DesignLayer


class BuildRows(Rows):
    model = FilterBuild


@admin.register(FilterDesign)
class FilterDesignAdmin(OnlyToLook):
    list_display = ("name", "circuit", "made_by", "changed_at")
    list_select_related = ("circuit", "made_by")
    search_fields = ("name",)
    inlines = (DesignLayerRows, BuildRows)


@admin.register(WaterForecast)
class WaterForecastAdmin(OnlyToLook):
    list_display = (
        "circuit",
        "day",
        "made_at",
        "sure_until",
        "doubt",
        "quantity",
        "chance",
        "lacks",
        "failure",
    )
    list_filter = ("doubt",)
    list_select_related = ("circuit",)
    exclude = ("bands", "helped_bands")  # packed numbers: the water's page draws them


@admin.register(ForecastStart)
class ForecastStartAdmin(OnlyToLook):
    list_display = ("circuit", "taken", "draws")
    list_select_related = ("circuit",)
    exclude = ("members",)  # packed numbers


@admin.register(ForecastWanted)
class ForecastWantedAdmin(OnlyToLook):
    list_display = ("circuit", "since")
    list_select_related = ("circuit",)
