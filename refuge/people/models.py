"""The refuge itself and the people who work in it."""

import zoneinfo
from datetime import datetime, time
from typing import Any

from django.contrib.auth.models import AbstractUser, UserManager
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.crypto import salted_hmac


class Role(models.TextChoices):
    MANAGER = "manager", "Manager"
    STAFF = "staff", "Staff"
    VOLUNTEER = "volunteer", "Volunteer"


ROLE_RANK = {Role.VOLUNTEER: 0, Role.STAFF: 1, Role.MANAGER: 2}


class UnitSystem(models.TextChoices):
    METRIC = "metric", "Metric (kg, cm, L, °C)"
    US = "us", "US (lb, in, gal, °F)"


class Theme(models.TextChoices):
    AUTO = "auto", "As the device"
    LIGHT = "light", "Light"
    DARK = "dark", "Dark"


class PersonManager(UserManager["User"]):
    """Finds people by sign-in name whatever its case: phones start a line with a capital."""

    use_in_migrations = False

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(username__iexact=username)

    def create_superuser(
        self, username: str, email: str | None = None, password: str | None = None, **fields: Any
    ) -> "User":
        fields = {"role": Role.MANAGER, "name": username} | fields
        return super().create_superuser(username, email, password, **fields)


class User(AbstractUser):
    """Somebody who works here. `is_active` off ends every session and token at the next request."""

    name = models.CharField("name", max_length=120)
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.VOLUNTEER)
    unit_system = models.CharField(
        "units", max_length=8, choices=UnitSystem.choices, default=UnitSystem.METRIC
    )
    theme = models.CharField(max_length=8, choices=Theme.choices, default=Theme.AUTO)
    wants_digest = models.BooleanField("a morning message with the day's work", default=True)
    last_seen_at = models.DateTimeField("last seen", null=True, blank=True, editable=False)
    session_generation = models.PositiveIntegerField(default=0, editable=False)
    first_name = None
    last_name = None

    objects = PersonManager()

    class Meta(AbstractUser.Meta):
        constraints = [
            models.UniqueConstraint(Lower("username"), name="user_sign_in_name_any_case"),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="user_role_known"),
            models.CheckConstraint(condition=Q(unit_system__in=UnitSystem.values), name="user_units_known"),
        ]

    def __str__(self) -> str:
        return self.name or self.username

    @property
    def is_manager(self) -> bool:
        return self.role == Role.MANAGER

    def may_act_as(self, role: str) -> bool:
        """Whether this person's role is at least `role`."""
        return ROLE_RANK[Role(self.role)] >= ROLE_RANK[Role(role)]

    def get_session_auth_hash(self) -> str:
        """What a session must carry to be this person's: a later generation or another password ends it."""
        value = f"{self.password}:{self.session_generation}"
        return salted_hmac("refuge.people.models.User.session", value, algorithm="sha256").hexdigest()

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name.split(" ")[0] if self.name else self.username


class RoleChange(models.Model):
    """That somebody was given another role, lost access or got it back. Rows are added, never edited."""

    NO_ACCESS = "none"
    STANDINGS = [*Role.choices, (NO_ACCESS, "No access")]

    person = models.ForeignKey(User, models.PROTECT, related_name="role_changes")
    by = models.ForeignKey(User, models.PROTECT, related_name="+")
    at = models.DateTimeField(default=timezone.now)
    was = models.CharField(max_length=12, choices=STANDINGS)
    became = models.CharField(max_length=12, choices=STANDINGS)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["person", "-at"], name="role_change_of_person")]
        constraints = [
            models.CheckConstraint(
                condition=Q(was__in=[*Role.values, "none"], became__in=[*Role.values, "none"]),
                name="role_change_known",
            ),
            models.CheckConstraint(condition=~Q(was=models.F("became")), name="role_change_changes"),
        ]

    def __str__(self) -> str:
        return f"{self.get_was_display()} → {self.get_became_display()}"


def validate_time_zone(value: str) -> None:
    if value not in zoneinfo.available_timezones():
        raise ValidationError(
            f"“{value}” is no time zone in the IANA list. Write it as Continent/City, like Europe/Lisbon."
        )


class Refuge(models.Model):
    """The one refuge of this installation."""

    SINGLETON = 1

    name = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=64, default="UTC", validators=[validate_time_zone])
    morning_at = models.TimeField("the day starts at", default=time(7, 0))
    elevation_m = models.FloatField("height above sea level", default=0.0)
    price_per_kwh = models.FloatField("price of electricity", null=True, blank=True)
    is_demo = models.BooleanField(default=False, editable=False)
    # Nothing was asked of anybody before; the demo's past is invented, and asks all the same.
    founded_on = models.DateField(null=True, blank=True, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="refuge_only_one"),
            models.CheckConstraint(
                condition=Q(price_per_kwh__isnull=True) | Q(price_per_kwh__gte=0),
                name="refuge_price_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(elevation_m__gte=-450, elevation_m__lte=6000), name="refuge_elevation_on_land"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)


class Invitation(models.Model):
    """A link that makes one account. Only a hash of its secret is kept."""

    class State(models.TextChoices):
        OPEN = "open", "Open"
        ACCEPTED = "accepted", "Used"
        WITHDRAWN = "withdrawn", "Withdrawn"
        EXPIRED = "expired", "Expired"

    secret_hash = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.VOLUNTEER)
    created_by = models.ForeignKey(User, models.PROTECT, related_name="invitations_made")
    created_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    accepted_by = models.OneToOneField(User, models.PROTECT, null=True, blank=True, related_name="invitation")
    accepted_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True) | Q(withdrawn_at__isnull=True),
                name="invitation_not_accepted_and_withdrawn",
            ),
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True, accepted_by__isnull=True)
                | Q(accepted_at__isnull=False, accepted_by__isnull=False),
                name="invitation_acceptance_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.get_role_display()})"

    def state(self, now: datetime) -> "Invitation.State":
        """Whether the link works at this moment, or why not. It ends when `expires_at` is reached."""
        if self.accepted_at is not None:
            return self.State.ACCEPTED
        if self.withdrawn_at is not None:
            return self.State.WITHDRAWN
        return self.State.OPEN if now < self.expires_at else self.State.EXPIRED
