"""The overview page."""

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from refuge.people.access import staff_required
from refuge.people.models import User
from refuge.rounds.overview import overview
from refuge.rounds.planner import moment_for


@require_GET
@staff_required
def overview_page(request: HttpRequest) -> HttpResponse:
    """The whole site at a glance. Staff may read it."""
    found = overview(moment_for(), cast(User, request.user))
    return render(request, "rounds/overview.html", {"overview": found, "today": found.today})
