"""Foods, what is to be fed, and what was."""

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from enclosures.models import Circuit, Enclosure
from husbandry.models.animals import Animal
from refuge.bounds import between, not_negative, ordered, positive, share
from refuge.records import Record, record_constraints


class Food(models.Model):
    """A food as it is fed. Shares are of wet mass."""

    name = models.CharField(max_length=80, unique=True)
    water_fraction = models.FloatField("share of water")
    protein_fraction = models.FloatField("share of protein")
    fat_fraction = models.FloatField("share of fat", default=0.0)
    phosphorus_fraction = models.FloatField("share of phosphorus", default=0.002)
    source = models.CharField("where the values come from", max_length=200)
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            *share("food", "water_fraction", "protein_fraction", "fat_fraction", "phosphorus_fraction"),
            models.CheckConstraint(
                condition=Q(
                    water_fraction__lte=1.0001 - models.F("protein_fraction") - models.F("fat_fraction")
                ),
                name="food_parts_make_one",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class FeedingPlan(models.Model):
    """What one animal, or one enclosure's group, is to be fed, and when."""

    enclosure = models.ForeignKey(
        Enclosure, models.PROTECT, null=True, blank=True, related_name="feeding_plans"
    )
    animal = models.ForeignKey(Animal, models.PROTECT, null=True, blank=True, related_name="feeding_plans")
    food = models.ForeignKey(Food, models.PROTECT, related_name="+")
    ration_kg = models.FloatField("ration for a meal")
    every_days = models.PositiveSmallIntegerField("every so many days", null=True, blank=True)
    weekdays = models.PositiveSmallIntegerField(
        "on these weekdays", null=True, blank=True, help_text="Bits: Monday 1, Tuesday 2, … Sunday 64."
    )
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    fasting_until = models.DateField("no food until", null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["starts_on", "pk"]
        constraints = [
            *positive("feeding_plan", "ration_kg", "every_days"),
            between("feeding_plan", "weekdays", 1, 127),
            ordered("feeding_plan", "starts_on", "ends_on"),
            models.CheckConstraint(
                condition=Q(enclosure__isnull=False, animal__isnull=True)
                | Q(enclosure__isnull=True, animal__isnull=False),
                name="feeding_plan_one_subject",
            ),
            models.CheckConstraint(
                condition=Q(every_days__isnull=False, weekdays__isnull=True)
                | Q(every_days__isnull=True, weekdays__isnull=False),
                name="feeding_plan_one_rhythm",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.ration_kg:g} kg {self.food_id}"

    @property
    def meals_per_week(self) -> float:
        return 7 / self.every_days if self.every_days else float((self.weekdays or 0).bit_count())


class Feeding(Record):
    """One meal: what was offered, left and refused. Its load on the water is computed when it is recorded."""

    enclosure = models.ForeignKey(Enclosure, models.PROTECT, related_name="feedings")
    circuit = models.ForeignKey(Circuit, models.PROTECT, related_name="feedings")
    animal = models.ForeignKey(Animal, models.PROTECT, null=True, blank=True, related_name="feedings")
    plan = models.ForeignKey(FeedingPlan, models.PROTECT, null=True, blank=True, related_name="feedings")
    food = models.ForeignKey(Food, models.PROTECT, related_name="+")
    offered_kg = models.FloatField("offered")
    left_kg = models.FloatField("left over and taken out", default=0.0)
    refused = models.BooleanField("refused", default=False)
    tan_g = models.FloatField(editable=False, default=0.0)
    solids_g = models.FloatField(editable=False, default=0.0)

    class Meta(Record.Meta):
        abstract = False
        indexes = [
            models.Index(
                fields=["circuit", "-at"], condition=Q(voided_at__isnull=True), name="feeding_circuit_latest"
            ),
            models.Index(
                fields=["plan", "-at"], condition=Q(voided_at__isnull=True), name="feeding_plan_latest"
            ),
            models.Index(
                fields=["animal", "-at"], condition=Q(voided_at__isnull=True), name="feeding_animal_latest"
            ),
        ]
        constraints = [
            *record_constraints("feeding"),
            *not_negative("feeding", "offered_kg", "left_kg", "tan_g", "solids_g"),
            models.CheckConstraint(
                condition=Q(left_kg__lte=models.F("offered_kg")), name="feeding_left_not_above_offered"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.offered_kg:g} kg offered"

    @property
    def eaten_kg(self) -> float:
        return 0.0 if self.refused else self.offered_kg - self.left_kg
