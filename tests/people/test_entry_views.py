"""The ways in, as a browser meets them."""

import pytest
from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from refuge.people import services
from refuge.people.models import Invitation, Refuge, User
from refuge.people.tries import ALLOWED
from tests.people.factories import PASSWORD, InvitationFactory, UserFactory, expired

SIGN_IN = "/sign-in/"
FOUNDING = {
    "refuge_name": "Alder Water",
    "time_zone": "Europe/Lisbon",
    "morning_at": "06:30",
    "elevation_m": "800 ft",
    "name": "Ines Tarouca",
    "email": "",
    "unit_system": "us",
    "username": "Ines",
    "password1": PASSWORD,
    "password2": PASSWORD,
}
ACCOUNT = {"username": "guest", "password1": PASSWORD, "password2": PASSWORD}


def signed_in(client: Client) -> User | None:
    pk = client.session.get("_auth_user_id")
    return User.objects.get(pk=pk) if pk else None


@pytest.mark.django_db
class TestWelcome:
    def test_every_page_leads_there_while_there_is_no_refuge(self, client):
        for path in ("/", "/people/", SIGN_IN, "/nowhere/", "/welcomed"):
            assert client.get(path).headers["Location"] == "/welcome", path

    def test_the_form_makes_the_refuge_and_signs_its_manager_in(self, client):
        answer = client.post("/welcome", FOUNDING)
        assert answer.headers["Location"] == reverse("site_setup")
        refuge = Refuge.objects.get()
        assert refuge.elevation_m == pytest.approx(800 * 0.3048)  # the international foot is 0.3048 m
        assert refuge.founded_on == timezone.now().astimezone(refuge.zone).date()
        assert (refuge.time_zone, refuge.morning_at.hour) == ("Europe/Lisbon", 6)
        assert signed_in(client).is_manager and signed_in(client).unit_system == "us"

    def test_a_second_submit_is_refused_kindly(self, client):
        client.post("/welcome", FOUNDING)
        answer = Client().post("/welcome", FOUNDING | {"username": "other"})
        assert answer.status_code == 409
        assert "set up already" in answer.content.decode()
        assert User.objects.count() == 1

    def test_it_is_closed_once_there_is_a_refuge(self, as_manager):
        assert as_manager.get("/welcome").headers["Location"] == reverse("today")

    @pytest.mark.parametrize(
        ("field", "value", "words"),
        [
            ("time_zone", "Lisbon", "Continent/City"),
            ("elevation_m", "9000", "at most"),
            ("elevation_m", "high", "cannot|no amount"),
            ("elevation_m", "nan", "no amount"),
            ("elevation_m", "5 kg", "5 kg|kg"),
            ("morning_at", "25:00", "valid time"),
            ("password2", "something else", "differ"),
            ("password1", "short", "too short"),
            ("username", "two words", "valid username"),
            ("refuge_name", "", "is missing"),
        ],
    )
    def test_a_mistake_is_named_beside_its_field_and_nothing_typed_is_lost(self, client, field, value, words):
        typed = FOUNDING | {field: value}
        if field == "password1":
            typed |= {"password2": value}
        answer = client.post("/welcome", typed)
        assert answer.status_code == 422
        errors = " ".join(answer.context["form"].errors[field])
        assert any(word in errors for word in words.split("|")), errors
        assert not Refuge.objects.exists() and not User.objects.exists()
        if field != "refuge_name":
            assert 'value="Alder Water"' in answer.content.decode()

    def test_a_password_that_is_the_own_name_is_refused(self, client):
        own = {"password1": "inestarouca", "password2": "inestarouca", "name": "Ines Tarouca"}
        answer = client.post("/welcome", FOUNDING | own | {"username": "inestarouca"})
        assert "too similar" in " ".join(answer.context["form"].errors["password1"])


class TestSignIn:
    def test_the_name_is_read_in_any_case(self, client, volunteer):
        answer = client.post(SIGN_IN, {"username": "Bento", "password": PASSWORD})
        assert answer.headers["Location"] == reverse("today")
        assert signed_in(client) == volunteer

    def test_it_leads_back_to_the_page_that_was_asked_for(self, client, manager):
        asked = client.get("/people/").headers["Location"]
        assert asked == f"{SIGN_IN}?next=/people/"
        answer = client.post(asked, {"username": "ines", "password": PASSWORD, "next": "/people/"})
        assert answer.headers["Location"] == "/people/"

    def test_it_leads_to_no_other_site(self, client, manager):
        typed = {"username": "ines", "password": PASSWORD, "next": "https://elsewhere.example/"}
        assert client.post(SIGN_IN, typed).headers["Location"] == reverse("today")

    def test_a_wrong_password_says_what_would_do(self, client, volunteer):
        answer = client.post(SIGN_IN, {"username": "bento", "password": "wrong"})
        assert answer.status_code == 422
        assert "do not go together" in answer.content.decode()
        assert 'value="bento"' in answer.content.decode()

    def test_without_access_the_right_password_is_no_way_in(self, client, volunteer):
        User.objects.update(is_active=False)
        assert client.post(SIGN_IN, {"username": "bento", "password": PASSWORD}).status_code == 422
        assert signed_in(client) is None

    def test_sign_out_takes_a_post(self, as_volunteer):
        assert as_volunteer.get("/sign-out/").status_code == 405
        assert as_volunteer.post("/sign-out/").headers["Location"] == SIGN_IN
        assert signed_in(as_volunteer) is None

    def test_the_admin_has_no_password_door_of_its_own(self, client, as_volunteer):
        assert client.get("/admin/login/?next=/admin/").headers["Location"] == f"{SIGN_IN}?next=/admin/"
        assert as_volunteer.get("/admin/login/").status_code == 403
        assert as_volunteer.get("/admin/").status_code in {302, 403}


class TestGuessing:
    def guess(self, client: Client, username: str = "bento", **more: str):
        return client.post(SIGN_IN, {"username": username, "password": "wrong"}, **more)

    def test_after_five_failures_even_the_right_password_waits(self, client, volunteer):
        for _ in range(ALLOWED):
            assert self.guess(client).status_code == 422
        answer = client.post(SIGN_IN, {"username": "BENTO", "password": PASSWORD})
        assert answer.status_code == 429
        assert "Wait 15 minutes" in answer.content.decode()
        assert signed_in(client) is None

    def test_another_name_and_another_address_are_not_held_up(self, client, volunteer, manager):
        for _ in range(ALLOWED):
            self.guess(client)
        assert self.guess(client, "ines").status_code == 422
        typed = {"username": "bento", "password": PASSWORD}
        assert client.post(SIGN_IN, typed, REMOTE_ADDR="192.0.2.7").status_code == 302

    def test_the_right_password_forgets_the_failures(self, client, volunteer):
        for _ in range(ALLOWED - 1):
            self.guess(client)
        client.post(SIGN_IN, {"username": "bento", "password": PASSWORD})
        client.post("/sign-out/")
        assert self.guess(client).status_code == 422

    def test_an_address_claimed_by_the_asker_counts_only_behind_a_trusted_proxy(self, client, volunteer):
        for number in range(ALLOWED):
            self.guess(client, HTTP_X_FORWARDED_FOR=f"192.0.2.{number}")
        assert self.guess(client, HTTP_X_FORWARDED_FOR="192.0.2.99").status_code == 429


@pytest.mark.django_db
class TestJoin:
    @pytest.fixture(autouse=True)
    def some_refuge(self, refuge: Refuge) -> None:
        self.path = f"/join/{'s' * 43}/"

    def test_the_link_makes_an_account_and_signs_it_in(self, client):
        InvitationFactory(secret="s" * 43, name="Bento")
        assert "Welcome, Bento" in client.get(self.path).content.decode()
        assert client.post(self.path, ACCOUNT).headers["Location"] == reverse("today")
        assert signed_in(client).name == "Bento"

    def test_a_double_submit_ends_at_the_same_place(self, client):
        InvitationFactory(secret="s" * 43)
        client.post(self.path, ACCOUNT)
        again = Client()
        assert again.post(self.path, ACCOUNT).headers["Location"] == reverse("today")
        assert signed_in(again) == signed_in(client)
        assert User.objects.filter(username="guest").count() == 1

    @pytest.mark.parametrize("method", ["get", "post"])
    @pytest.mark.parametrize(
        ("changes", "words"),
        [({}, "has been used"), ({"withdrawn_at": "now"}, "was withdrawn"), ("expired", "7 days")],
    )
    def test_a_closed_link_says_why(self, client, method, changes, words):
        fields = expired() if changes == "expired" else {}
        made = InvitationFactory(secret="s" * 43, **fields)
        if words == "has been used":
            made.accepted_by, made.accepted_at = UserFactory(), made.created_at
        if words == "was withdrawn":
            made.withdrawn_at = made.created_at
        made.save()
        answer = getattr(client, method)(self.path, ACCOUNT if method == "post" else {})
        assert answer.status_code == 410
        assert words in answer.content.decode()
        assert signed_in(client) is None

    def test_an_unknown_link_says_so(self, client):
        answer = client.get(f"/join/{'x' * 43}/")
        assert answer.status_code == 404
        assert "all of it was copied" in answer.content.decode()

    def test_a_taken_name_is_named_beside_its_field(self, client):
        UserFactory(username="guest")
        InvitationFactory(secret="s" * 43)
        answer = client.post(self.path, ACCOUNT)
        assert "already" in " ".join(answer.context["form"].errors["username"])
        assert Invitation.objects.get().accepted_at is None

    def test_the_page_is_kept_in_no_cache(self, client):
        InvitationFactory(secret="s" * 43)
        assert "no-store" in client.get(self.path).headers["Cache-Control"]


class TestNewPassword:
    def path(self, person: User) -> str:
        uid = urlsafe_base64_encode(force_bytes(person.pk))
        return f"/new-password/{uid}/{default_token_generator.make_token(person)}/"

    def set_password(self, client: Client, path: str, password: str = "lapwing under rain"):
        opened = client.get(path)
        typed = {"new_password1": password, "new_password2": password}
        return client.post(opened.headers["Location"], typed) if opened.status_code == 302 else opened

    def test_the_link_sets_a_password_once_and_signs_in(self, client, volunteer):
        path = self.path(volunteer)
        assert self.set_password(client, path).headers["Location"] == reverse("today")
        assert signed_in(client) == volunteer
        volunteer.refresh_from_db()
        assert volunteer.check_password("lapwing under rain")
        assert "used or is too old" in self.set_password(Client(), path).content.decode()

    def test_it_is_no_way_round_removed_access(self, client, volunteer, manager):
        path = self.path(volunteer)
        services.person_remove_access(person_id=volunteer.pk, by=manager)
        assert self.set_password(client, path).status_code == 410
        assert signed_in(client) is None

    def test_the_password_rules_hold_here_too(self, client, volunteer):
        assert self.set_password(client, self.path(volunteer), "password12").status_code == 200
        assert signed_in(client) is None


def test_the_settings_name_the_pages_of_this_app():
    assert (settings.LOGIN_URL, settings.LOGIN_REDIRECT_URL) == ("sign_in", "today")
