"""The filters that keep the waters alive: what they are built of, and what was done to them."""

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from enclosures.geometry import water_surface_m2
from enclosures.models import Area, Circuit
from filtration.forecasting.models import ForecastStart, ForecastWanted, WaterForecast  # noqa: F401 (and here)
from filtration.harms.models import FilterHarm  # noqa: F401 (and here)
from filtration.hydraulics.bed import LARGEST_GRAIN_M, LEAST_VOID, MOST_VOID, SMALLEST_GRAIN_M
from filtration.nitrification import MEDIA, medium
from filtration.plans.models import DesignLayer, FilterBuild, FilterDesign  # noqa: F401 (Django looks here)
from refuge.bounds import between, known, not_negative, positive
from refuge.records import Record, record_constraints

MEDIUM_CHOICES = [(each.key, each.name) for each in MEDIA]


class FilterUnit(models.Model):
    """One home-built upflow filter: an empty void below, media above, an overflow back to the water."""

    class Shape(models.TextChoices):
        ROUND = "round", "Round"
        RECTANGLE = "rectangle", "Rectangle"

    class State(models.TextChoices):
        BUILDING = "building", "Being built"
        LEAK_TESTED = "leak_tested", "Leak-tested"
        CYCLING = "cycling", "Cycling"
        MATURE = "mature", "Mature"
        DISTURBED = "disturbed", "Disturbed"
        RESTING = "resting", "Resting"

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=80)
    circuit = models.ForeignKey(Circuit, models.PROTECT, related_name="filters")
    area = models.ForeignKey(Area, models.PROTECT, related_name="filters")
    position = models.PositiveSmallIntegerField("place in the walk", default=0)
    shape = models.CharField(max_length=10, choices=Shape.choices, default=Shape.ROUND)
    length_m = models.FloatField("diameter or length")
    width_m = models.FloatField("width", null=True, blank=True)
    height_m = models.FloatField("height of the container")
    void_height_m = models.FloatField("height of the void under the media")
    inlet_bore_m = models.FloatField("inlet bore", null=True, blank=True)
    return_bore_m = models.FloatField("return bore", null=True, blank=True)
    state = models.CharField(max_length=12, choices=State.choices, default=State.BUILDING)
    state_since = models.DateField()
    seeded = models.BooleanField("started with media from a mature filter", default=False)
    commissioning_flow_m3_h = models.FloatField("flow when new", null=True, blank=True)
    water_m3 = models.FloatField("water that stands in it", null=True, blank=True)
    # Whether it has added that to its circuit's extra volume: only then is it taken off again.
    is_water_counted = models.BooleanField(default=False, db_default=False, editable=False)
    note = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["code"]
        constraints = [
            *positive(
                "filter",
                "length_m",
                "width_m",
                "height_m",
                "void_height_m",
                "inlet_bore_m",
                "return_bore_m",
                "commissioning_flow_m3_h",
                "water_m3",
            ),
            models.CheckConstraint(
                condition=Q(is_water_counted=False) | Q(water_m3__isnull=False),
                name="filter_counted_water_is_known",
            ),
            known("filter", "shape", ["round", "rectangle"]),
            known(
                "filter", "state", ["building", "leak_tested", "cycling", "mature", "disturbed", "resting"]
            ),
            models.CheckConstraint(
                condition=Q(void_height_m__lt=models.F("height_m")), name="filter_void_below_rim"
            ),
            models.CheckConstraint(
                condition=Q(shape="round") | Q(width_m__isnull=False), name="filter_width_unless_round"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def get_absolute_url(self) -> str:
        return f"/filters/{self.pk}/"

    @property
    def cross_section_m2(self) -> float:
        return water_surface_m2(self.shape, self.length_m, self.width_m or self.length_m)

    @property
    def void_volume_m3(self) -> float:
        return self.cross_section_m2 * self.void_height_m


class MediaLayer(models.Model):
    """One layer of stone, numbered from the void up."""

    filter = models.ForeignKey(FilterUnit, models.CASCADE, related_name="layers")
    position = models.PositiveSmallIntegerField("place, from the bottom")
    medium = models.CharField(max_length=24, choices=MEDIUM_CHOICES)
    depth_m = models.FloatField("depth")
    is_bagged = models.BooleanField("in bags", default=False)
    specific_surface_m2_m3 = models.FloatField(
        "specific surface, if measured", null=True, blank=True, help_text="Empty: the table's value."
    )
    void_fraction = models.FloatField("void fraction, if measured", null=True, blank=True)
    grain_size_m = models.FloatField("grain size, if sieved", null=True, blank=True)

    class Meta:
        ordering = ["filter", "position"]
        constraints = [
            models.UniqueConstraint(fields=["filter", "position"], name="layer_one_per_place"),
            *positive("layer", "depth_m", "specific_surface_m2_m3"),
            between("layer", "void_fraction", LEAST_VOID, MOST_VOID),
            between("layer", "grain_size_m", SMALLEST_GRAIN_M, LARGEST_GRAIN_M),
        ]

    def __str__(self) -> str:
        return f"{self.depth_m:g} m of {self.get_medium_display()}"

    @property
    def surface_m2_m3(self) -> float:
        return self.specific_surface_m2_m3 or medium(self.medium).specific_surface_m2_m3


class Pump(models.Model):
    """The pump that feeds a filter."""

    filter = models.OneToOneField(FilterUnit, models.CASCADE, related_name="pump")
    name = models.CharField(max_length=80)
    rated_flow_m3_h = models.FloatField("greatest flow")
    shutoff_head_m = models.FloatField("head at no flow", null=True, blank=True)
    power_w = models.FloatField("power", null=True, blank=True)
    is_protected = models.BooleanField("behind residual-current (ground-fault) protection", default=False)

    class Meta:
        constraints = [*positive("pump", "rated_flow_m3_h", "shutoff_head_m", "power_w")]

    def __str__(self) -> str:
        return self.name


class Maintenance(Record):
    """Work done on a filter, with what was seen."""

    class Kind(models.TextChoices):
        DRAIN = "drain", "Sediment drain"
        RINSE = "rinse", "Media rinse"
        PUMP_CLEAN = "pump_clean", "Pump and strainer clean"
        BUCKET_TEST = "bucket_test", "Bucket test"
        PROTECTION_TEST = "protection_test", "Residual-current (ground-fault) test"
        LEAK_TEST = "leak_test", "Leak test"
        INSPECTION = "inspection", "Inspection"
        STATE = "state", "Change of state"

    filter = models.ForeignKey(FilterUnit, models.PROTECT, related_name="maintenance")
    kind = models.CharField(max_length=16, choices=Kind.choices)
    litres_drained = models.FloatField("water let out with the sediment", null=True, blank=True)
    sediment_depth_m = models.FloatField("depth of sediment before", null=True, blank=True)
    predicted_sediment_l = models.FloatField(null=True, blank=True, editable=False)
    # The filter's own factor that the prediction holds: without it nobody could tell how far the model itself was off.
    predicted_factor = models.FloatField(null=True, blank=True, editable=False)
    observed_sediment_l = models.FloatField(null=True, blank=True, editable=False)
    layer = models.ForeignKey(MediaLayer, models.SET_NULL, null=True, blank=True, related_name="+")
    bucket_l = models.FloatField("bucket", null=True, blank=True)
    bucket_seconds = models.FloatField("seconds to fill it", null=True, blank=True)
    flow_m3_h = models.FloatField(null=True, blank=True, editable=False)
    passed = models.BooleanField("passed", null=True, blank=True)
    new_state = models.CharField(max_length=12, choices=FilterUnit.State.choices, blank=True)

    class Meta(Record.Meta):
        abstract = False
        indexes = [
            models.Index(
                fields=["filter", "kind", "-at"],
                condition=Q(voided_at__isnull=True),
                name="maintenance_latest",
            )
        ]
        constraints = [
            *record_constraints("maintenance"),
            *not_negative(
                "maintenance",
                "litres_drained",
                "sediment_depth_m",
                "predicted_sediment_l",
                "observed_sediment_l",
            ),
            *positive("maintenance", "bucket_l", "bucket_seconds", "flow_m3_h", "predicted_factor"),
            models.CheckConstraint(
                condition=~Q(kind="bucket_test") | Q(flow_m3_h__isnull=False),
                name="maintenance_bucket_has_flow",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["leak_test", "protection_test"]) | Q(passed__isnull=False),
                name="maintenance_test_has_result",
            ),
            models.CheckConstraint(
                condition=~Q(kind="state") | ~Q(new_state=""), name="maintenance_state_is_named"
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
