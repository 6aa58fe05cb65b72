"""What every page of one thing needs: the facts of its water, what is due, panels, record buttons, history."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, cast
from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from refuge.pages.history import Asked, HistoryPage, history, history_page
from refuge.pages.panels import Page, panels
from refuge.people.models import User
from refuge.rounds.due_lists import DueList, tasks_at_path, tasks_for_scope
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from refuge.rounds.recording import recorders_for


@dataclass(frozen=True)
class RecordButton:
    """A link to the form of one kind of record."""

    key: str
    title: str
    url: str
    icon: str


def subject_page(request: HttpRequest, kind: str, subject: Any, circuit_id: int | None) -> Page:
    """The subject with the facts of the circuit it belongs to (none for one that is nowhere)."""
    moment = moment_for()
    facts = load_facts(frozenset([circuit_id] if circuit_id else []), moment)
    return Page(kind=kind, subject=subject, facts=facts, moment=moment, user=cast(User, request.user))


def page_context(request: HttpRequest, page: Page, *, leave_out: Collection[str] = ()) -> dict[str, Any]:
    """The parts that all pages of things have in common. leave_out: recorders that do not fit just now."""
    buttons = record_buttons(page.kind, page.subject, page.user)
    return {
        "page": page,
        "today": page.today,
        "panels": panels(page),
        "due": due_list(page),
        "record_buttons": [each for each in buttons if each.key not in leave_out],
        "history": history_of(request, page.kind, page.subject.pk),
    }


def due_list(page: Page) -> DueList:
    """Open work of a water and all that hangs on it; of anything else, what is done at its place or to it."""
    if page.kind == "circuit":
        return tasks_for_scope(page.user, page.subject.pk, today=page.today)
    return tasks_at_path(page.user, page.subject.get_absolute_url(), today=page.today)


def history_of(request: HttpRequest, kind: str, pk: int) -> HistoryPage:
    """The page of a subject's history that the address asks for."""
    wanted = request.GET.get("page", "1")
    number = int(wanted) if wanted.isdecimal() and len(wanted) < 5 else 1
    return history_page(_asked(request, kind, pk), number)


def whole_history(request: HttpRequest, kind: str, pk: int) -> list[Any]:
    """Everything that ever happened to a subject, what was struck out as well: for whoever inspects."""
    return history(_asked(request, kind, pk, limit=None, everything=True))


def _asked(request: HttpRequest, kind: str, pk: int, **options: Any) -> Asked:
    system = cast(User, request.user).unit_system
    return Asked(kind, pk, request.refuge.zone, system=system, **options)  # type: ignore[attr-defined]


def record_buttons(kind: str, subject: Any, user: User) -> list[RecordButton]:
    """Links to what this person may record about a subject; they lead back to its page."""
    return [
        RecordButton(each.key, each.title, url, each.icon)
        for each in recorders_for(kind, user.may_act_as)
        if (url := _record_url(each.key, subject))
    ]


def _record_url(key: str, subject: Any) -> str:
    try:
        url = reverse("record_new", args=[key, subject.pk])
    except NoReverseMatch:
        return ""
    return f"{url}?{urlencode({'next': subject.get_absolute_url()})}"
