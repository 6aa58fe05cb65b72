from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from refuge.people.selectors import the_refuge

OPEN_PREFIXES = ("/static/", "/healthz", "/welcome")


class SiteZoneMiddleware:
    """Show every time in the refuge's own zone; before there is a refuge, lead to its founding."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if request.path.startswith(("/static/", "/healthz")):
            return self.get_response(request)
        request.refuge = the_refuge()
        if request.refuge is None:
            if not request.path.startswith(OPEN_PREFIXES):
                return redirect(reverse("welcome"))
            return self.get_response(request)
        with timezone.override(request.refuge.zone):
            response = self.get_response(request)
            if hasattr(response, "render") and not response.is_rendered:
                response.render()
            return response
