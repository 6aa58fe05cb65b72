"""Filters that are planned: every size a builder needs, and which filter was built by which plan."""

import uuid
from collections.abc import Collection

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from enclosures.models import Circuit
from filtration.hydraulics.bed import LARGEST_GRAIN_M, LEAST_VOID, MOST_VOID, SMALLEST_GRAIN_M
from filtration.hydraulics.design import CHECK_VALVE, NO_GUARD, SIPHON_BREAK
from filtration.hydraulics.overflow import MOUTHS, STANDPIPE
from filtration.hydraulics.piping import MATERIALS
from filtration.nitrification import MEDIA
from refuge.bounds import between, known, not_negative, positive

MATERIAL_CHOICES = [(each.key, each.name) for each in MATERIALS]
MOUTH_CHOICES = [
    *((key, mouth.name) for key, mouth in MOUTHS.items()),
    (STANDPIPE, "Pipe that stands upright"),
]
GUARD_CHOICES = [
    (NO_GUARD, "Nothing"),
    (CHECK_VALVE, "Check valve"),
    (SIPHON_BREAK, "Siphon break: a small hole that lets in air"),
]
VALVE_CHOICES = [("none", "No valve"), ("ball", "Ball valve"), ("gate", "Gate valve")]
SHAPE_CHOICES = [("round", "Round"), ("rectangle", "Rectangle")]
# Column names of the fittings of both pipes: inlet_elbow_90, return_elbow_90, and so on.
FITTING_KEYS = ("elbow_90", "sweep_90", "elbow_45", "tee_run", "tee_branch")

POSITIVE = (
    "newcomer_kg",
    "length_m",
    "width_m",
    "height_m",
    "void_height_m",
    "pump_shutoff_head_m",
    "pump_max_flow_m3_h",
    "pump_power_w",
    "inlet_bore_m",
    "return_bore_m",
    "overflow_height_m",
    "tank_volume_m3",
    "tank_surface_m2",
    "tank_open_surface_m2",
)
NOT_NEGATIVE = (
    "tan_g_day",
    "others_tan_g_day",
    "others_flow_m3_h",
    "price_per_kwh",
    "inlet_length_m",
    "inlet_mouth_height_m",
    "guard_height_m",
    "return_length_m",
    "return_fall_m",
    "tank_over_intake_m",
    "tank_freeboard_m",
)
WITHIN: tuple[tuple[str, float, float], ...] = (
    ("side_by_side", 1, 6),
    ("return_count", 1, 20),
    ("grate_open_share", 0.01, 1),
    ("inlet_valve_open_share", 0.25, 1),
    ("inlet_crest_above_water_m", -10, 10),
    ("floor_above_water_m", -10, 10),
    ("temperature_c", 0, 40),
)


def _count(name: str) -> models.PositiveSmallIntegerField:
    return models.PositiveSmallIntegerField(name, default=0)


class FilterDesign(models.Model):
    """A filter on paper. Heights are from the floor inside the container unless they say water.

    `uuid` is made where it was typed, so the same plan sent twice is one. What the sums make of it is computed
    when it is shown (filtration.plans.reading).
    """

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField("name of the plan", max_length=80)
    circuit = models.ForeignKey(
        Circuit, models.SET_NULL, null=True, blank=True, related_name="designs", verbose_name="for the water"
    )
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_at = models.DateTimeField(default=timezone.now, editable=False)
    note = models.TextField(blank=True)

    tan_g_day = models.FloatField("load now", null=True, blank=True)
    newcomer_kg = models.FloatField("animals that will join", null=True, blank=True)
    others_tan_g_day = models.FloatField("what the water's other filters carry", null=True, blank=True)
    others_flow_m3_h = models.FloatField("flow of the water's other filters", null=True, blank=True)
    is_alone = models.BooleanField("for the whole load, without the others", default=False)
    side_by_side = models.PositiveSmallIntegerField("how many of it side by side", default=1)
    price_per_kwh = models.FloatField("price of a kilowatt hour", null=True, blank=True)

    container_name = models.CharField("container", max_length=80)
    shape = models.CharField(max_length=10, choices=SHAPE_CHOICES, default="round")
    length_m = models.FloatField("diameter or length")
    width_m = models.FloatField("width", null=True, blank=True)
    height_m = models.FloatField("height")
    void_height_m = models.FloatField("height of the void")
    grate_open_share = models.FloatField("open share of the grate", null=True, blank=True)

    pump_name = models.CharField("pump", max_length=80)
    pump_shutoff_head_m = models.FloatField("head at no flow")
    pump_max_flow_m3_h = models.FloatField("greatest flow")
    pump_points = models.JSONField("points of its curve: [flow m3/h, head m]", default=list, blank=True)
    pump_power_w = models.FloatField("power", null=True, blank=True)

    inlet_bore_m = models.FloatField("inlet bore")
    inlet_length_m = models.FloatField("length of the inlet")
    inlet_material = models.CharField("inlet pipe", max_length=16, choices=MATERIAL_CHOICES, default="pvc")
    inlet_elbow_90 = _count("elbows")
    inlet_sweep_90 = _count("long bends")
    inlet_elbow_45 = _count("half elbows")
    inlet_tee_run = _count("tees, straight through")
    inlet_tee_branch = _count("tees, round the corner")
    inlet_valve = models.CharField("valve", max_length=8, choices=VALVE_CHOICES, default="ball")
    inlet_valve_open_share = models.FloatField("how far the valve is open", default=1.0)
    inlet_crest_above_water_m = models.FloatField("highest point of the inlet over the water", default=0.0)
    inlet_mouth_height_m = models.FloatField("where the inlet lets the water in", default=0.0)
    guard = models.CharField("against running back", max_length=12, choices=GUARD_CHOICES, default=NO_GUARD)
    guard_height_m = models.FloatField("height of the siphon break", null=True, blank=True)

    return_bore_m = models.FloatField("return bore")
    return_count = models.PositiveSmallIntegerField("how many returns", default=1)
    return_length_m = models.FloatField("length of the return")
    return_material = models.CharField("return pipe", max_length=16, choices=MATERIAL_CHOICES, default="pvc")
    return_elbow_90 = _count("elbows")
    return_sweep_90 = _count("long bends")
    return_elbow_45 = _count("half elbows")
    return_tee_run = _count("tees, straight through")
    return_tee_branch = _count("tees, round the corner")
    return_mouth = models.CharField("overflow", max_length=12, choices=MOUTH_CHOICES, default="flush")
    return_fall_m = models.FloatField("fall to its end", null=True, blank=True)

    overflow_height_m = models.FloatField("lip of the overflow")
    floor_above_water_m = models.FloatField("floor of the container over the tank's water")

    tank_volume_m3 = models.FloatField("water of the tank")
    tank_surface_m2 = models.FloatField("surface that falls when water is lost")
    tank_open_surface_m2 = models.FloatField("all surfaces that evaporate", null=True, blank=True)
    tank_over_intake_m = models.FloatField("water over the pump's intake")
    tank_freeboard_m = models.FloatField("rim of the tank over its water")
    temperature_c = models.FloatField("water temperature")
    is_outdoor = models.BooleanField("outdoors, in the wind", default=False)

    class Meta:
        ordering = ["-changed_at", "-pk"]
        constraints = [
            *positive("design", *POSITIVE),
            *not_negative("design", *NOT_NEGATIVE),
            *(between("design", name, low, high) for name, low, high in WITHIN),
            known("design", "shape", [key for key, _ in SHAPE_CHOICES]),
            known("design", "guard", [key for key, _ in GUARD_CHOICES]),
            known("design", "inlet_valve", [key for key, _ in VALVE_CHOICES]),
            known("design", "return_mouth", [key for key, _ in MOUTH_CHOICES]),
            models.CheckConstraint(
                condition=Q(void_height_m__lt=models.F("height_m")), name="design_void_below_rim"
            ),
            models.CheckConstraint(
                condition=Q(shape="round") | Q(width_m__isnull=False), name="design_width_unless_round"
            ),
            models.CheckConstraint(
                condition=~Q(guard=SIPHON_BREAK) | Q(guard_height_m__isnull=False),
                name="design_siphon_break_has_height",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return f"/filters/plan/{self.pk}/"

    def validate_constraints(self, exclude: Collection[str] | None = None) -> None:
        """Left to the form, whose bounds are the same, and to the database, which keeps them in any case: Django
        would ask it about each constraint, in dozens of queries with every stroke that is typed."""


class DesignLayer(models.Model):
    """One layer of stone of a plan, numbered from the void up."""

    design = models.ForeignKey(FilterDesign, models.CASCADE, related_name="layers")
    position = models.PositiveSmallIntegerField()
    medium = models.CharField(max_length=24, choices=[(each.key, each.name) for each in MEDIA])
    depth_m = models.FloatField("depth")
    is_bagged = models.BooleanField("in bags", default=False)
    grain_size_m = models.FloatField("grain size, if sieved", null=True, blank=True)
    void_fraction = models.FloatField("void share, if measured", null=True, blank=True)

    class Meta:
        ordering = ["design", "position"]
        constraints = [
            models.UniqueConstraint(fields=["design", "position"], name="design_layer_one_per_place"),
            *positive("design_layer", "depth_m"),
            between("design_layer", "grain_size_m", SMALLEST_GRAIN_M, LARGEST_GRAIN_M),
            between("design_layer", "void_fraction", LEAST_VOID, MOST_VOID),
        ]

    def __str__(self) -> str:
        return f"{self.depth_m:g} m of {self.get_medium_display()}"


class FilterBuild(models.Model):
    """That a filter was built by a plan. A plan may be built several times; a filter has one plan at most.

    The plan keeps the pipework and the heights that the filter's own record does not hold, so it may neither go
    nor change once something stands by it.
    """

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    design = models.ForeignKey(FilterDesign, models.PROTECT, related_name="builds")
    filter = models.OneToOneField("filtration.FilterUnit", models.CASCADE, related_name="build")
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.filter} by {self.design}"
