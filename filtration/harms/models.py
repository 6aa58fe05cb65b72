"""Something that happened to a filter and may have cost it bacteria. Nobody did it as work: it was found."""

from datetime import datetime, timedelta

from django.db import models
from django.db.models import Q

from enclosures.models import WaterSource
from refuge.bounds import known, positive
from refuge.records import Record, record_constraints

# Kinds that are told by their hours; for the others hours say nothing that can be counted with.
TIMED = ("no_flow", "dry", "frost", "heat")
TIMED_BY_NEED = ("no_flow", "dry")


class FilterHarm(Record):
    """What happened to a filter. `at` is when it began.

    hours: how long it lasted, or so far where it stood still (runs_again). volume_m3, source: the untreated water that got in. substance: the medicine, as the
    veterinarian named it. noticed_by: whoever found it, if that is not the person who entered it.
    """

    class Kind(models.TextChoices):
        NO_FLOW = "no_flow", "Stood without flow"
        CHLORINE = "chlorine", "Untreated tap water got in"
        MEDICINE = "medicine", "Medicine in the water"
        DRY = "dry", "Fell dry"
        FROST = "frost", "Froze"
        HEAT = "heat", "Became too hot"

    MOST_HOURS = 60 * 24.0

    filter = models.ForeignKey("filtration.FilterUnit", models.PROTECT, related_name="harms")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    hours = models.FloatField("hours it lasted", null=True, blank=True)
    volume_m3 = models.FloatField("untreated water that got in", null=True, blank=True)
    source = models.ForeignKey(
        WaterSource,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        verbose_name="where it came from",
    )
    substance = models.CharField("medicine, as the veterinarian named it", max_length=120, blank=True)
    runs_again = models.BooleanField("it runs again", default=True)
    noticed_by = models.CharField("who noticed", max_length=80, blank=True)

    class Meta(Record.Meta):
        abstract = False
        indexes = [
            models.Index(fields=["filter", "-at"], condition=Q(voided_at__isnull=True), name="harm_latest")
        ]
        constraints = [
            *record_constraints("harm"),
            *positive("harm", "hours", "volume_m3"),
            known("harm", "kind", ["no_flow", "chlorine", "medicine", "dry", "frost", "heat"]),
            models.CheckConstraint(
                condition=~Q(kind__in=TIMED_BY_NEED) | Q(hours__isnull=False), name="harm_says_how_long"
            ),
            models.CheckConstraint(
                condition=~Q(kind="chlorine") | Q(volume_m3__isnull=False, source__isnull=False),
                name="harm_chlorine_says_how_much",
            ),
            models.CheckConstraint(
                condition=~Q(kind="medicine") | ~Q(substance=""), name="harm_medicine_is_named"
            ),
            models.CheckConstraint(
                condition=Q(runs_again=True) | Q(kind__in=TIMED_BY_NEED), name="harm_only_a_stop_goes_on"
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()

    def get_absolute_url(self) -> str:
        return f"/filters/harm/{self.pk}/"

    @property
    def ended(self) -> datetime:
        """When it was over, or was last known to go on; the moment itself where no hours are told."""
        return self.at + timedelta(hours=self.hours or 0.0)
