"""The manager's pages and a person's own, by role."""

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from rest_framework.authentication import TokenAuthentication
from rest_framework.authtoken.models import Token
from rest_framework.exceptions import AuthenticationFailed

from refuge.people import services
from refuge.people.invitations import hash_of
from refuge.people.models import Invitation, Refuge, Role, User
from tests.people.conftest import browser_of
from tests.people.factories import PASSWORD, InvitationFactory, UserFactory

INVITING = {"name": "Eva Lindo", "role": "staff", "email": "eva@example.org"}
MANAGERS_ONLY = [
    ("get", "/people/"),
    ("get", "/people/{pk}/"),
    ("post", "/people/{pk}/role/"),
    ("post", "/people/{pk}/remove-access/"),
    ("post", "/people/{pk}/give-access/"),
    ("post", "/people/{pk}/password-link/"),
    ("get", "/people/invite/"),
    ("post", "/people/invite/"),
    ("post", "/people/invitations/1/withdraw/"),
    ("get", "/refuge/"),
    ("post", "/refuge/"),
]
OWN = [
    ("get", "/me/"),
    ("post", "/me/"),
    ("get", "/me/password/"),
    ("post", "/me/password/"),
    ("post", "/me/sign-out-elsewhere/"),
    ("post", "/me/token/"),
    ("post", "/me/token/revoke/"),
]


class TestWhoMayOpenWhat:
    @pytest.mark.parametrize(("method", "path"), MANAGERS_ONLY)
    @pytest.mark.parametrize("role", [Role.VOLUNTEER, Role.STAFF])
    def test_lower_roles_are_refused_in_words(self, manager, method, path, role):
        person = UserFactory(role=role)
        answer = getattr(browser_of(person), method)(path.format(pk=manager.pk))
        assert answer.status_code == 403
        assert "for managers" in answer.content.decode()
        manager.refresh_from_db()
        assert manager.is_active and manager.is_manager

    @pytest.mark.parametrize(("method", "path"), MANAGERS_ONLY + OWN)
    def test_strangers_are_led_to_sign_in(self, client, manager, method, path):
        answer = getattr(client, method)(path.format(pk=manager.pk))
        assert answer.status_code == 302
        assert answer.headers["Location"].startswith("/sign-in/?next=/")

    @pytest.mark.parametrize(("method", "path"), OWN)
    def test_everybody_has_their_own_pages(self, as_volunteer, method, path):
        assert getattr(as_volunteer, method)(path).status_code in {200, 302, 422}

    def test_a_page_for_posts_cannot_be_got(self, as_manager, manager):
        for method, path in MANAGERS_ONLY + OWN:
            if method == "post" and (("get", path) not in MANAGERS_ONLY + OWN):
                assert as_manager.get(path.format(pk=manager.pk)).status_code == 405, path


class TestPersonList:
    def count(self, client: Client) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get("/people/").status_code == 200
        return len(queries)

    def test_it_takes_as_many_queries_for_forty_people_as_for_two(self, as_manager):
        UserFactory()
        InvitationFactory()
        few = self.count(as_manager)
        UserFactory.create_batch(38)
        InvitationFactory.create_batch(20)
        assert self.count(as_manager) == few <= 7

    def test_it_shows_role_access_and_open_invitations(self, as_manager, volunteer, manager):
        services.person_remove_access(person_id=volunteer.pk, by=manager)
        InvitationFactory(name="Eva Lindo")
        InvitationFactory(name="Gone Guest", withdrawn_at="2026-01-01T00:00Z")
        page = as_manager.get("/people/").content.decode()
        assert "Bento Alves" in page and "no access" in page and "Volunteer, signs in as bento" in page
        assert "Eva Lindo" in page and "Gone Guest" not in page

    def test_last_seen_is_shown_in_the_zone_of_the_refuge(self, as_manager, volunteer, refuge):
        refuge.time_zone = "Asia/Kathmandu"  # UTC+05:45 all year (IANA time zone database)
        refuge.save()
        User.objects.filter(pk=volunteer.pk).update(last_seen_at="2026-03-01T20:00Z")
        assert "Last seen 2 Mar 2026, 01:45." in as_manager.get("/people/").content.decode()


class TestPersonDetail:
    def test_the_role_is_changed(self, as_manager, volunteer):
        assert as_manager.post(f"/people/{volunteer.pk}/role/", {"role": "staff"}).status_code == 302
        volunteer.refresh_from_db()
        assert volunteer.role == Role.STAFF

    def test_what_was_changed_is_shown_on_both_pages(self, as_manager, volunteer, manager):
        page = f"/people/{volunteer.pk}/"
        assert "has the role from the start" in as_manager.get(page).content.decode()
        as_manager.post(f"{page}role/", {"role": "staff"})
        as_manager.post(f"{page}remove-access/")
        as_manager.post(f"{page}give-access/")
        for path in (page, "/people/"):
            html = as_manager.get(path).content.decode().partition('id="changes"')[2]
            told = ["No access to staff", "Staff to no access", "Volunteer to staff"]
            assert [html.index(words) for words in told] == sorted(html.index(words) for words in told)
            assert html.count(f'<span class="who">{manager}</span>') == 3

    def test_the_page_costs_the_same_for_many_changes(self, as_manager, volunteer, manager):
        def count() -> int:
            with CaptureQueriesContext(connection) as queries:
                as_manager.get(f"/people/{volunteer.pk}/")
            return len(queries)

        services.person_change_role(person_id=volunteer.pk, role=Role.STAFF, by=manager)
        few = count()
        for role in (Role.VOLUNTEER, Role.STAFF, Role.VOLUNTEER):
            services.person_change_role(person_id=volunteer.pk, role=role, by=UserFactory(manager=True))
        assert count() == few

    def test_the_last_manager_is_told_why_not(self, as_manager, manager):
        answer = as_manager.post(f"/people/{manager.pk}/role/", {"role": "volunteer"})
        assert answer.status_code == 422
        assert "Make another person a manager first" in answer.content.decode()

    def test_a_manager_who_steps_down_is_led_to_the_days_work(self, as_manager, manager):
        UserFactory(manager=True)
        answer = as_manager.post(f"/people/{manager.pk}/role/", {"role": "staff"})
        assert answer.headers["Location"] == reverse("today")

    def test_a_role_that_does_not_exist_is_refused(self, as_manager, volunteer):
        assert as_manager.post(f"/people/{volunteer.pk}/role/", {"role": "king"}).status_code == 422

    def test_an_open_session_is_out_at_its_next_request(self, as_manager, as_volunteer, volunteer):
        assert as_volunteer.get("/me/").status_code == 200
        as_manager.post(f"/people/{volunteer.pk}/remove-access/")
        assert as_volunteer.get("/me/").headers["Location"] == "/sign-in/?next=/me/"

    def test_an_api_token_is_dead_at_its_next_request(self, as_manager, volunteer):
        key = services.token_replace(person=volunteer)
        assert TokenAuthentication().authenticate_credentials(key)[0] == volunteer
        as_manager.post(f"/people/{volunteer.pk}/remove-access/")
        with pytest.raises(AuthenticationFailed):
            TokenAuthentication().authenticate_credentials(key)

    def test_access_given_back_brings_no_old_session_back(self, as_manager, as_volunteer, volunteer):
        as_manager.post(f"/people/{volunteer.pk}/remove-access/")
        as_manager.post(f"/people/{volunteer.pk}/give-access/")
        assert as_volunteer.get("/me/").status_code == 302
        typed = {"username": "bento", "password": PASSWORD}
        assert Client().post("/sign-in/", typed).headers["Location"] == reverse("today")

    def test_own_access_stays(self, as_manager, manager):
        UserFactory(manager=True)
        as_manager.post(f"/people/{manager.pk}/remove-access/")
        assert as_manager.get("/people/").status_code == 200

    def test_nobody_by_that_number(self, as_manager):
        assert as_manager.get("/people/999/").status_code == 404
        assert as_manager.post("/people/999/remove-access/").status_code == 404

    def test_the_password_link_on_the_page_works(self, as_manager, volunteer):
        page = as_manager.post(f"/people/{volunteer.pk}/password-link/").content.decode()
        path = re.search(r'value="http://localhost:8000(/new-password/[^"]+)"', page).group(1)
        assert "<svg" in page
        assert Client().get(path, follow=True).context["validlink"]


class TestInviting:
    def invite(self, client: Client, **changes: str):
        secret = client.get("/people/invite/").context["form"]["secret"].value()
        return client.post("/people/invite/", INVITING | {"secret": secret} | changes), secret

    def test_the_answer_shows_link_and_symbol_once(self, as_manager, manager):
        answer, secret = self.invite(as_manager)
        page = answer.content.decode()
        assert f'value="http://localhost:8000/join/{secret}/"' in page and "<svg" in page
        assert "no-store" in answer.headers["Cache-Control"]
        made = Invitation.objects.get()
        assert (made.secret_hash, made.created_by, made.role) == (hash_of(secret), manager, Role.STAFF)
        assert secret not in as_manager.get("/people/").content.decode()

    def test_every_form_has_a_secret_of_its_own(self, as_manager):
        secrets = {as_manager.get("/people/invite/").context["form"]["secret"].value() for _ in range(5)}
        assert len(secrets) == 5

    def test_a_double_submit_makes_one_invitation(self, as_manager):
        _answer, secret = self.invite(as_manager)
        again = as_manager.post("/people/invite/", INVITING | {"secret": secret})
        assert again.status_code == 200
        assert Invitation.objects.count() == 1

    def test_the_form_sent_again_for_somebody_else_asks_first_and_then_works(self, as_manager):
        _answer, secret = self.invite(as_manager)
        changed = INVITING | {"name": "Rui Paz"}
        asked = as_manager.post("/people/invite/", changed | {"secret": secret})
        assert asked.status_code == 422
        fresh = asked.context["form"]["secret"].value()
        assert fresh != secret and 'value="Rui Paz"' in asked.content.decode()
        assert as_manager.post("/people/invite/", changed | {"secret": fresh}).status_code == 200
        assert Invitation.objects.count() == 2

    @pytest.mark.parametrize("secret", ["", "short", "s" * 42 + "/", "s" * 44])
    def test_a_secret_of_another_shape_is_refused(self, as_manager, secret):
        answer, _secret = self.invite(as_manager, secret=secret)
        assert answer.status_code == 422
        assert not Invitation.objects.exists()

    def test_withdrawing_kills_the_link(self, as_manager):
        _answer, secret = self.invite(as_manager)
        as_manager.post(f"/people/invitations/{Invitation.objects.get().pk}/withdraw/")
        assert Client().get(f"/join/{secret}/").status_code == 410

    def test_from_invitation_to_the_list_of_people(self, as_manager):
        _answer, secret = self.invite(as_manager)
        guest = Client()
        guest.post(f"/join/{secret}/", {"username": "eva", "password1": PASSWORD, "password2": PASSWORD})
        assert guest.get("/me/").status_code == 200
        page = as_manager.get("/people/").content.decode()
        assert "Staff, signs in as eva" in page and "Open invitations" not in page


class TestMySettings:
    SETTINGS = {
        "name": "Bento A.",
        "email": "bento@example.org",
        "unit_system": "us",
        "theme": "dark",
        "role": "manager",
        "is_active": "",
    }

    def test_they_are_saved_and_the_role_is_not_among_them(self, as_volunteer, volunteer):
        as_volunteer.post("/me/", self.SETTINGS)
        volunteer.refresh_from_db()
        assert (volunteer.name, volunteer.unit_system, volunteer.theme) == ("Bento A.", "us", "dark")
        assert (volunteer.role, volunteer.is_active, volunteer.wants_digest) == ("volunteer", True, False)
        assert 'data-theme="dark"' in as_volunteer.get("/me/").content.decode()

    def test_a_mistake_changes_nothing_and_loses_nothing(self, as_volunteer, volunteer):
        answer = as_volunteer.post("/me/", self.SETTINGS | {"email": "no address"})
        assert answer.status_code == 422
        assert 'value="no address"' in answer.content.decode()
        volunteer.refresh_from_db()
        assert volunteer.name == "Bento Alves"

    def test_a_new_password_ends_the_other_devices_only(self, as_volunteer, volunteer):
        other = browser_of(volunteer)
        typed = {
            "old_password": PASSWORD,
            "new_password1": "lapwing under rain",
            "new_password2": "lapwing under rain",
        }
        assert as_volunteer.post("/me/password/", typed).status_code == 302
        assert as_volunteer.get("/me/").status_code == 200
        assert other.get("/me/").status_code == 302

    def test_a_wrong_present_password_changes_nothing(self, as_volunteer, volunteer):
        typed = {"old_password": "wrong", "new_password1": "lapwing under rain"}
        answer = as_volunteer.post("/me/password/", typed | {"new_password2": "lapwing under rain"})
        assert "not your present password" in answer.content.decode()
        volunteer.refresh_from_db()
        assert volunteer.check_password(PASSWORD)

    def test_sign_out_elsewhere_keeps_this_device(self, as_volunteer, volunteer):
        other = browser_of(volunteer)
        as_volunteer.post("/me/sign-out-elsewhere/")
        assert as_volunteer.get("/me/").status_code == 200
        assert other.get("/me/").status_code == 302

    def test_the_token_is_shown_once_and_can_be_revoked(self, as_volunteer, volunteer):
        answer = as_volunteer.post("/me/token/")
        key = Token.objects.get(user=volunteer).key
        assert key in answer.content.decode() and "no-store" in answer.headers["Cache-Control"]
        assert key not in as_volunteer.get("/me/").content.decode()
        as_volunteer.post("/me/token/revoke/")
        assert not Token.objects.exists()


class TestRefugeSettings:
    TYPED = {"refuge_name": "Alder Pools", "time_zone": "America/Bogota", "morning_at": "05:45"}

    def test_they_are_saved_in_metres_whatever_was_typed(self, as_manager, manager):
        services.my_settings_change(person=manager, unit_system="us")
        assert as_manager.post("/refuge/", self.TYPED | {"elevation_m": "1000"}).status_code == 302
        refuge = Refuge.objects.get()
        assert (refuge.name, refuge.time_zone) == ("Alder Pools", "America/Bogota")
        assert refuge.elevation_m == pytest.approx(304.8)

    def test_the_page_shows_what_is_kept(self, as_manager, refuge):
        services.refuge_change(
            name="Alder Water", time_zone="Europe/Lisbon", morning_at=refuge.morning_at, elevation_m=240.0
        )
        page = as_manager.get("/refuge/").content.decode()
        assert 'value="240"' in page and 'value="Europe/Lisbon"' in page and 'value="07:00"' in page

    def test_a_mistake_changes_nothing(self, as_manager):
        typed = self.TYPED | {"elevation_m": "1000", "time_zone": "Nowhere"}
        assert as_manager.post("/refuge/", typed).status_code == 422
        assert Refuge.objects.get().name == "Alder Water"

    def test_what_electricity_costs_may_be_said_and_taken_out_again(self, as_manager):
        typed = self.TYPED | {"elevation_m": "300"}
        assert as_manager.post("/refuge/", typed | {"price_per_kwh": "0.31"}).status_code == 302
        assert Refuge.objects.get().price_per_kwh == 0.31
        assert 'value="0.31"' in as_manager.get("/refuge/").content.decode()
        assert as_manager.post("/refuge/", typed | {"price_per_kwh": "-1"}).status_code == 422
        as_manager.post("/refuge/", typed)
        assert Refuge.objects.get().price_per_kwh is None
