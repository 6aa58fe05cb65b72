"""Records that answer no task, and corrections of records, whatever app they belong to."""

from typing import Any

from django.apps import apps
from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme

from refuge.errors import ClearmereError
from refuge.people.access import require_role, volunteer_required
from refuge.people.models import Role
from refuge.records import Record
from refuge.rounds.cautions import CAUTIONS
from refuge.rounds.forms import WhyForm
from refuge.rounds.models import Completion
from refuge.rounds.recording import Recorder, recorder, recorder_of


@volunteer_required
def record_new(request: HttpRequest, key: str, subject_id: int) -> HttpResponse:
    """Enter a record of some kind about some subject."""
    kind = _recorder(key)
    require_role(request.user, kind.role)
    try:
        about = kind.about(subject_id)
        form = kind.form(subject_id, data=request.POST or None, system=request.user.unit_system)
    except ObjectDoesNotExist:
        raise Http404("There is nothing of this number.") from None
    error = ""
    if request.method == "POST" and form.is_valid():
        try:
            kind.save(subject_id, by=request.user, cleaned=form.cleaned_data)
            return redirect(_next(request, about.path))
        except ClearmereError as problem:
            error = str(problem)
    context = {
        "kind": kind,
        "about": about,
        "form": form,
        "error": error,
        "cautions": [CAUTIONS[each] for each in kind.cautions],
        "next": _next(request, about.path),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "rounds/record_new.html", context, status=status)


def _recorder(key: str) -> Recorder:
    try:
        return recorder(key)
    except KeyError:
        raise Http404("Nothing is recorded under this name.") from None


def _next(request: HttpRequest, otherwise: str) -> str:
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    return (
        wanted if url_has_allowed_host_and_scheme(wanted, allowed_hosts={request.get_host()}) else otherwise
    )


def _record(kind: str, pk: int) -> Record:
    try:
        model: Any = apps.get_model(kind)
    except (LookupError, ValueError):
        raise Http404("There are no such records.") from None
    if not issubclass(model, Record):
        raise Http404("There are no such records.")
    record = model.everything.select_related("by").filter(pk=pk).first()
    if record is None:
        raise Http404("There is no such record.")
    return record


@volunteer_required
def record_amend(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """Correct a record: one's own, or anybody's for staff. Earlier versions are shown with their reasons."""
    record = _record(kind, pk)
    own = recorder_of(record)
    if own is None:
        raise Http404("This kind of record is not corrected.")
    may = own.can_amend and record.voided_at is None
    may = may and (record.by_id == request.user.pk or request.user.may_act_as(Role.STAFF))
    if request.method == "POST" and not may:
        require_role(request.user, Role.MANAGER if own.can_amend else "manager")
    form = own.amend_form(record, data=request.POST or None, system=request.user.unit_system)
    why, error = WhyForm(request.POST or None), ""
    if request.method == "POST" and may and form.is_valid() and why.is_valid():
        try:
            amended = own.amend(
                record, by=request.user, reason=why.cleaned_data["why"], cleaned=form.cleaned_data
            )
            _retell(own, amended)
            return redirect(_next(request, own.about(getattr(record, own.subject_field)).path))
        except ClearmereError as problem:
            error = str(problem)
    context = {
        "record": record,
        "own": own,
        "about": own.about(getattr(record, own.subject_field)),
        "words": own.words(record),
        "form": form,
        "why": why,
        "error": error,
        "may": may,
        "versions": _versions(own, record),
        "next": _next(request, ""),
    }
    return render(
        request, "rounds/record_amend.html", context, status=422 if request.method == "POST" else 200
    )


def _retell(own: Recorder, record: Any) -> None:
    """The list of what was done says what the record says now."""
    Completion.objects.filter(record_kind=record._meta.label_lower, record_id=record.pk).update(
        summary=own.words(record)[:300]
    )


def _versions(own: Recorder, record: Any) -> list[dict[str, Any]]:
    """Every version of a record, newest first, in words."""
    return [
        {
            "when": version.history_date,
            "who": version.history_user or record.by,
            "what": own.words(version.instance),
            "note": version.history_change_reason or "",
            "icon": own.icon,
        }
        for version in record.history.select_related("history_user")
    ]
