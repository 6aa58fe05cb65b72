"""The parts of a page that tasks live in, and how the answer to a phone is put together.

A part is named by a token: "stop:/enclosures/3/" is a stop of the walk; the other tokens name lists of due
work that the pages of single things show. An answer sends back the same part that a page is built of.
"""

import json
from collections.abc import Iterable
from typing import Any
from urllib.parse import parse_qs, urlsplit

from django.http import Http404, HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from refuge.rounds.due_lists import due_list_of, list_anchor
from refuge.rounds.forms import FilterForm
from refuge.rounds.round_parts import Filters, beyond_limits, progress, stop_at
from refuge.rounds.walk import StopView, anchor
from refuge.rules.facts import NO_STOP

STOP = "stop:"
TOAST_SECONDS = 4


def filters_of(query: Any) -> Filters:
    """What part of the round an address asks for; what makes no sense in it is left out."""
    form = FilterForm(query)
    form.is_valid()
    return Filters(**{name: value for name, value in form.cleaned_data.items() if value})


def filters_of_page(request: HttpRequest) -> Filters:
    """The filters of the page that an htmx request was sent from."""
    query = parse_qs(urlsplit(request.htmx.current_url or "").query)
    return filters_of({name: values[-1] for name, values in query.items()})


def token_of(request: HttpRequest, stop_path: str) -> str:
    """Which part an answer renews: the one that was named, else the stop where the task is done."""
    return request.POST.get("within") or request.GET.get("within") or f"{STOP}{stop_path}"


def is_on_walk(token: str) -> bool:
    """Whether a part is a stop of the walk, whose header says where it is."""
    return token.startswith(STOP)


def next_of(request: HttpRequest, otherwise: str) -> str:
    """Where a page without script leads to afterwards; only ever to a page of this site."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    return (
        wanted if url_has_allowed_host_and_scheme(wanted, allowed_hosts={request.get_host()}) else otherwise
    )


def element_of(token: str) -> str:
    """The id of a part on its page."""
    return anchor(token.removeprefix(STOP)) if is_on_walk(token) else list_anchor(token)


def part(request: HttpRequest, token: str, **more: Any) -> str:
    """A part of the page as HTML; Http404 for a token that names none."""
    if is_on_walk(token):
        path = token.removeprefix(STOP)
        view = stop_at(request.user, filters_of_page(request), timezone.localdate(), path)
        context = {"view": view or StopView(NO_STOP), "anchor": anchor(path)}
        return render_to_string("rounds/_stop.html", context | more, request=request)
    try:
        due = due_list_of(request.user, token)
    except ValueError:
        raise Http404("There is no such list of work.") from None
    return render_to_string("rounds/_subject_tasks.html", {"due": due, **more}, request=request)


def answer(
    request: HttpRequest,
    token: str,
    *,
    toast: dict[str, Any] | None = None,
    others: Iterable[str] = (),
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    """A part anew; beside it the progress, other stops whose plan moved, and a line at the foot with undo.

    more: what the part shows besides its tasks: notice, just (uuid of the newest entry), changes.
    """
    html = [part(request, token, **more)]
    if is_on_walk(token):
        html += [part(request, f"{STOP}{path}", oob=True) for path in others if f"{STOP}{path}" != token]
        html.append(_progress(request))
    if toast:
        html.append(render_to_string("components/_toast.html", toast))
    response = HttpResponse("".join(html), status=status)
    if status == 200:
        response["HX-Trigger"] = json.dumps({"records-changed": {}})
    return response


def _progress(request: HttpRequest) -> str:
    filters = filters_of_page(request)
    context = {
        "filters": filters,
        "progress": progress(request.user, filters, timezone.localdate()),
        "beyond": beyond_limits(request.user, filters),
        "oob": True,
    }
    return render_to_string("rounds/_progress.html", context, request=request)
