"""Where the animals live: areas, circuits of shared water, enclosures, and what was measured and changed."""

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from enclosures.geometry import water_surface_m2, water_volume_m3
from refuge.bounds import between, known, not_negative, positive
from refuge.records import Record, record_constraints


class Area(models.Model):
    """A walkable part of the site. The round goes by biosecurity rank: 0 is the cleanest, quarantine last."""

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=80)
    biosecurity_rank = models.PositiveSmallIntegerField(default=0)
    position = models.PositiveSmallIntegerField("place in the walk", default=0)

    class Meta:
        ordering = ["biosecurity_rank", "position", "code"]

    def __str__(self) -> str:
        return self.name


class WaterSource(models.Model):
    """Where new water comes from, and what it carries into a circuit."""

    class Disinfectant(models.TextChoices):
        NONE = "none", "None (well, rain, pond)"
        CHLORINE = "chlorine", "Free chlorine"
        CHLORAMINE = "chloramine", "Chloramine"

    name = models.CharField(max_length=80, unique=True)
    disinfectant = models.CharField(max_length=12, choices=Disinfectant.choices)
    total_chlorine_mg_l = models.FloatField(default=0.0)
    nitrate_n_mg_l = models.FloatField("nitrate as N", default=0.0)
    alkalinity_mg_l = models.FloatField("alkalinity as CaCO3", null=True, blank=True)
    ph = models.FloatField("pH", null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            known("source", "disinfectant", ["none", "chlorine", "chloramine"]),
            *not_negative("source", "total_chlorine_mg_l", "nitrate_n_mg_l", "alkalinity_mg_l"),
            between("source", "ph", 0, 14),
        ]

    def __str__(self) -> str:
        return self.name


class Month(models.IntegerChoices):
    JANUARY = 1, "January"
    FEBRUARY = 2, "February"
    MARCH = 3, "March"
    APRIL = 4, "April"
    MAY = 5, "May"
    JUNE = 6, "June"
    JULY = 7, "July"
    AUGUST = 8, "August"
    SEPTEMBER = 9, "September"
    OCTOBER = 10, "October"
    NOVEMBER = 11, "November"
    DECEMBER = 12, "December"


class Circuit(models.Model):
    """One shared body of water. Chemistry, bioload and quarantine belong to it, never to a tank alone."""

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=80)
    water_source = models.ForeignKey(WaterSource, models.PROTECT, related_name="circuits")
    extra_volume_m3 = models.FloatField("water in filters, sumps and pipes", default=0.0)
    usual_temperature_c = models.FloatField("usual water temperature", default=22.0)
    coldest_temperature_c = models.FloatField("usual in the coldest month", null=True, blank=True)
    warmest_month = models.PositiveSmallIntegerField(choices=Month.choices, default=Month.JULY)
    is_quarantine = models.BooleanField("used for quarantine", default=False)
    note = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["code"]
        constraints = [
            *not_negative("circuit", "extra_volume_m3"),
            between("circuit", "usual_temperature_c", -1, 45),
            between("circuit", "coldest_temperature_c", -1, 45),
            between("circuit", "warmest_month", 1, 12),
            models.CheckConstraint(
                condition=Q(coldest_temperature_c__isnull=True)
                | Q(coldest_temperature_c__lte=models.F("usual_temperature_c")),
                name="circuit_coldest_not_warmer",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def get_absolute_url(self) -> str:
        return f"/waters/{self.pk}/"


class Enclosure(models.Model):
    """Where animals live: one tank, tub or pond of one circuit, in one area."""

    class Shape(models.TextChoices):
        RECTANGLE = "rectangle", "Rectangle"
        ROUND = "round", "Round"
        OVAL = "oval", "Oval"

    class Purpose(models.TextChoices):
        RESIDENT = "resident", "Residents"
        QUARANTINE = "quarantine", "Quarantine"
        NURSERY = "nursery", "Nursery"
        HOSPITAL = "hospital", "Hospital"

    code = models.CharField(max_length=12, unique=True)
    name = models.CharField(max_length=80)
    area = models.ForeignKey(Area, models.PROTECT, related_name="enclosures")
    circuit = models.ForeignKey(Circuit, models.PROTECT, related_name="enclosures")
    purpose = models.CharField(max_length=12, choices=Purpose.choices, default=Purpose.RESIDENT)
    position = models.PositiveSmallIntegerField("place in the walk", default=0)
    shape = models.CharField(max_length=10, choices=Shape.choices, default=Shape.RECTANGLE)
    length_m = models.FloatField("length or diameter", help_text="For a round tank, its diameter.")
    width_m = models.FloatField("width", null=True, blank=True)
    water_depth_m = models.FloatField("water depth")
    measured_volume_m3 = models.FloatField("measured volume", null=True, blank=True)
    is_outdoor = models.BooleanField("outdoors", default=False)
    in_use = models.BooleanField(default=True)
    note = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["area__biosecurity_rank", "area__position", "position", "code"]
        constraints = [
            *positive("enclosure", "length_m", "width_m", "water_depth_m", "measured_volume_m3"),
            known("enclosure", "shape", ["rectangle", "round", "oval"]),
            known("enclosure", "purpose", ["resident", "quarantine", "nursery", "hospital"]),
            models.CheckConstraint(
                condition=Q(shape="round") | Q(width_m__isnull=False), name="enclosure_width_unless_round"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def get_absolute_url(self) -> str:
        return f"/enclosures/{self.pk}/"

    @property
    def water_surface_m2(self) -> float:
        return water_surface_m2(self.shape, self.length_m, self.width_m or self.length_m)

    @property
    def water_volume_m3(self) -> float:
        """Measured volume where there is one, else from the shape."""
        if self.measured_volume_m3 is not None:
            return self.measured_volume_m3
        return water_volume_m3(self.shape, self.length_m, self.width_m or self.length_m, self.water_depth_m)


class WaterTest(Record):
    """One look at a circuit's water. Each reading is optional; nitrogen is kept as N whatever the kit says."""

    class Clarity(models.IntegerChoices):
        CLEAR = 1, "Clear"
        HAZY = 2, "Hazy"
        TURBID = 3, "Turbid"
        OPAQUE = 4, "Cannot see the bottom"

    READINGS = (
        "temperature_c",
        "ph",
        "tan_mg_l",
        "nitrite_n_mg_l",
        "nitrate_n_mg_l",
        "alkalinity_mg_l",
        "hardness_mg_l",
        "oxygen_mg_l",
        "chlorine_mg_l",
        "clarity",
    )

    circuit = models.ForeignKey(Circuit, models.PROTECT, related_name="water_tests")
    temperature_c = models.FloatField("temperature", null=True, blank=True)
    ph = models.FloatField("pH", null=True, blank=True)
    tan_mg_l = models.FloatField("total ammonia as N", null=True, blank=True)
    nitrite_n_mg_l = models.FloatField("nitrite as N", null=True, blank=True)
    nitrate_n_mg_l = models.FloatField("nitrate as N", null=True, blank=True)
    alkalinity_mg_l = models.FloatField("alkalinity as CaCO3", null=True, blank=True)
    hardness_mg_l = models.FloatField("hardness as CaCO3", null=True, blank=True)
    oxygen_mg_l = models.FloatField("dissolved oxygen", null=True, blank=True)
    chlorine_mg_l = models.FloatField("total chlorine", null=True, blank=True)
    clarity = models.PositiveSmallIntegerField(choices=Clarity.choices, null=True, blank=True)

    class Meta(Record.Meta):
        abstract = False
        indexes = [
            models.Index(
                fields=["circuit", "-at"], condition=Q(voided_at__isnull=True), name="water_test_latest"
            )
        ]
        constraints = [
            *record_constraints("water_test"),
            between("water_test", "temperature_c", -2, 50),
            between("water_test", "ph", 0, 14),
            *not_negative(
                "water_test",
                "tan_mg_l",
                "nitrite_n_mg_l",
                "nitrate_n_mg_l",
                "alkalinity_mg_l",
                "hardness_mg_l",
                "oxygen_mg_l",
                "chlorine_mg_l",
            ),
            between("water_test", "clarity", 1, 4),
            models.CheckConstraint(
                condition=Q(temperature_c__isnull=False)
                | Q(ph__isnull=False)
                | Q(tan_mg_l__isnull=False)
                | Q(nitrite_n_mg_l__isnull=False)
                | Q(nitrate_n_mg_l__isnull=False)
                | Q(alkalinity_mg_l__isnull=False)
                | Q(hardness_mg_l__isnull=False)
                | Q(oxygen_mg_l__isnull=False)
                | Q(chlorine_mg_l__isnull=False)
                | Q(clarity__isnull=False),
                name="water_test_reads_something",
            ),
        ]

    def __str__(self) -> str:
        return f"Water test of {self.circuit_id} at {self.at:%Y-%m-%d %H:%M}"


class WaterChange(Record):
    """Water let out and replaced, or only topped up after evaporation."""

    class Kind(models.TextChoices):
        CHANGE = "change", "Water change"
        TOP_UP = "top_up", "Top-up"

    circuit = models.ForeignKey(Circuit, models.PROTECT, related_name="water_changes")
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.CHANGE)
    volume_m3 = models.FloatField("volume")
    source = models.ForeignKey(WaterSource, models.PROTECT, related_name="+")
    conditioner = models.CharField("conditioner used", max_length=80, blank=True)
    conditioner_g = models.FloatField("amount of conditioner", null=True, blank=True)

    class Meta(Record.Meta):
        abstract = False
        indexes = [
            models.Index(
                fields=["circuit", "-at"], condition=Q(voided_at__isnull=True), name="water_change_latest"
            )
        ]
        constraints = [
            *record_constraints("water_change"),
            *positive("water_change", "volume_m3"),
            *not_negative("water_change", "conditioner_g"),
            known("water_change", "kind", ["change", "top_up"]),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.volume_m3 * 1000:.0f} L"
