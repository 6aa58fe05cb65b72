"""Where animals were and in whose water, and their quarantine."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from simple_history.models import HistoricalRecords

from enclosures.models import Circuit, Enclosure
from husbandry.models.animals import Animal
from refuge.bounds import ordered, positive


class Placement(models.Model):
    """Where an animal was, and in whose water, from one moment to the next.

    The circuit is kept beside the enclosure because an enclosure can be re-plumbed: the past must still say
    which water the animal shared. That placements never overlap is kept by the database (see the migration).
    """

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="placements")
    enclosure = models.ForeignKey(Enclosure, models.PROTECT, related_name="placements")
    circuit = models.ForeignKey(Circuit, models.PROTECT, related_name="placements")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    reason = models.CharField(max_length=200, blank=True)
    entered_at = models.DateTimeField(default=timezone.now, editable=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-starts_at"]
        indexes = [models.Index(fields=["circuit", "-starts_at"], name="placement_moves_in")]
        constraints = [
            models.UniqueConstraint(
                fields=["animal"], condition=Q(ends_at__isnull=True), name="placement_one_open_per_animal"
            ),
            models.CheckConstraint(
                condition=Q(ends_at__isnull=True) | Q(ends_at__gt=models.F("starts_at")),
                name="placement_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.animal_id} in {self.enclosure_id} from {self.starts_at:%Y-%m-%d}"


class Quarantine(models.Model):
    """One animal's quarantine. `clock_from` moves when somebody joins its water; `started_on` never does."""

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="quarantines")
    started_on = models.DateField()
    clock_from = models.DateField()
    days = models.PositiveSmallIntegerField()
    ends_on = models.DateField("planned end")
    released_on = models.DateField(null=True, blank=True)
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    outcome = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-started_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["animal"],
                condition=Q(released_on__isnull=True),
                name="quarantine_one_open_per_animal",
            ),
            *positive("quarantine", "days"),
            ordered("quarantine", "started_on", "clock_from"),
            ordered("quarantine", "clock_from", "ends_on"),
            ordered("quarantine", "started_on", "released_on"),
        ]

    def __str__(self) -> str:
        return f"Quarantine of {self.animal_id} to {self.ends_on}"


class QuarantineRestart(models.Model):
    """Why a clock was set back: another animal joined the same water."""

    quarantine = models.ForeignKey(Quarantine, models.CASCADE, related_name="restarts")
    on = models.DateField()
    because_of = models.ForeignKey(Animal, models.PROTECT, related_name="+")
    previous_clock_from = models.DateField()
    previous_ends_on = models.DateField()

    class Meta:
        ordering = ["-on"]
        constraints = [
            models.UniqueConstraint(
                fields=["quarantine", "on", "because_of"], name="restart_once_per_arrival"
            )
        ]

    def __str__(self) -> str:
        return f"Restart on {self.on}"


class QuarantineCheck(models.Model):
    """A check planned in a quarantine; done when a health record answers it."""

    class Kind(models.TextChoices):
        INTAKE_EXAM = "intake_exam", "Examination on arrival"
        FAECAL_1 = "faecal_sample_1", "First faecal sample"
        FAECAL_2 = "faecal_sample_2", "Second faecal sample"
        FAECAL_3 = "faecal_sample_3", "Third faecal sample"
        WEIGHING = "monthly_weighing", "Monthly look-over and weighing"
        RELEASE_EXAM = "release_exam", "Examination before release"

    quarantine = models.ForeignKey(Quarantine, models.CASCADE, related_name="checks")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    due_on = models.DateField()
    answered_by = models.OneToOneField(
        "HealthRecord", models.PROTECT, null=True, blank=True, related_name="answers"
    )

    class Meta:
        ordering = ["due_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["quarantine", "kind", "due_on"], name="quarantine_check_once")
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.due_on}"
