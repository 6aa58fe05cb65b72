"""The parts of a page that tasks live in, and how an answer to a phone is put together.

A part is named by a token: "stop:/enclosures/3/" is a stop of the walk, the others are lists of selectors.
The same part that a page was built of is what an answer sends back.
"""

import json
from collections.abc import Iterable
from typing import Any
from urllib.parse import parse_qs, urlsplit

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.utils import timezone

from refuge.people.models import User
from refuge.rounds.forms import FilterForm
from refuge.rounds.selectors import DoneToday, Filters, done_today, due_list_of, due_tasks, stop_at
from refuge.rounds.walk import anchor
from refuge.rules.facts import Stop

STOP = "stop:"


def filters_of(query: Any) -> Filters:
    """What part of the round an address asks for; what makes no sense in it is left out."""
    form = FilterForm(query)
    form.is_valid()
    return Filters(
        **{name: form.cleaned_data.get(name) or default for name, default in vars(Filters()).items()}
    )


def filters_of_page(request: HttpRequest) -> Filters:
    """The filters of the page that an htmx request was sent from."""
    query = urlsplit(request.htmx.current_url or "").query if request.htmx else ""
    return filters_of({name: values[-1] for name, values in parse_qs(query).items()})


def token_of(request: HttpRequest, stop_path: str) -> str:
    """Which part an answer should renew: the one that was named, else the task's own stop."""
    return request.POST.get("within") or request.GET.get("within") or f"{STOP}{stop_path}"


def part(request: HttpRequest, token: str, **more: Any) -> str:
    """A part of the page as HTML. ValueError for a token that names none."""
    user: User = request.user
    context = {"user": user, "now": timezone.now(), **more}
    if not token.startswith(STOP):
        return render_to_string(
            "rounds/_subject_tasks.html", {"due": due_list_of(user, token), **context}, request=request
        )
    path = token.removeprefix(STOP)
    view = stop_at(user, filters_of_page(request), timezone.localdate(), path)
    empty = {"anchor": anchor(Stop("", "", 0, 0, "", "", 0, path)), "tasks": [], "done": []}
    return render_to_string("rounds/_stop.html", {"view": view or empty, **context}, request=request)


def progress_of(user: User, filters: Filters) -> tuple[DoneToday, int]:
    """What was done today, and how much there is in all (done and still due): 3 queries."""
    today = timezone.localdate()
    done = done_today(user, filters, today)
    due = due_tasks(user, Filters(filters.area, filters.mine), today)
    if filters.area:
        due = due.filter(area_code=filters.area)
    return done, done.total + due.count()


def answer(
    request: HttpRequest,
    token: str,
    *,
    toast: dict[str, Any] | None = None,
    others: Iterable[str] = (),
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    """One part renewed; beside it the progress, other stops whose plan moved, and a line with undo."""
    html = [part(request, token, **more)]
    on_walk = token.startswith(STOP)
    if on_walk:
        done, whole = progress_of(request.user, filters_of_page(request))
        html.append(
            render_to_string(
                "rounds/_progress.html", {"done": done, "whole": whole, "oob": True}, request=request
            )
        )
        html += [part(request, f"{STOP}{path}", oob=True) for path in others if f"{STOP}{path}" != token]
    if toast:
        html.append(render_to_string("components/_toast.html", toast, request=request))
    response = HttpResponse("".join(html), status=status)
    response["HX-Trigger"] = json.dumps({"records-changed": {}})
    return response
