"""What is seen and measured of animals day by day."""

from django.db import models
from django.db.models import Q

from enclosures.models import Enclosure
from husbandry.models.animals import Animal
from refuge.bounds import known, positive
from refuge.records import Record, record_constraints


class Measurement(Record):
    """A weight, a shell length, or both."""

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="measurements")
    mass_kg = models.FloatField("weight", null=True, blank=True)
    carapace_m = models.FloatField("straight carapace length", null=True, blank=True)

    class Meta(Record.Meta):
        abstract = False
        indexes = [
            models.Index(
                fields=["animal", "-at"], condition=Q(voided_at__isnull=True), name="measurement_latest"
            )
        ]
        constraints = [
            *record_constraints("measurement"),
            *positive("measurement", "mass_kg", "carapace_m"),
            models.CheckConstraint(
                condition=Q(mass_kg__isnull=False) | Q(carapace_m__isnull=False),
                name="measurement_has_a_value",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mass_kg or self.carapace_m:g}"


class HealthRecord(Record):
    """A look, an examination, a sample, a treatment."""

    class Kind(models.TextChoices):
        LOOK = "look", "Daily look"
        EXAM = "exam", "Examination"
        FAECAL = "faecal", "Faecal sample"
        TREATMENT = "treatment", "Treatment"
        OBSERVATION = "observation", "Something seen"

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="health_records")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    is_normal = models.BooleanField("nothing unusual", default=True)
    finding = models.TextField(blank=True)

    class Meta(Record.Meta):
        abstract = False
        indexes = [
            models.Index(
                fields=["animal", "kind", "-at"], condition=Q(voided_at__isnull=True), name="health_latest"
            )
        ]
        constraints = [
            *record_constraints("health"),
            known("health", "kind", ["look", "exam", "faecal", "treatment", "observation"]),
            models.CheckConstraint(
                condition=Q(is_normal=True) | ~Q(finding=""), name="health_unusual_is_described"
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()


class HeadCount(Record):
    """All animals of an enclosure looked for, and how many were seen."""

    enclosure = models.ForeignKey(Enclosure, models.PROTECT, related_name="head_counts")
    seen = models.PositiveSmallIntegerField("animals seen")
    expected = models.PositiveSmallIntegerField("animals expected")

    class Meta(Record.Meta):
        abstract = False
        indexes = [
            models.Index(
                fields=["enclosure", "-at"], condition=Q(voided_at__isnull=True), name="head_count_latest"
            )
        ]
        constraints = [*record_constraints("head_count")]

    def __str__(self) -> str:
        return f"{self.seen} of {self.expected} seen"

    @property
    def is_complete(self) -> bool:
        return self.seen >= self.expected
