"""Checks of the settings that Django's own do not make: `clearmere check` shows them."""

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register


@register(Tags.security)
def base_url_is_an_address(app_configs: Sequence[Any] | None, **kwargs: Any) -> list[CheckMessage]:
    """A wrong address would only be noticed in somebody's e-mail."""
    parts = urlsplit(settings.BASE_URL)
    if parts.scheme in {"http", "https"} and parts.hostname and parts.path == "":
        return []
    return [
        Error(
            f"CLEARMERE_BASE_URL is no address that a link can start with: {settings.BASE_URL!r}.",
            hint="Write it like https://refuge.example.org, without a path.",
            id="clearmere.E001",
        )
    ]


@register(Tags.security, deploy=True)
def https_links_over_https(app_configs: Sequence[Any] | None, **kwargs: Any) -> list[CheckMessage]:
    if not settings.BASE_URL.startswith("https://") or settings.SESSION_COOKIE_SECURE:
        return []
    return [
        Warning(
            "Links use HTTPS, but cookies may travel in the clear.",
            hint="Set CLEARMERE_HTTPS=1 (and CLEARMERE_TRUST_PROXY=1 behind a proxy).",
            id="clearmere.W001",
        )
    ]


@register(Tags.security, deploy=True)
def any_host_is_a_choice(app_configs: Sequence[Any] | None, **kwargs: Any) -> list[CheckMessage]:
    if "*" not in settings.ALLOWED_HOSTS:
        return []
    return [
        Warning(
            "Any host name is answered.",
            hint="List the names people type in CLEARMERE_HOSTS, comma separated.",
            id="clearmere.W002",
        )
    ]
