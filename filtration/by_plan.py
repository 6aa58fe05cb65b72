"""What the plan of a filter that was built by one says of it before anything is measured."""

from dataclasses import dataclass

from filtration.hydraulics.operating_point import operating_point
from filtration.models import FilterUnit
from filtration.plans.models import FilterBuild
from filtration.plans.reading import bed_layers, design_of
from refuge.errors import OutOfRange

# A first flow so near the plan is taken as the flow when new: friction in pipes and stones is known no better
# (common practice, no source).
LEAST_OF_PLAN, MOST_OF_PLAN = 0.8, 1.25


@dataclass(frozen=True)
class Planned:
    """Flow [m3/h] as new, and the water [m3] that stands in it up to the lip, between the stones and below them."""

    flow_m3_h: float
    water_m3: float

    def fits(self, flow_m3_h: float) -> bool:
        """Whether a first flow is one that the plan may well have meant."""
        return LEAST_OF_PLAN <= flow_m3_h / self.flow_m3_h <= MOST_OF_PLAN if self.flow_m3_h else True


def planned(unit: FilterUnit) -> Planned | None:
    """None for a filter that no plan was kept of, or whose plan the sums no longer take. 3 queries."""
    build = FilterBuild.objects.select_related("design").filter(filter=unit.pk).first()
    if build is None:
        return None
    try:
        design = design_of(build.design, bed_layers(build.design))
        level = min(design.overflow_height_m, design.container.height_m)
        return Planned(operating_point(design).flow_m3_h, design.water_below_m3(level))
    except OutOfRange:
        return None
