"""Records that no task asked for, and corrections of records, whatever app they belong to."""

from typing import Any

from django.apps import apps
from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from refuge.errors import ClearmereError
from refuge.people.access import require_role, volunteer_required
from refuge.records import Record
from refuge.rounds import services, striking
from refuge.rounds.cautions import cautions_of
from refuge.rounds.forms import StrikeOutForm, WhyForm
from refuge.rounds.recording import Recorder, recorder, recorder_of
from refuge.rounds.striking import may_strike_out
from refuge.rounds.views.parts import next_of
from refuge.units import spoken


@volunteer_required
def record_new(request: HttpRequest, key: str, subject_id: int) -> HttpResponse:
    """Enter a record of some kind about some subject: a page, or with htmx its form to put in place."""
    kind = _recorder(key)
    require_role(request.user, kind.role)
    data, system = request.POST or None, request.user.unit_system
    try:
        about = kind.about(subject_id)
        form = kind.form(subject_id, data=data, system=system)
    except ObjectDoesNotExist:
        raise Http404("There is nothing of this number.") from None
    error = ""
    if request.method == "POST" and form.is_valid():
        try:
            saved = services.record_new(
                kind=kind, subject_id=subject_id, by=request.user, cleaned=form.cleaned_data
            )
            messages.success(request, f"{about.label}: {spoken(saved.summary, system)}")
            if form.warning:
                messages.warning(request, spoken(form.warning, system))
            lead = kind.lead(saved.record.pk)
            return _go(request, lead.url if lead else next_of(request, about.path))
        except ClearmereError as problem:
            error = str(problem)
    context = {
        "kind": kind,
        "about": about,
        "subject_id": subject_id,
        "form": form,
        "error": error,
        "cautions": cautions_of(kind.cautions),
        "next": next_of(request, about.path),
    }
    template = "rounds/_record_form.html" if request.htmx else "rounds/record_new.html"
    return render(request, template, context, status=422 if request.method == "POST" else 200)


@volunteer_required
def record_amend(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """A record with its earlier versions, and for whoever may correct it the form to do so."""
    record = _record(kind, pk)
    own = recorder_of(record)
    if own is None:
        raise Http404("This kind of record is not corrected.")
    may = services.may_amend(record=record, by=request.user)
    data = request.POST if request.method == "POST" and may else None
    form, why = own.amend_form(record, data=data, system=request.user.unit_system), WhyForm(data)
    about = own.about(getattr(record, own.subject_field))
    error = "" if may or request.method != "POST" else services.NOT_YOURS
    if data is not None and form.is_valid() and why.is_valid():
        try:
            _amend(request, record, form.cleaned_data, why.cleaned_data["why"])
            return redirect(next_of(request, about.path))
        except ClearmereError as problem:
            error = str(problem)
    status = 200 if request.method != "POST" else 422 if may else 403
    shown = {"form": form, "why": why, "error": error, "may": may, "strike": StrikeOutForm()}
    return _record_page(request, own, record, status=status, **shown)


def _record_page(
    request: HttpRequest, own: Recorder, record: Any, *, status: int, **shown: Any
) -> HttpResponse:
    """A record, what may be done about it, and its earlier versions."""
    system = request.user.unit_system
    context = {
        "record": record,
        "own": own,
        "about": own.about(getattr(record, own.subject_field)),
        "words": spoken(own.words(record), system),
        "may_strike": may_strike_out(record=record, by=request.user),
        "strike_url": reverse("record_strike_out", args=[record._meta.label_lower, record.pk]),
        "versions": _versions(own, record, system),
        "next": next_of(request, ""),
        **shown,
    }
    return render(request, "rounds/record_amend.html", context, status=status)


@require_POST
@volunteer_required
def record_strike_out(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    """It did not happen, or not here: it counts no more. Repeated, it changes nothing."""
    record = _record(kind, pk)
    own = recorder_of(record)
    if own is None:
        raise Http404("This kind of record is not struck out.")
    strike, error = StrikeOutForm(request.POST), ""
    if strike.is_valid():
        try:
            striking.record_strike_out(record=record, by=request.user, reason=strike.cleaned_data["why"])
            messages.success(request, "Struck out: it counts no more.")
            return redirect(next_of(request, own.about(getattr(record, own.subject_field)).path))
        except ClearmereError as problem:
            error = str(problem)
    status = 403 if error else 422
    shown = {
        "form": own.amend_form(record, system=request.user.unit_system),
        "why": WhyForm(),
        "strike": strike,
    }
    may = services.may_amend(record=record, by=request.user)
    return _record_page(request, own, record, status=status, error=error, may=may, **shown)


def _amend(request: HttpRequest, record: Record, cleaned: dict[str, Any], why: str) -> None:
    amended = services.record_amend(record=record, by=request.user, reason=why, cleaned=cleaned)
    words = "Nothing was changed: it says so already." if amended is record else "Corrected."
    messages.success(request, words)


def _recorder(key: str) -> Recorder:
    try:
        return recorder(key)
    except KeyError:
        raise Http404("Nothing is recorded under this name.") from None


def _record(kind: str, pk: int) -> Any:
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


def _go(request: HttpRequest, path: str) -> HttpResponse:
    """Lead on: htmx would draw a redirect's page inside the form, so it is told to leave instead."""
    return HttpResponse(headers={"HX-Redirect": path}) if request.htmx else redirect(path)


def _versions(own: Recorder, record: Any, system: str) -> list[dict[str, Any]]:
    """Every version of a record, newest first, in words; none while it stands as it was entered."""
    versions = list(record.history.select_related("history_user").order_by("-history_date", "-history_id"))
    if len(versions) < 2:
        return []
    return [
        {
            "when": version.history_date,
            "who": version.history_user or record.by,
            "what": spoken(own.words(version.instance), system),
            "note": version.history_change_reason or "",
            "icon": own.icon,
        }
        for version in versions
    ]
