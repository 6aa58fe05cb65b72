"""Kinds of turtles, and the animals of the refuge."""

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from refuge.bounds import known, ordered, positive


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
