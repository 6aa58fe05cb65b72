"""The page on which a refuge is set up, and which says what is still missing to plan."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from refuge.pages.site import site_parts
from refuge.people.access import manager_required


@require_GET
@manager_required
def site_setup(request: HttpRequest) -> HttpResponse:
    """What there is of each kind, what to add next, and what keeps the planner from judging."""
    parts = site_parts()
    context = {
        "parts": parts,
        "missing": [part for part in parts if part.is_missing],
        "gaps": [gap for part in parts for gap in part.gaps],
    }
    return render(request, "enclosures/site_setup.html", context)
