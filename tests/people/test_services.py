"""What the services promise: nobody locks everybody out, and a repeat changes nothing."""

import threading
from collections.abc import Callable
from datetime import time, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connections
from django.utils import timezone
from rest_framework.authtoken.models import Token

from refuge.people import services
from refuge.people.errors import (
    AlreadyFounded,
    InvitationClosed,
    InvitationRepeated,
    InvitationUnknown,
    LastManager,
    OwnAccess,
    SignInNameTaken,
)
from refuge.people.invitations import (
    REPEAT_WITHIN,
    VALID_FOR,
    hash_of,
    invitation_accept,
    invitation_create,
    invitation_withdraw,
    new_secret,
)
from refuge.people.models import Invitation, Refuge, Role, User
from refuge.people.selectors import role_changes
from refuge.people.services import Account
from tests.people.factories import PASSWORD, InvitationFactory, RefugeFactory, UserFactory, expired


def found(**changes: Any) -> User:
    values = {
        "name": "Alder Water",
        "time_zone": "Europe/Lisbon",
        "morning_at": time(6, 30),
        "elevation_m": 240.0,
        "manager_name": "Ines Tarouca",
        "email": "",
        "unit_system": "metric",
        "account": Account(username="Ines", password=PASSWORD),
    }
    return services.refuge_found(**values | changes)


def in_two_threads(work: Callable[[int], Any]) -> list[Any]:
    """What work(0) and work(1) gave or raised, started at the same moment in two connections."""
    outcomes: list[Any] = [None, None]
    ready = threading.Barrier(2)

    def run(number: int) -> None:
        ready.wait()
        try:
            outcomes[number] = work(number)
        except Exception as error:
            outcomes[number] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(number,)) for number in (0, 1)]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]
    return outcomes


@pytest.mark.django_db
class TestRefugeFound:
    def test_makes_the_refuge_and_an_active_manager(self):
        person = found()
        assert Refuge.objects.get().elevation_m == 240.0
        assert (person.username, person.role, person.is_active) == ("ines", Role.MANAGER, True)
        assert person.check_password(PASSWORD)

    def test_a_second_founding_is_refused_and_leaves_no_account(self):
        found()
        with pytest.raises(AlreadyFounded):
            found(account=Account(username="other", password=PASSWORD))
        assert User.objects.count() == 1

    def test_a_taken_name_leaves_no_refuge(self):
        UserFactory(username="ines")
        with pytest.raises(SignInNameTaken):
            found()
        assert not Refuge.objects.exists()

    def test_an_elevation_off_the_earth_is_not_called_a_second_founding(self):
        with pytest.raises(IntegrityError):
            found(elevation_m=9000.0)


@pytest.mark.django_db(transaction=True)
class TestTwoAtOnce:
    def test_two_foundings_make_one_refuge(self):
        outcomes = in_two_threads(
            lambda number: found(account=Account(username=f"first{number}", password=PASSWORD))
        )
        assert {type(outcome) for outcome in outcomes} == {User, AlreadyFounded}
        assert (Refuge.objects.count(), User.objects.count()) == (1, 1)

    def test_two_managers_cannot_take_each_others_role(self):
        pair = [UserFactory(manager=True), UserFactory(manager=True)]
        outcomes = in_two_threads(
            lambda number: services.person_change_role(
                person_id=pair[number].pk, role=Role.STAFF, by=pair[1 - number]
            )
        )
        assert {type(outcome) for outcome in outcomes} == {User, LastManager}
        assert User.objects.filter(role=Role.MANAGER, is_active=True).count() == 1

    def test_two_managers_cannot_shut_each_other_out(self):
        pair = [UserFactory(manager=True), UserFactory(manager=True)]
        outcomes = in_two_threads(
            lambda number: services.person_remove_access(person_id=pair[1 - number].pk, by=pair[number])
        )
        assert {type(outcome) for outcome in outcomes} == {User, LastManager}

    def test_one_link_opened_twice_makes_one_account(self):
        RefugeFactory()
        InvitationFactory(secret="s" * 43)
        outcomes = in_two_threads(
            lambda number: invitation_accept(
                secret="s" * 43, account=Account(username=f"guest{number}", password=PASSWORD)
            )
        )
        assert {type(outcome) for outcome in outcomes} == {User, InvitationClosed}
        assert User.objects.filter(username__startswith="guest").count() == 1


@pytest.mark.django_db
class TestRolesAndAccess:
    def test_the_last_manager_keeps_the_role(self):
        only = UserFactory(manager=True)
        UserFactory(manager=True, is_active=False)
        with pytest.raises(LastManager):
            services.person_change_role(person_id=only.pk, role=Role.STAFF, by=only)
        only.refresh_from_db()
        assert only.role == Role.MANAGER

    def test_the_last_manager_keeps_access(self):
        only, staff = UserFactory(manager=True), UserFactory(staff=True)
        with pytest.raises(LastManager):
            services.person_remove_access(person_id=only.pk, by=staff)

    def test_nobody_removes_their_own_access(self):
        one, _other = UserFactory(manager=True), UserFactory(manager=True)
        with pytest.raises(OwnAccess):
            services.person_remove_access(person_id=one.pk, by=one)

    def test_a_manager_without_access_may_get_a_lower_role(self):
        manager = UserFactory(manager=True)
        gone = UserFactory(manager=True, is_active=False)
        changed = services.person_change_role(person_id=gone.pk, role=Role.STAFF, by=manager)
        assert changed.role == Role.STAFF

    def test_who_changed_a_role_or_the_access_is_kept_once(self):
        manager, person = UserFactory(manager=True, name="Mar"), UserFactory()
        for _ in range(2):
            services.person_change_role(person_id=person.pk, role=Role.STAFF, by=manager)
        for _ in range(2):
            services.person_remove_access(person_id=person.pk, by=manager)
        for _ in range(2):
            services.person_give_access(person_id=person.pk, by=manager)
        kept = [(each.was, each.became) for each in role_changes(person)]
        assert kept == [("none", "staff"), ("staff", "none"), ("volunteer", "staff")]
        assert {each.by for each in role_changes()} == {manager}

    def test_a_change_that_is_refused_is_not_kept(self):
        only = UserFactory(manager=True)
        with pytest.raises(LastManager):
            services.person_change_role(person_id=only.pk, role=Role.STAFF, by=only)
        assert not role_changes().exists()

    def test_removing_access_takes_the_token_and_the_open_invitations(self):
        UserFactory(manager=True)
        leaving = UserFactory(manager=True)
        services.token_replace(person=leaving)
        kept, used = InvitationFactory(created_by=leaving), InvitationFactory(created_by=leaving)
        used.accepted_by, used.accepted_at = UserFactory(), timezone.now()
        used.save()
        services.person_remove_access(person_id=leaving.pk, by=UserFactory(manager=True))
        kept.refresh_from_db()
        used.refresh_from_db()
        assert not Token.objects.filter(user=leaving).exists()
        assert kept.withdrawn_at is not None and used.withdrawn_at is None

    def test_a_new_token_ends_the_one_before(self):
        person = UserFactory()
        first, second = services.token_replace(person=person), services.token_replace(person=person)
        assert first != second
        assert [token.key for token in Token.objects.filter(user=person)] == [second]

    def test_seen_is_written_once_in_ten_minutes(self, django_assert_num_queries):
        person, now = UserFactory(), timezone.now()
        services.person_seen(person=person, now=now)
        person.refresh_from_db()
        with django_assert_num_queries(0):
            services.person_seen(person=person, now=now + timedelta(minutes=9, seconds=59))
        with django_assert_num_queries(1):
            services.person_seen(person=person, now=now + timedelta(minutes=10))

    def test_only_own_settings_can_be_changed_as_own_settings(self):
        person = UserFactory()
        with pytest.raises(TypeError, match="role"):
            services.my_settings_change(person=person, role=Role.MANAGER)


@pytest.mark.django_db
class TestNames:
    def test_the_database_refuses_a_name_that_differs_in_case_only(self):
        UserFactory(username="ines")
        with pytest.raises(IntegrityError):
            UserFactory(username="Ines")

    def test_a_superuser_made_on_the_command_line_is_a_manager(self):
        assert User.objects.create_superuser("Root", password=PASSWORD).is_manager

    def test_a_zone_that_is_not_in_the_list_is_refused(self):
        with pytest.raises(ValidationError, match="Continent/City"):
            Refuge(name="Alder Water", time_zone="Mars/Olympus").full_clean()


@pytest.mark.django_db
class TestInvitations:
    def make(self, secret: str, **changes: Any) -> Invitation:
        details = {"name": "Bento", "email": "", "role": Role.VOLUNTEER} | changes
        return invitation_create(secret=secret, by=self.by, **details)

    @pytest.fixture(autouse=True)
    def inviter(self, db: None) -> None:
        self.by = UserFactory(manager=True, unit_system="us")

    def accept(self, secret: str, username: str = "bento", password: str = PASSWORD, **more: Any) -> User:
        return invitation_accept(secret=secret, account=Account(username=username, password=password), **more)

    def test_only_a_hash_is_kept_and_it_ends_after_a_week(self):
        secret = new_secret()
        made = self.make(secret)
        assert len(secret) == 43 and secret not in {str(v) for v in vars(made).values()}
        assert made.secret_hash == hash_of(secret)
        assert made.expires_at - made.created_at == VALID_FOR == timedelta(days=7)

    def test_the_hash_is_sha_256(self):
        # FIPS 180-4 example "abc", as printed in the NIST example values for SHA-256.
        assert hash_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

    def test_the_same_form_twice_is_one_invitation(self):
        assert self.make("s" * 43) == self.make("s" * 43)
        assert Invitation.objects.count() == 1

    def test_the_same_form_for_somebody_else_is_refused(self):
        self.make("s" * 43)
        with pytest.raises(InvitationRepeated):
            self.make("s" * 43, role=Role.MANAGER)

    def test_whoever_joins_has_the_role_and_the_inviters_units(self):
        self.make("s" * 43, role=Role.STAFF, email="bento@example.org")
        person = self.accept("s" * 43, username="Bento")
        assert (person.username, person.name, person.role) == ("bento", "Bento", Role.STAFF)
        assert (person.unit_system, person.email) == ("us", "bento@example.org")
        assert Invitation.objects.get().accepted_by == person

    def test_the_same_answer_again_finds_the_account(self):
        self.make("s" * 43)
        assert self.accept("s" * 43) == self.accept("s" * 43)
        assert User.objects.filter(username="bento").count() == 1

    @pytest.mark.parametrize("other", [{"username": "eva"}, {"password": "another pass phrase"}])
    def test_a_used_link_is_closed_to_anything_else(self, other: dict[str, str]):
        self.make("s" * 43)
        self.accept("s" * 43)
        with pytest.raises(InvitationClosed, match="has been used"):
            self.accept("s" * 43, **other)

    def test_a_used_link_is_closed_later_even_to_the_same_answer(self):
        self.make("s" * 43)
        self.accept("s" * 43)
        later = timezone.now() + REPEAT_WITHIN + timedelta(seconds=1)
        with pytest.raises(InvitationClosed, match="has been used"):
            self.accept("s" * 43, now=later)

    def test_a_used_link_lets_nobody_back_in_whose_access_was_removed(self):
        self.make("s" * 43)
        person = self.accept("s" * 43)
        services.person_remove_access(person_id=person.pk, by=self.by)
        with pytest.raises(InvitationClosed):
            self.accept("s" * 43)

    def test_a_withdrawn_link_is_closed(self):
        made = self.make("s" * 43)
        invitation_withdraw(invitation_id=made.pk)
        invitation_withdraw(invitation_id=made.pk)
        with pytest.raises(InvitationClosed, match="withdrawn"):
            self.accept("s" * 43)

    def test_a_link_is_open_until_the_moment_it_ends(self):
        made = self.make("s" * 43)
        with pytest.raises(InvitationClosed, match="expired"):
            self.accept("s" * 43, now=made.expires_at)
        assert self.accept("s" * 43, now=made.expires_at - timedelta(microseconds=1))

    def test_an_expired_link_is_closed(self):
        InvitationFactory(secret="s" * 43, **expired())
        with pytest.raises(InvitationClosed, match="7 days"):
            self.accept("s" * 43)

    def test_a_used_invitation_cannot_be_withdrawn(self):
        made = self.make("s" * 43)
        self.accept("s" * 43)
        with pytest.raises(InvitationClosed, match="Remove the person"):
            invitation_withdraw(invitation_id=made.pk)

    def test_a_link_nobody_made_is_unknown(self):
        with pytest.raises(InvitationUnknown):
            self.accept("t" * 43)

    def test_a_taken_name_leaves_the_invitation_open(self):
        UserFactory(username="bento")
        self.make("s" * 43)
        with pytest.raises(SignInNameTaken):
            self.accept("s" * 43, username="Bento")
        assert Invitation.objects.get().accepted_at is None
