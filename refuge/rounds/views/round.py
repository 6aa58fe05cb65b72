"""The day's walk, and the same for one place that a label leads to."""

import re
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.vary import vary_on_headers

from refuge.people.access import volunteer_required
from refuge.rounds.due_lists import tasks_at_path
from refuge.rounds.forms import TODAY, TOMORROW, WEEK
from refuge.rounds.models import Task
from refuge.rounds.round_parts import (
    AreaCount,
    Filters,
    RoundPart,
    area_counts,
    beyond_limits,
    progress,
    round_part,
)
from refuge.rounds.views.parts import filters_of
from refuge.rounds.walk import add_crossings
from refuge.rules.facts import NO_STOP

AHEAD = ((TODAY, "Today"), (TOMORROW, "Tomorrow"), (WEEK, "Next 7 days"))
LABEL_PATH = re.compile(r"(/[\w-]+)+/")


@dataclass(frozen=True)
class Choice:
    """One choice of what part of the round is shown."""

    label: str
    url: str
    is_chosen: bool
    count: int | None = None


@volunteer_required
@vary_on_headers("HX-Request", "HX-History-Restore-Request")
def today(request: HttpRequest) -> HttpResponse:
    """The walk in stops; the next ones come as a part of their own when asked for."""
    filters, day = filters_of(request.GET), timezone.localdate()
    areas = area_counts(request.user, filters, day)
    shown = round_part(request.user, filters, day, after=request.GET.get("after", ""))
    rank = _add_crossings(request, shown, areas)
    more = {"after": shown.goes_on_after, "rank": rank} if shown.goes_on_after else {}
    context: dict[str, Any] = {
        "stops": shown.stops,
        "more_url": filters.address(**more) if more else "",
        "filters": filters,
    }
    if request.htmx and not request.htmx.history_restore_request and "after" in request.GET:
        return render(request, "rounds/_stops.html", context)
    due = sum(area.tasks for area in areas if filters.area in ("", area.code))
    context |= {
        "today": day,
        "progress": progress(request.user, filters, day, due=due),
        "beyond": beyond_limits(request.user, filters),
        "areas": _area_choices(filters, areas),
        "days": _day_choices(filters),
        # Nothing was ever planned: there is nothing on the site yet that asks for anything.
        "is_bare": not shown.stops and not Task.objects.exists(),
        "area_name": next((area.name for area in areas if area.code == filters.area), filters.area),
    }
    return render(request, "rounds/today.html", context)


def _add_crossings(request: HttpRequest, shown: RoundPart, areas: list[AreaCount]) -> int:
    """Put the hygiene steps between the stops; the rank in which this part of the walk ends."""
    ranks = [area.rank for area in areas if area.rank != NO_STOP.area_rank] or [0]
    asked = request.GET.get("rank", "")
    start = int(asked) if asked.isdecimal() and len(asked) < 6 else min(ranks)
    add_crossings(shown.stops, from_rank=start, last_rank=max(ranks))
    return max([start, *(view.stop.area_rank for view in shown.stops if view.is_placed)])


def _area_choices(filters: Filters, areas: list[AreaCount]) -> list[Choice]:
    whole = Choice(
        "Whole walk", filters.address(area=""), not filters.area, sum(each.tasks for each in areas)
    )
    return [
        whole,
        *(
            Choice(each.name, filters.address(area=each.code), filters.area == each.code, each.tasks)
            for each in areas
            if each.code
        ),
    ]


def _day_choices(filters: Filters) -> list[Choice]:
    return [
        *(Choice(label, filters.address(ahead=days), filters.ahead == days) for days, label in AHEAD),
        Choice("Mine", filters.address(mine=not filters.mine), filters.mine),
    ]


@volunteer_required
def here(request: HttpRequest) -> HttpResponse:
    """What is due at one place: where the label on an enclosure or a filter may lead."""
    path = request.GET.get("path", "")
    if not LABEL_PATH.fullmatch(path):
        raise Http404("No place has such an address.")
    due = tasks_at_path(request.user, path)
    rows = [*due.now, *due.later, *due.done]
    return render(
        request, "rounds/here.html", {"due": due, "path": path, "stop": rows[0].stop if rows else None}
    )
