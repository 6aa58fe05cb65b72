"""One task: opened in place, finished, set aside, taken back, taken on. Works without script as well."""

import uuid
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_POST

from refuge.errors import ClearmereError
from refuge.people.access import require_role, volunteer_required
from refuge.people.models import Role
from refuge.rounds import services
from refuge.rounds.cautions import CAUTIONS
from refuge.rounds.changes import compare, planned
from refuge.rounds.forms import AssignForm, OutcomeForm
from refuge.rounds.models import Completion, Task
from refuge.rounds.recording import recorder
from refuge.rounds.selectors import DueList, task_rows
from refuge.rounds.views.parts import answer, token_of
from refuge.rounds.walk import anchor
from refuge.rules.facts import Stop
from refuge.rules.limits import limits
from refuge.rules.registry import rules

ORIGINS = {
    "default": "the default",
    "site": "set for the site",
    "circuit": "set for this water",
    "filter": "set for this filter",
}


def stop_of(task: Task) -> Stop:
    """Where a task is done."""
    return Stop(
        task.area_code,
        task.area_name,
        task.area_rank,
        task.area_position,
        task.stop_code,
        task.stop_name,
        task.stop_position,
        task.stop_path,
    )


def _context(
    request: HttpRequest, task: Task, form: Any, outcome: OutcomeForm, error: str = ""
) -> dict[str, Any]:
    rule = rules.get(task.rule)
    return {
        "task": task,
        "rule": rule,
        "icon": recorder(rule.recorder).icon if rule else "note",
        "today": timezone.localdate(),
        "form": form,
        "outcome": outcome,
        "error": error,
        "reasons": [reason["text"] for reason in task.reasons],
        "limits": [
            {**used, "title": limits[used["key"]].title, "words": ORIGINS[used["origin"]]}
            for used in task.limits
            if used["key"] in limits
        ],
        "cautions": [CAUTIONS[key] for key in rule.cautions] if rule else [],
        "within": token_of(request, task.stop_path),
        "assign": AssignForm(initial={"to": task.assigned_to_id}) if request.user.is_manager else None,
        "may": request.user.may_act_as(task.role),
    }


def _form(request: HttpRequest, task: Task, data: Any = None) -> Any:
    return recorder(rules[task.rule].recorder).form(
        task.subject_id, data=data, system=request.user.unit_system, prefill=task.prefill
    )


@require_GET
@volunteer_required
def task_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A task opened where it stands, or on a page of its own without script."""
    task = get_object_or_404(Task.objects.select_related("assigned_to"), pk=pk)
    if task.status != Task.Status.OPEN:
        return _closed(request, task, "It is closed already.", 200)
    context = _context(request, task, _form(request, task), OutcomeForm())
    return render(request, "rounds/_task_open.html" if request.htmx else "rounds/task_page.html", context)


@require_GET
@volunteer_required
def task_row(request: HttpRequest, pk: int) -> HttpResponse:
    """The same task folded again."""
    rows = task_rows(Task.objects.filter(pk=pk), timezone.localdate())
    if not rows:
        raise Http404("This task is not on the list any more.")
    return render(
        request, "rounds/_task_row.html", {"task": rows[0], "is_later": rows[0].due_on > rows[0].today}
    )


@require_POST
@volunteer_required
def task_finish(request: HttpRequest, pk: int) -> HttpResponse:
    """Done (with the record it makes), could not, or not needed (with the reason)."""
    task = get_object_or_404(Task, pk=pk)
    before = planned(request.user, task.scope)
    outcome = OutcomeForm(request.POST)
    try:
        if "tap" in request.POST:
            finished = _tap(request, task)
        elif outcome.is_valid() and outcome.cleaned_data["outcome"] != Completion.Outcome.DONE:
            finished = _set_aside(request, task, outcome)
        else:
            finished, form = _record(request, task, outcome)
            if finished is None:
                return _again(request, task, form, outcome)
    except services.AlreadyClosed as error:
        return _closed(request, task, str(error), 409)
    except ClearmereError as error:
        form = _form(request, task, None if "tap" in request.POST else request.POST)
        return _again(request, task, form, outcome, str(error))
    return _finished(request, task, finished.completion, before)


def _tap(request: HttpRequest, task: Task) -> services.Finished:
    cleaned = recorder(rules[task.rule].recorder).one_tap(task.subject_id, task.prefill)
    if cleaned is None:
        raise services.TaskError("This needs a few numbers: open it.")
    common = {"uuid": _uuid(request), "at": timezone.now(), "note": ""}
    return services.task_complete(task_id=task.pk, by=request.user, cleaned={**cleaned, **common})


def _set_aside(request: HttpRequest, task: Task, outcome: OutcomeForm) -> services.Finished:
    return services.task_set_aside(
        task_id=task.pk,
        by=request.user,
        outcome=outcome.cleaned_data["outcome"],
        reason=outcome.cleaned_data["reason"],
        uuid=_uuid(request),
    )


def _record(request: HttpRequest, task: Task, outcome: OutcomeForm) -> tuple[services.Finished | None, Any]:
    form = _form(request, task, request.POST)
    if not (outcome.is_valid() and form.is_valid()):
        return None, form
    return services.task_complete(task_id=task.pk, by=request.user, cleaned=form.cleaned_data), form


def _uuid(request: HttpRequest) -> uuid.UUID:
    try:
        return uuid.UUID(request.POST.get("uuid", ""))
    except ValueError:
        return uuid.uuid4()  # without script the browser made none: each press is then an entry of its own


def _again(
    request: HttpRequest, task: Task, form: Any, outcome: OutcomeForm, error: str = ""
) -> HttpResponse:
    """The opened task once more, with everything typed and what is wrong with it."""
    context = _context(request, task, form, outcome, error)
    template = "rounds/_task_open.html" if request.htmx else "rounds/task_page.html"
    response = render(request, template, context, status=422)
    if request.htmx:
        response["HX-Retarget"] = f"#task-{task.pk}"
        response["HX-Reswap"] = "outerHTML"
    return response


def _closed(request: HttpRequest, task: Task, words: str, status: int) -> HttpResponse:
    if request.htmx:
        response = answer(request, token_of(request, task.stop_path), notice=words, status=200)
        response["HX-Retarget"] = (
            f"#task-{task.pk}" if request.method == "GET" else response.get("HX-Retarget", "")
        )
        if not response["HX-Retarget"]:
            del response["HX-Retarget"]
        return response
    return render(request, "rounds/task_closed.html", {"task": task, "words": words}, status=status)


def _finished(
    request: HttpRequest, task: Task, completion: Completion, before: dict[Any, Any]
) -> HttpResponse:
    if not request.htmx:
        return redirect(_back(request, task))
    key = (task.rule, task.subject_kind, task.subject_id)
    change = compare(before, planned(request.user, task.scope), done=key, today=timezone.localdate())
    token = token_of(request, task.stop_path)
    return answer(
        request,
        token,
        toast=_toast(task, completion, token),
        others=change.stop_paths,
        just=completion.uuid,
        changes=change.words,
    )


def _toast(task: Task, completion: Completion, token: str) -> dict[str, Any]:
    words = (
        completion.summary
        if completion.outcome == Completion.Outcome.DONE
        else completion.get_outcome_display()
    )
    rule = rules.get(task.rule)
    toast: dict[str, Any] = {"text": f"{task.title}: {words}", "seconds": services.UNDO_SECONDS}
    if rule and recorder(rule.recorder).can_take_back:
        path = reverse("completion_undo", args=[completion.uuid])
        toast |= {"undo_url": f"{path}?within={token}", "undo_target": f"#{_element(token)}"}
    return toast


def _element(token: str) -> str:
    if token.startswith("stop:"):
        return anchor(Stop("", "", 0, 0, "", "", 0, token.removeprefix("stop:")))
    return DueList(token, timezone.localdate()).anchor


def _back(request: HttpRequest, task: Task) -> str:
    wanted = request.POST.get("next", "")
    if url_has_allowed_host_and_scheme(wanted, allowed_hosts={request.get_host()}):
        return wanted
    return f"{reverse('today')}#{anchor(stop_of(task))}"


@require_POST
@volunteer_required
def completion_undo(request: HttpRequest, uuid: uuid.UUID) -> HttpResponse:
    """Take one's own entry back within the time the undo is offered."""
    completion = get_object_or_404(Completion.objects.select_related("task"), uuid=uuid)
    token = token_of(request, completion.task.stop_path)
    try:
        services.completion_undo(uuid=uuid, by=request.user)
    except ClearmereError as error:
        return answer(request, token, notice=str(error))
    if not request.htmx:
        return redirect(_back(request, completion.task))
    return answer(request, token, toast={"text": f"Taken back: {completion.task.title}", "seconds": 4})


@require_POST
@volunteer_required
def task_assign(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a task on, or hand it back; a manager gives it to anybody."""
    task = get_object_or_404(Task, pk=pk)
    require_role(request.user, task.role if task.role != Role.VOLUNTEER else Role.VOLUNTEER)
    form = AssignForm(request.POST)
    person = form.cleaned_data["to"] if form.is_valid() and "to" in request.POST else request.user
    if request.POST.get("back"):
        person = None
    if person not in (None, request.user):
        require_role(request.user, Role.MANAGER)
    services.task_assign(task_id=task.pk, to=person)
    if not request.htmx:
        return HttpResponseRedirect(_back(request, task))
    words = f"{person} does it" if person else "Handed back"
    return answer(request, token_of(request, task.stop_path), toast={"text": words, "seconds": 4})
