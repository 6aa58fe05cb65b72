"""Writes about the refuge and its people: founding, roles, access, a person's own settings."""

from dataclasses import dataclass
from datetime import datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import make_password
from django.contrib.auth.tokens import default_token_generator
from django.db import IntegrityError, transaction
from django.db.models import F, Q
from django.utils import timezone
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from rest_framework.authtoken.models import Token

from refuge.people.errors import AlreadyFounded, LastManager, OwnAccess, SignInNameTaken
from refuge.people.models import Refuge, Role, RoleChange, User

SEEN_EVERY_S = 10 * 60  # how exactly "last seen" is kept; each person costs one write in this time


@dataclass(frozen=True, kw_only=True)
class Account:
    """What somebody chooses to sign in with."""

    username: str
    password: str


def refuge_found(
    *,
    name: str,
    time_zone: str,
    morning_at: time,
    elevation_m: float,
    manager_name: str,
    email: str,
    unit_system: str,
    account: Account,
) -> User:
    """Make the refuge and its first manager. Of two at once, the second is refused with AlreadyFounded."""
    with transaction.atomic():
        try:
            with transaction.atomic():
                Refuge(
                    pk=Refuge.SINGLETON,
                    founded_on=timezone.now().astimezone(ZoneInfo(time_zone)).date(),
                    name=name,
                    time_zone=time_zone,
                    morning_at=morning_at,
                    elevation_m=elevation_m,
                ).save(force_insert=True)
        except IntegrityError as error:
            if Refuge.objects.exists():
                raise AlreadyFounded from error
            raise
        return person_create(
            account=account, name=manager_name, email=email, role=Role.MANAGER, unit_system=unit_system
        )


def person_create(*, account: Account, name: str, email: str, role: str, unit_system: str) -> User:
    """A new account; SignInNameTaken when somebody has that name, in whatever case."""
    person = User(
        username=account.username.lower(),
        password=make_password(account.password),
        name=name,
        email=email,
        role=role,
        unit_system=unit_system,
    )
    try:
        with transaction.atomic():
            person.save(force_insert=True)
    except IntegrityError as error:
        if User.objects.filter(username__iexact=account.username).exists():
            raise SignInNameTaken from error
        raise
    return person


@transaction.atomic
def refuge_change(
    *,
    name: str,
    time_zone: str,
    morning_at: time,
    elevation_m: float,
    price_per_kwh: float | None = None,
) -> Refuge:
    """Change what the whole site goes by; the planner reads it afresh at each run. price_per_kwh: in any money."""
    refuge = Refuge.objects.select_for_update().get(pk=Refuge.SINGLETON)
    refuge.name, refuge.time_zone, refuge.morning_at = name, time_zone, morning_at
    refuge.elevation_m, refuge.price_per_kwh = elevation_m, price_per_kwh
    refuge.save()
    return refuge


@transaction.atomic
def person_change_role(*, person_id: int, role: str, by: User) -> User:
    """Give somebody another role; LastManager when nobody could manage afterwards. It is kept who did it."""
    person = _locked(person_id)
    if role != Role.MANAGER:
        _keep_a_manager(person)
    _keep_change(person, by, person.role, role)
    person.role = role
    person.save(update_fields=["role"])
    return person


@transaction.atomic
def person_remove_access(*, person_id: int, by: User, now: datetime | None = None) -> User:
    """Shut somebody out at once: no sign-in, no API token, and open sessions end at their next request.

    The open invitations they made are withdrawn with it: a link kept aside would be a way back in.
    """
    person = _locked(person_id)
    if person.pk == by.pk:
        raise OwnAccess
    _keep_a_manager(person)
    if person.is_active:
        _keep_change(person, by, person.role, RoleChange.NO_ACCESS)
    person.is_active = False
    person.session_generation += 1  # so that no old session comes back to life with the access
    person.save(update_fields=["is_active", "session_generation"])
    token_revoke(person=person)
    open_invitations = person.invitations_made.filter(accepted_at=None, withdrawn_at=None)
    open_invitations.update(withdrawn_at=now or timezone.now())
    return person


@transaction.atomic
def person_give_access(*, person_id: int, by: User) -> User:
    """Let somebody in again, with the sign-in name and password they had."""
    person = _locked(person_id)
    if not person.is_active:
        _keep_change(person, by, RoleChange.NO_ACCESS, person.role)
    person.is_active = True
    person.save(update_fields=["is_active"])
    return person


def _locked(person_id: int) -> User:
    """The person, locked together with every manager, always in the same order.

    Two managers who take each other's role at the same moment must not both succeed; whoever comes second
    waits here and then sees what the first one did.
    """
    involved = Q(pk=person_id) | Q(role=Role.MANAGER)
    rows = User.objects.select_for_update().filter(involved).order_by("pk")
    for row in rows:
        if row.pk == person_id:
            return row
    raise User.DoesNotExist(f"no person {person_id}")


def _keep_a_manager(person: User) -> None:
    if person.role != Role.MANAGER or not person.is_active:
        return
    if not User.objects.filter(role=Role.MANAGER, is_active=True).exclude(pk=person.pk).exists():
        raise LastManager


def _keep_change(person: User, by: User, was: str, became: str) -> None:
    if was != became:  # the same form twice is one change
        RoleChange.objects.create(person=person, by=by, was=was, became=became)


@transaction.atomic
def my_settings_change(*, person: User, **values: Any) -> User:
    """Change what a person may change about themselves."""
    changeable = {"name", "email", "unit_system", "theme", "wants_digest"}
    if unknown := values.keys() - changeable:
        raise TypeError(f"not a person's own setting: {', '.join(sorted(unknown))}")
    for name, value in values.items():
        setattr(person, name, value)
    person.save(update_fields=list(values))
    return person


@transaction.atomic
def password_change(*, person: User, password: str) -> User:
    """Set a new password. Every session of the person ends, unless the caller renews its own."""
    person.set_password(password)
    person.save(update_fields=["password"])
    return person


def password_link_parts(*, person: User) -> dict[str, str]:
    """What a link for a new password is made of. Setting a password or signing in ends it."""
    uid = urlsafe_base64_encode(force_bytes(person.pk))
    return {"uidb64": uid, "token": default_token_generator.make_token(person)}


def sessions_end(*, person: User) -> User:
    """Sign the person out on every device. API tokens stay: they are revoked on their own."""
    User.objects.filter(pk=person.pk).update(session_generation=F("session_generation") + 1)
    person.refresh_from_db(fields=["session_generation"])
    return person


@transaction.atomic
def token_replace(*, person: User) -> str:
    """A new API token for the person; the one before, if any, stops working."""
    token_revoke(person=person)
    return str(Token.objects.create(user=person).key)


@transaction.atomic
def token_issue(*, person: User) -> str:
    """The person's API token, made if there is none: every device that signs in gets the same one."""
    token, _ = Token.objects.get_or_create(user=person)
    return str(token.key)


def token_revoke(*, person: User) -> None:
    """Take back the person's API token, if there is one."""
    Token.objects.filter(user=person).delete()


def person_seen(*, person: User, now: datetime | None = None) -> None:
    """Note that the person was here, at most once in ten minutes."""
    now = now or timezone.now()
    last = person.last_seen_at
    if last is None or (now - last).total_seconds() >= SEEN_EVERY_S:
        User.objects.filter(pk=person.pk).update(last_seen_at=now)
