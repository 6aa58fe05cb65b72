"""The animals: what they are, where they were, what they ate and weighed, and their quarantine."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from simple_history.models import HistoricalRecords

from enclosures.models import Circuit, Enclosure
from refuge.bounds import between, known, not_negative, ordered, positive, share
from refuge.records import Record, record_constraints


class Species(models.Model):
    """A kind of turtle, and what it needs of its water."""

    name = models.CharField("common name", max_length=80, unique=True)
    scientific_name = models.CharField(max_length=80, blank=True)
    temperature_low_c = models.FloatField("coolest water when active", null=True, blank=True)
    temperature_high_c = models.FloatField("warmest water", null=True, blank=True)
    adult_mass_kg = models.FloatField("usual adult weight", null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "species"
        constraints = [
            *positive("species", "adult_mass_kg"),
            ordered("species", "temperature_low_c", "temperature_high_c"),
        ]

    def __str__(self) -> str:
        return self.name


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


class Animal(models.Model):
    """One turtle, from its arrival on."""

    class Sex(models.TextChoices):
        UNKNOWN = "unknown", "Not known"
        FEMALE = "female", "Female"
        MALE = "male", "Male"

    class Status(models.TextChoices):
        HERE = "here", "Here"
        RELEASED = "released", "Released"
        TRANSFERRED = "transferred", "Given to another keeper"
        DIED = "died", "Died"

    code = models.CharField(max_length=16, unique=True)
    name = models.CharField(max_length=80, blank=True)
    species = models.ForeignKey(Species, models.PROTECT, related_name="animals")
    sex = models.CharField(max_length=8, choices=Sex.choices, default=Sex.UNKNOWN)
    marks = models.TextField("marks to know it by", blank=True)
    transponder = models.CharField(max_length=20, blank=True)
    hatched_on = models.DateField("hatched (known or estimated)", null=True, blank=True)
    origin = models.CharField("where it came from", max_length=200, blank=True)
    condition = models.TextField("condition on arrival", blank=True)
    photo = models.ImageField(upload_to="animals/", blank=True)
    arrived_on = models.DateField()
    status = models.CharField(max_length=12, choices=Status.choices, default=Status.HERE)
    left_on = models.DateField(null=True, blank=True)
    brumating_since = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["code"]
        constraints = [
            known("animal", "sex", ["unknown", "female", "male"]),
            known("animal", "status", ["here", "released", "transferred", "died"]),
            ordered("animal", "arrived_on", "left_on"),
            models.CheckConstraint(
                condition=Q(status="here", left_on__isnull=True)
                | (~Q(status="here") & Q(left_on__isnull=False)),
                name="animal_left_when_not_here",
            ),
            models.UniqueConstraint(
                fields=["transponder"], condition=~Q(transponder=""), name="animal_transponder_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}".strip()

    def get_absolute_url(self) -> str:
        return f"/animals/{self.pk}/"


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
