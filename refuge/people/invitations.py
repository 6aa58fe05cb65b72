"""Invitations: a link that makes one account, within a week. Only a hash of its secret is kept."""

import hashlib
import secrets
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from refuge.people.errors import InvitationClosed, InvitationRepeated, InvitationUnknown
from refuge.people.models import Invitation, User
from refuge.people.services import Account, person_create

SECRET_BYTES = 32
VALID_FOR = timedelta(days=7)
# A phone that got no answer sends the same form again; later than this, the link is simply used up.
REPEAT_WITHIN = timedelta(minutes=10)

CLOSED = {
    Invitation.State.ACCEPTED: (
        "This invitation has been used. If that was you, sign in with the name and password you chose."
    ),
    Invitation.State.WITHDRAWN: "This invitation was withdrawn. Ask a manager for a new one.",
    Invitation.State.EXPIRED: (
        f"This invitation has expired: each is good for {VALID_FOR.days} days. Ask a manager for a new one."
    ),
}


def new_secret() -> str:
    """43 letters that nobody can guess, fit for a link."""
    return secrets.token_urlsafe(SECRET_BYTES)


def hash_of(secret: str) -> str:
    """What is stored of a secret. It is random and long, so one round of SHA-256 keeps it."""
    return hashlib.sha256(secret.encode()).hexdigest()


def invitation_create(
    *, secret: str, name: str, email: str, role: str, by: User, now: datetime | None = None
) -> Invitation:
    """An invitation under this secret. The same form twice is one; other details raise InvitationRepeated."""
    now = now or timezone.now()
    details = {"name": name, "email": email, "role": role}
    try:
        with transaction.atomic():
            return Invitation.objects.create(
                secret_hash=hash_of(secret),
                created_by=by,
                created_at=now,
                expires_at=now + VALID_FOR,
                **details,
            )
    except IntegrityError as error:
        made = Invitation.objects.get(secret_hash=hash_of(secret))
        if any(getattr(made, field) != value for field, value in details.items()):
            raise InvitationRepeated from error
        return made


def invitation_find(secret: str) -> Invitation:
    """The invitation with this secret; InvitationUnknown when there is none: 1 query."""
    found = Invitation.objects.select_related("accepted_by").filter(secret_hash=hash_of(secret)).first()
    if found is None:
        raise InvitationUnknown
    return found


@transaction.atomic
def invitation_withdraw(*, invitation_id: int, now: datetime | None = None) -> Invitation:
    """Take an invitation back. Twice is once; one that was used already raises InvitationClosed."""
    invitation = Invitation.objects.select_for_update().get(pk=invitation_id)
    if invitation.accepted_at is not None:
        raise InvitationClosed("This invitation has been used already. Remove the person's access instead.")
    if invitation.withdrawn_at is None:
        invitation.withdrawn_at = now or timezone.now()
        invitation.save(update_fields=["withdrawn_at"])
    return invitation


@transaction.atomic
def invitation_accept(*, secret: str, account: Account, now: datetime | None = None) -> User:
    """Make the account an invitation stands for. The same form again, soon after, finds the account made.

    Raises InvitationUnknown, InvitationClosed or SignInNameTaken.
    """
    now = now or timezone.now()
    invitation = Invitation.objects.select_for_update().filter(secret_hash=hash_of(secret)).first()
    if invitation is None:
        raise InvitationUnknown
    if repeated := _accepted_just_now(invitation, account, now):
        return repeated
    require_open(invitation, now)
    person = person_create(
        account=account,
        name=invitation.name,
        email=invitation.email,
        role=invitation.role,
        unit_system=invitation.created_by.unit_system,
    )
    invitation.accepted_by, invitation.accepted_at = person, now
    invitation.save(update_fields=["accepted_by", "accepted_at"])
    return person


def require_open(invitation: Invitation, now: datetime) -> None:
    """Raise InvitationClosed, saying why, unless the link still works at `now`."""
    state = invitation.state(now)
    if state != Invitation.State.OPEN:
        raise InvitationClosed(CLOSED[state])


def _accepted_just_now(invitation: Invitation, account: Account, now: datetime) -> User | None:
    """The account this invitation made moments ago, if the same name and password are given again."""
    person = invitation.accepted_by
    if person is None or invitation.accepted_at is None or now - invitation.accepted_at > REPEAT_WITHIN:
        return None
    same = person.username == account.username.lower() and person.check_password(account.password)
    return person if same and person.is_active else None
