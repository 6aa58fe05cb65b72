"""What was forecast, for whom it is kept: the rules of the day, the page of a water, and the scores afterwards."""

from datetime import datetime

from django.db import models
from django.db.models import Q
from django.utils import timezone

from enclosures.models import Circuit
from refuge.bounds import known, not_negative, share


class WaterForecast(models.Model):
    """One water's forecast of one day: a later run of that day replaces it, past days stay as they were.

    `start_at` is the full hour its numbers count from. Exactly one of three: a forecast (then `sure_until` and
    `bands` are there), what it `lacks`, or the `failure` that kept it from being made.
    """

    class Doubt(models.TextChoices):
        MAY_PASS = "may_pass", "May pass its limit"
        WILL_PASS = "will_pass", "Will pass its limit"
        TOO_VAGUE = "too_vague", "Not known well enough"
        LONGEST = "longest", "Nothing in doubt"

    circuit = models.ForeignKey(Circuit, models.CASCADE, related_name="forecasts")
    day = models.DateField()
    made_at = models.DateTimeField(default=timezone.now)
    start_at = models.DateTimeField()
    tested_at = models.DateTimeField("latest test it knew", null=True, blank=True)
    sure_until = models.DateField("day on which it is no longer sure enough", null=True, blank=True)
    doubt = models.CharField(max_length=10, choices=Doubt.choices, blank=True)
    quantity = models.CharField("what is in doubt then", max_length=12, blank=True)
    limit = models.FloatField(null=True, blank=True)
    chance = models.FloatField("chance of passing the limit that day", default=0.0)
    width = models.FloatField("width of the 90 % band that day", default=0.0)
    bands = models.BinaryField(default=bytes)
    helped_bands = models.BinaryField("bands if the steps against a bad reading are taken", default=bytes)
    outlook = models.JSONField(default=dict)
    lacks = models.CharField(max_length=120, blank=True)
    failure = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["circuit", "-day"]
        constraints = [
            models.UniqueConstraint(fields=["circuit", "day"], name="forecast_once_a_day"),
            known("forecast", "doubt", ["", "may_pass", "will_pass", "too_vague", "longest"]),
            *share("forecast", "chance"),
            *not_negative("forecast", "width"),
            models.CheckConstraint(
                condition=Q(sure_until__isnull=False, lacks="", failure="") & ~Q(doubt="")
                | Q(sure_until__isnull=True, doubt="", failure="") & ~Q(lacks="")
                | Q(sure_until__isnull=True, doubt="", lacks="") & ~Q(failure=""),
                name="forecast_or_why_not",
            ),
            models.CheckConstraint(
                condition=Q(sure_until__isnull=True) | Q(sure_until__gte=models.F("day")),
                name="forecast_sure_not_before_day",
            ),
        ]

    def __str__(self) -> str:
        return f"Forecast of {self.circuit_id} on {self.day}"

    def knew(self, test_at: datetime) -> bool:
        """Whether it was made from a test of that moment, or a later one."""
        return self.tested_at is not None and self.tested_at >= test_at

    @property
    def is_made(self) -> bool:
        return self.sure_until is not None


class ForecastStart(models.Model):
    """Where a water's next forecast may begin: its members after the first `taken` tests of its window.

    `digest` says what they follow from; a start with another digest counts for nothing. `draws` made so far.
    """

    circuit = models.OneToOneField(Circuit, models.CASCADE, primary_key=True, related_name="+")
    taken = models.PositiveIntegerField()
    digest = models.CharField(max_length=32)
    draws = models.PositiveIntegerField()
    members = models.BinaryField()
    disagreements = models.TextField("readings of the last test that contradicted the model")

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(taken__gt=0), name="forecast_start_after_a_test")]

    def __str__(self) -> str:
        return f"Start of the forecasts of {self.circuit_id}"


class ForecastWanted(models.Model):
    """A water about which something was recorded since its forecast: many records, one row, one run."""

    circuit = models.OneToOneField(Circuit, models.CASCADE, primary_key=True, related_name="+")
    since = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["since"]

    def __str__(self) -> str:
        return f"Forecast wanted for {self.circuit_id}"
