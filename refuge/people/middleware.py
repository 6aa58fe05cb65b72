"""What every request is given: the refuge and its clock; and what it leaves: that somebody was here."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from refuge.people.selectors import the_refuge
from refuge.people.services import person_seen

GetResponse = Callable[[HttpRequest], HttpResponseBase]
WITHOUT_REFUGE = ("/static/", "/healthz")


class SiteZoneMiddleware:
    """Show every time in the refuge's own zone; before there is a refuge, lead to its founding: 1 query."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if request.path.startswith(WITHOUT_REFUGE):
            return self.get_response(request)
        request.refuge = the_refuge()
        if request.refuge is None:
            founding = reverse("welcome")
            return self.get_response(request) if request.path == founding else redirect(founding)
        with timezone.override(request.refuge.zone):
            response = self.get_response(request)
            if hasattr(response, "render") and not response.is_rendered:
                response.render()
            return response


class LastSeenMiddleware:
    """Note when somebody signed in was last here. Costs nothing on pages that do not ask who it is."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if request.session.accessed and request.user.is_authenticated:
            person_seen(person=request.user)
        return response
