import pytest
from django.core.checks import run_checks


def found(*, deploy: bool = False) -> set[str]:
    checks = run_checks(tags=["security"], include_deployment_checks=deploy)
    return {message.id for message in checks if str(message.id).startswith("clearmere.")}


@pytest.mark.parametrize(
    "url", ["refuge.example.org", "ftp://refuge.example.org", "https://x.example/path", ""]
)
def test_links_that_could_not_be_followed_are_an_error(settings, url):
    settings.BASE_URL = url
    assert found() == {"clearmere.E001"}


def test_https_links_with_cookies_in_the_clear_are_warned_of(settings):
    settings.BASE_URL = "https://refuge.example.org"
    settings.SESSION_COOKIE_SECURE = False
    assert "clearmere.W001" in found(deploy=True)
    settings.SESSION_COOKIE_SECURE = True
    assert "clearmere.W001" not in found(deploy=True)


def test_answering_to_any_name_is_warned_of(settings):
    settings.ALLOWED_HOSTS = ["*"]
    assert "clearmere.W002" in found(deploy=True)
