"""The filters as tables of files. They are written out only: a filter is entered on its own page."""

from filtration.harms import resources as harms  # noqa: F401 (its table registers itself)
from filtration.models import FilterUnit, Maintenance, MediaLayer, Pump
from filtration.plans import resources as plans  # noqa: F401 (its tables register themselves)
from refuge.exchange.columns import Column, columns
from refuge.exchange.records import RECORD_COLUMNS, RECORD_ENDS, RecordTable
from refuge.exchange.registry import register
from refuge.exchange.resource import TableResource


@register
class FilterResource(TableResource):
    key, title, order = "filters", "Filters", 60
    words = "Upflow filters: what they are built of, and the state they are in."
    columns = columns(
        "code",
        "name",
        "circuit=circuit__code",
        "area=area__code",
        "position",
        "shape",
        Column("length_m", words="diameter, or length of a rectangle"),
        "width_m",
        "height_m",
        Column("void_height_m", words="height of the void under the media"),
        "inlet_bore_m",
        "return_bore_m",
        "state",
        "state_since",
        Column("seeded", words="started with media from a mature filter"),
        Column("commissioning_flow_m3_h", words="flow when new"),
        Column("water_m3", words="water that stands in it"),
        "note",
    )
    related = ("circuit", "area")

    class Meta:
        model = FilterUnit


@register
class LayerResource(TableResource):
    key, title, order = "media_layers", "Media layers", 61
    words = "Layers of stone, numbered from the void up."
    columns = columns(
        "filter=filter__code",
        "position",
        "medium",
        "depth_m",
        "is_bagged",
        Column("specific_surface_m2_m3", words="specific surface, if measured"),
        Column("void_fraction", words="share of the room between the stones, if measured"),
        Column("grain_size_m", words="grain size, if sieved"),
    )
    related = ("filter",)

    class Meta:
        model = MediaLayer


@register
class PumpResource(TableResource):
    key, title, order = "pumps", "Pumps", 62
    words = "The pump of each filter."
    columns = columns(
        "filter=filter__code",
        "name",
        Column("rated_flow_m3_h", words="greatest flow"),
        Column("shutoff_head_m", words="head at no flow"),
        "power_w",
        Column("is_protected", words="behind residual-current (ground-fault) protection"),
    )
    related = ("filter",)

    class Meta:
        model = Pump


@register
class MaintenanceResource(RecordTable):
    key, title, order = "maintenance", "Maintenance", 63
    words = "Work on filters, with what was seen."
    columns = [
        *RECORD_COLUMNS,
        *columns(
            "filter=filter__code",
            "kind",
            Column("litres_drained", words="let out with the sediment [L]"),
            Column("sediment_depth_m", words="depth of sediment before"),
            Column("predicted_sediment_l", words="sediment that was expected"),
            Column("predicted_factor", words="the filter’s own factor in that"),
            Column("observed_sediment_l", words="sediment that was seen"),
            Column("layer", "layer__position", "place of the layer that was rinsed"),
            Column("bucket_l", words="size of the bucket"),
            Column("bucket_seconds", words="time to fill it"),
            Column("flow_m3_h", words="flow that follows"),
            "passed",
            "new_state",
        ),
        *RECORD_ENDS,
    ]
    related = ("filter", "layer")

    class Meta:
        model = Maintenance
