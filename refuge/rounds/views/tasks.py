"""One task: opened in place, finished, set aside, taken back, taken on. All of it works without script too."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from refuge.errors import ClearmereError
from refuge.forms import RecordForm
from refuge.people.access import require_role, volunteer_required
from refuge.rounds import services
from refuge.rounds.cautions import cautions_of
from refuge.rounds.changes import Key, Planned, compare, planned
from refuge.rounds.forms import AssignForm, OutcomeForm
from refuge.rounds.limits import used_words
from refuge.rounds.models import Completion, Task
from refuge.rounds.recording import Recorder, recorder
from refuge.rounds.selectors import reason_words, row_of
from refuge.rounds.views.parts import TOAST_SECONDS, answer, element_of, is_on_walk, next_of, token_of
from refuge.rounds.walk import NOT_AS_PLANNED, against, anchor
from refuge.rules.registry import rules
from refuge.units import spoken

Plan = dict[Key, Planned]


def recorder_for(task: Task) -> Recorder:
    """How a task is recorded; Http404 for one whose rule is gone, until the next plan withdraws it."""
    rule = rules.get(task.rule)
    if rule is None:
        raise Http404("This kind of work is not planned any more.")
    return recorder(rule.recorder)


def task_form(request: HttpRequest, task: Task, data: Any = None) -> RecordForm:
    """The form of the record that finishes a task, bound when there is data."""
    kind, system = recorder_for(task), request.user.unit_system
    return kind.form(task.subject_id, data=data, system=system, prefill=task.prefill)


@require_GET
@volunteer_required
def task_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """A task opened where it stands (or closed again), or on a page of its own."""
    task = get_object_or_404(Task.objects.select_related("assigned_to"), pk=pk)
    require_role(request.user, task.role)
    if task.status != Task.Status.OPEN:
        return _closed(request, task)
    if request.htmx and "row" in request.GET:
        row, off_walk = row_of(task, timezone.localdate()), not is_on_walk(token_of(request, task.stop_path))
        return render(request, "rounds/_task_row.html", {"task": row, "off_walk": off_walk})
    return _opened(request, task, task_form(request, task), _outcome(request, task))


def _outcome(request: HttpRequest, task: Task) -> OutcomeForm:
    """How it went, not yet answered: what speaks against the task is taken for the reason not to do it."""
    words = spoken(against(task.reasons), request.user.unit_system)
    return OutcomeForm(initial={"outcome": Completion.Outcome.COULD_NOT, "reason": words} if words else None)


def _opened(
    request: HttpRequest,
    task: Task,
    form: RecordForm,
    outcome: OutcomeForm,
    *,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    """The opened task, with everything typed; after a mistake (422) or when somebody was first (409) too."""
    kind, today = recorder_for(task), timezone.localdate()
    row = row_of(task, today)
    context = {
        "task": task,
        "row": row,
        "id": f"task-{task.pk}",
        "title": task.title,
        "icon": row.icon,
        "place": row.place if is_on_walk(token_of(request, task.stop_path)) else row.subject_label,
        "today": today,
        "due_on": row.shown_due_on,
        "reasons": reason_words(task.reasons, today, request.user.unit_system),
        "close_url": f"{reverse('task_detail', args=[task.pk])}?row=1",
        "form": form,
        "outcome": outcome,
        "limits": used_words(task.limits),
        "cautions": cautions_of(rules[task.rule].cautions, kind.cautions),
        "recorder": kind,
        "assign": AssignForm(initial={"to": task.assigned_to_id}) if request.user.is_manager else None,
        "next": next_of(request, request.htmx.current_url_abs_path or "" if request.htmx else ""),
        **more,
    }
    template = "rounds/_task_open.html" if request.htmx else "rounds/task_detail.html"
    response = render(request, template, context, status=status)
    if request.htmx and status != 200:  # the form asked for the whole part to be renewed: this is not it
        response["HX-Retarget"], response["HX-Reswap"] = f"#task-{task.pk}", "outerHTML"
    return response


def _closed(request: HttpRequest, task: Task) -> HttpResponse:
    """What became of a task that is not open any more."""
    if request.htmx:
        response = answer(request, token_of(request, task.stop_path))
        response["HX-Retarget"] = f"#{element_of(token_of(request, task.stop_path))}"
        return response
    done = task.completions.filter(undone_at__isnull=True).select_related("by").first()
    return render(
        request, "rounds/task_closed.html", {"task": task, "done": done, "next": next_of(request, "")}
    )


@require_POST
@volunteer_required
def task_finish(request: HttpRequest, pk: int) -> HttpResponse:
    """Done (with the record it makes), could not, or not needed (with the reason)."""
    task = get_object_or_404(Task.objects.select_related("assigned_to"), pk=pk)
    require_role(request.user, task.role)
    before = planned(request.user, task.scope)
    if "tap" in request.POST:
        return _tap(request, task, before)
    outcome = OutcomeForm(request.POST)
    if not outcome.is_valid():
        return _opened(request, task, _as_typed(request, task), outcome, status=422)
    if outcome.cleaned_data["outcome"] == Completion.Outcome.DONE:
        return _record(request, task, outcome, before)
    return _set_aside(request, task, outcome, before)


def _as_typed(request: HttpRequest, task: Task) -> RecordForm:
    """The record's form with what was typed, unjudged: it is not the part that was sent."""
    typed = {name: value for name, value in request.POST.items() if name != "uuid"}
    kind = recorder_for(task)
    return kind.form(task.subject_id, system=request.user.unit_system, prefill={**task.prefill, **typed})


def _tap(request: HttpRequest, task: Task, before: Plan) -> HttpResponse:
    kind = recorder_for(task)
    cleaned = kind.one_tap(task.subject_id, kind.tapped(task.prefill, request.POST["tap"]))
    is_open = task.status == Task.Status.OPEN  # a closed one answers a repeated tap as it did the first
    why = spoken(against(task.reasons), request.user.unit_system) if is_open else ""
    if why or cleaned is None:
        words = f"{why}. {NOT_AS_PLANNED}" if why else "This cannot be done in one tap: enter what was done."
        outcome = _outcome(request, task)
        return _opened(request, task, task_form(request, task), outcome, status=422, error=words)
    common = {"uuid": _uuid(request), "at": timezone.now(), "note": ""}
    try:
        finished = services.task_complete(task_id=task.pk, by=request.user, cleaned={**cleaned, **common})
    except services.AlreadyClosed as error:
        return _taken(request, task, _said(request, error))
    except ClearmereError as error:
        form = task_form(request, task)
        return _opened(request, task, form, OutcomeForm(), status=422, error=str(error))
    return _finished(request, task, finished, before)


def _record(request: HttpRequest, task: Task, outcome: OutcomeForm, before: Plan) -> HttpResponse:
    form = task_form(request, task, request.POST)
    if not form.is_valid():
        return _opened(request, task, form, outcome, status=422)
    try:
        finished = services.task_complete(task_id=task.pk, by=request.user, cleaned=form.cleaned_data)
    except services.AlreadyClosed as error:
        return _opened(request, task, form, outcome, status=409, taken=_said(request, error))
    except ClearmereError as error:
        return _opened(request, task, form, outcome, status=422, error=str(error))
    return _finished(request, task, finished, before, warning=_said(request, form.warning))


def _set_aside(request: HttpRequest, task: Task, outcome: OutcomeForm, before: Plan) -> HttpResponse:
    try:
        finished = services.task_set_aside(
            task_id=task.pk, by=request.user, uuid=_uuid(request), **outcome.cleaned_data
        )
    except services.AlreadyClosed as error:
        return _taken(request, task, _said(request, error))
    except ClearmereError as error:
        return _opened(request, task, _as_typed(request, task), outcome, status=422, error=str(error))
    return _finished(request, task, finished, before)


def _said(request: HttpRequest, words: object) -> str:
    """What was done, or who did it first, in the units of whoever reads."""
    return spoken(str(words), request.user.unit_system)


def _uuid(request: HttpRequest) -> uuid.UUID:
    try:
        return uuid.UUID(request.POST.get("uuid", ""))
    except ValueError:  # without script nothing made one; a second press then meets a closed task
        return uuid.uuid4()


def _taken(request: HttpRequest, task: Task, words: str) -> HttpResponse:
    """Somebody was first, and nothing that was typed is worth keeping."""
    if request.htmx:
        return answer(request, token_of(request, task.stop_path), notice=words, status=409)
    messages.warning(request, words)
    return redirect(next_of(request, _on_the_walk(task)))


def _finished(
    request: HttpRequest, task: Task, finished: services.Finished, before: Plan, *, warning: str = ""
) -> HttpResponse:
    completion = finished.completion
    if completion.undone_at is not None:
        return _taken(
            request, task, "This was entered and taken back already. Open the task to enter it anew."
        )
    words = _said(request, completion.summary or f"{completion.get_outcome_display()}: {completion.reason}")
    lead = recorder_for(task).lead(completion.record_id) if completion.record_id else None
    if not request.htmx:
        messages.success(request, f"{task.title}: {words}")
        if warning:
            messages.warning(request, warning)
        return redirect(lead.url if lead else next_of(request, _on_the_walk(task)))
    change = compare(before, planned(request.user, task.scope), done=_key(task), today=timezone.localdate())
    token = token_of(request, task.stop_path)
    return answer(
        request,
        token,
        toast=_toast(task, completion, words, token),
        others=change.stop_paths,
        just=completion.uuid,
        changes=change.words,
        lead=lead,
        notice=warning,
    )


def _key(task: Task) -> Key:
    return (task.rule, task.subject_kind, task.subject_id)


def _toast(task: Task, completion: Completion, words: str, token: str) -> dict[str, Any]:
    """The line at the foot of the screen, with undo where the record can be taken back."""
    toast: dict[str, Any] = {"text": f"{task.title}: {words}", "seconds": services.UNDO_SECONDS}
    if completion.record_id is None or recorder_for(task).can_take_back:
        undo = reverse("completion_undo", args=[completion.uuid])
        toast |= {"undo_url": f"{undo}?within={token}", "undo_target": f"#{element_of(token)}"}
    return toast


def _on_the_walk(task: Task) -> str:
    return f"{reverse('today')}#{anchor(task.stop_path)}"


@require_POST
@volunteer_required
def completion_undo(request: HttpRequest, uuid: uuid.UUID) -> HttpResponse:
    """Take one's own entry back within the time the undo is offered; later a link to its amendment."""
    completion = get_object_or_404(Completion.objects.select_related("task"), uuid=uuid)
    task = completion.task
    token, before = token_of(request, task.stop_path), planned(request.user, task.scope)
    try:
        services.completion_undo(uuid=uuid, by=request.user)
    except ClearmereError as error:
        return _not_undone(request, completion, token, error)
    words = f"Taken back: {task.title}"
    if request.htmx:
        change = compare(
            before, planned(request.user, task.scope), done=_key(task), today=timezone.localdate()
        )
        toast = {"text": words, "seconds": TOAST_SECONDS}
        return answer(request, token, toast=toast, others=change.stop_paths)
    messages.success(request, words)
    return redirect(next_of(request, _on_the_walk(task)))


def _not_undone(
    request: HttpRequest, completion: Completion, token: str, error: ClearmereError
) -> HttpResponse:
    if request.htmx:
        amend = {}
        if isinstance(error, services.TooLate) and completion.record_id is not None:
            url = reverse("record_amend", args=[completion.record_kind, completion.record_id])
            amend = {"notice_url": url, "notice_word": "Amend it"}
        return answer(request, token, notice=str(error), status=409, **amend)
    messages.warning(request, str(error))
    return redirect(next_of(request, _on_the_walk(completion.task)))


@require_POST
@volunteer_required
def task_assign(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a task on, or hand it back; a manager gives it to anybody."""
    task = get_object_or_404(Task, pk=pk)
    require_role(request.user, task.role)
    form = AssignForm(request.POST)
    token = token_of(request, task.stop_path)
    try:
        if not form.is_valid():
            raise services.TaskError("This person is not here any more. Choose somebody else.")
        services.task_assign(task_id=pk, to=form.cleaned_data["to"], by=request.user)
    except services.AlreadyClosed as error:
        return _taken(request, task, _said(request, error))
    except ClearmereError as error:
        if request.htmx:
            return answer(request, token, notice=str(error), status=409)
        messages.warning(request, str(error))
    if request.htmx:
        who = form.cleaned_data["to"]
        words = f"{task.title}: {who} does it" if who else f"{task.title}: free for anybody"
        return answer(request, token, toast={"text": words, "seconds": TOAST_SECONDS})
    return redirect(next_of(request, _on_the_walk(task)))
