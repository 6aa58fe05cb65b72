"""The day's walk, and the same for one place that a label leads to."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.vary import vary_on_headers

from refuge.people.access import volunteer_required
from refuge.rounds.selectors import area_counts, round_part, tasks_at_path
from refuge.rounds.views.parts import filters_of, progress_of
from refuge.rounds.walk import add_crossings


@volunteer_required
@vary_on_headers("HX-Request", "HX-History-Restore-Request")
def today(request: HttpRequest) -> HttpResponse:
    """The walk in stops; the next stops come as a part of their own when asked for."""
    filters, day = filters_of(request.GET), timezone.localdate()
    areas = area_counts(request.user, filters, day)
    shown = round_part(request.user, filters, day, after=request.GET.get("after", ""))
    ranks = [area.rank for area in areas if area.code] or [0]
    first = (
        int(request.GET.get("rank") or min(ranks)) if request.GET.get("rank", "0").isdigit() else min(ranks)
    )
    add_crossings(shown.stops, from_rank=first, last_rank=max(ranks))
    context = {
        "stops": shown.stops,
        "goes_on_after": shown.goes_on_after,
        "rank": max((view.stop.area_rank for view in shown.stops if view.is_placed), default=first),
        "filters": filters,
        "now": timezone.now(),
        "today": day,
    }
    if request.htmx and "after" in request.GET:
        return render(request, "rounds/_stops.html", context)
    done, whole = progress_of(request.user, filters)
    context |= {"areas": areas, "due_count": sum(area.tasks for area in areas), "done": done, "whole": whole}
    return render(request, "rounds/today.html", context)


@volunteer_required
def here(request: HttpRequest) -> HttpResponse:
    """What is due at one place: where the label on an enclosure or a filter leads."""
    path = request.GET.get("path", "")
    due = tasks_at_path(request.user, path)
    rows = [*due.now, *due.later, *due.done]
    return render(
        request, "rounds/here.html", {"due": due, "path": path, "place": rows[0].stop if rows else None}
    )
