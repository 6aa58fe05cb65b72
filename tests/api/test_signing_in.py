"""A token for a name and a password."""

import pytest
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient

from tests.factories import UserFactory

PASSWORD = "a long enough password"


@pytest.fixture
def person(refuge):
    return UserFactory(username="ines", name="Ines Tarouca", staff=True)


def sign_in(username="ines", password=PASSWORD):
    return APIClient().post("/api/sign-in/", {"username": username, "password": password})


class TestSignIn:
    def test_the_token_opens_the_api(self, person):
        answer = sign_in(" Ines")
        assert answer.status_code == 200
        assert answer.json() == {"token": Token.objects.get().key, "name": "Ines Tarouca", "role": "staff"}
        client = APIClient()
        client.credentials(HTTP_AUTHORIZATION=f"Token {answer.json()['token']}")
        assert client.get("/api/tasks/").status_code == 200

    def test_a_second_device_gets_the_same_token(self, person):
        assert sign_in().json() == sign_in().json()

    @pytest.mark.parametrize("body", [{"password": "wrong password"}, {"username": "nobody"}])
    def test_a_wrong_name_and_a_wrong_password_are_answered_alike(self, person, body):
        answer = sign_in(**body)
        assert answer.status_code == 400
        assert "do not go together" in answer.json()["non_field_errors"][0]
        assert not Token.objects.exists()

    def test_too_many_wrong_passwords_close_the_door_to_the_right_one(self, person):
        for _ in range(5):
            assert sign_in(password="wrong password").status_code == 400
        answer = sign_in()
        assert answer.status_code == 429 and int(answer["Retry-After"]) == 900
        assert not Token.objects.exists()

    def test_removed_access(self, person):
        person.is_active = False
        person.save()
        assert sign_in().status_code == 400

    @pytest.mark.parametrize(
        "body", [{}, {"username": "ines"}, {"username": "i", "password": "x", "role": "y"}]
    )
    def test_what_is_missing_or_unknown_is_named(self, refuge, body):
        answer = APIClient().post("/api/sign-in/", body)
        assert answer.status_code == 400 and answer.json()

    def test_a_form_is_not_taken(self, person):
        answer = APIClient().post(
            "/api/sign-in/", "username=ines", content_type="application/x-www-form-urlencoded"
        )
        assert answer.status_code == 415
