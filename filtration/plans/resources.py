"""Planned filters as tables of files, written out only: a plan is made on its own page."""

from filtration.plans.models import DesignLayer, FilterBuild, FilterDesign
from refuge.exchange.columns import Column, columns
from refuge.exchange.registry import register
from refuge.exchange.resource import TableResource

OTHERWISE = {"id", "uuid", "name", "circuit", "made_by", "made_at", "changed_at", "note"}
SIZES = [
    Column(field.name, words=str(field.verbose_name))
    for field in FilterDesign._meta.concrete_fields
    if field.name not in OTHERWISE
]


@register
class FilterDesignResource(TableResource):
    key, title, order = "filter_plans", "Plans of filters", 64
    words = "Filters on paper: every size a builder needs. Heights are from the container's floor."
    columns = [
        *columns(
            "uuid", "name", "circuit=circuit__code", "made_by=made_by__name", "made_at", "changed_at", "note"
        ),
        *SIZES,
    ]
    related = ("circuit", "made_by")

    class Meta:
        model = FilterDesign


@register
class DesignLayerResource(TableResource):
    key, title, order = "filter_plan_layers", "Layers of planned filters", 65
    words = "The stones of each plan, numbered from the void up."
    columns = columns(
        Column("plan", "design__uuid", "uuid of the plan"),
        "position",
        "medium",
        "depth_m",
        Column("is_bagged", words="in bags"),
        Column("grain_size_m", words="grain size, if sieved"),
        Column("void_fraction", words="share of the layer that is water, if measured"),
    )
    related = ("design",)

    class Meta:
        model = DesignLayer


@register
class FilterBuildResource(TableResource):
    key, title, order = "filter_builds", "Filters built by plans", 66
    words = "Which filter was built by which plan."
    columns = columns(
        "uuid", Column("plan", "design__uuid", "uuid of the plan"), "filter=filter__code", "at", "by=by__name"
    )
    related = ("design", "filter", "by")

    class Meta:
        model = FilterBuild
