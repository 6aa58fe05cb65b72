"""The page policy sent with every answer: scripts, styles and pictures come from here and nowhere else."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

GetResponse = Callable[[HttpRequest], HttpResponseBase]


class ContentSecurityPolicyMiddleware:
    """Adds Content-Security-Policy and Permissions-Policy unless the view has set its own."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response
        self.policy = "; ".join(f"{name} {value}" for name, value in settings.CONTENT_SECURITY_POLICY.items())

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        response.headers.setdefault("Permissions-Policy", "camera=(self), geolocation=(), microphone=()")
        return response
