"""The day's work as tables of files."""

from refuge.exchange.columns import Column, columns
from refuge.exchange.registry import register
from refuge.exchange.resource import TableResource
from refuge.rounds.models import Completion, Limit, Task
from refuge.units import spoken


@register
class TaskResource(TableResource):
    key, title, order = "tasks", "Tasks", 70
    words = "Work that was or is due, and why."
    columns = columns(
        Column("task", "pk", "number of the task"),
        "rule",
        "title",
        Column("subject", "subject_label", "what it is about"),
        "subject_kind",
        Column("area", "area_code", "code of the area"),
        Column("stop", "stop_code", "code of the place on the walk"),
        "due_on",
        Column("is_unknown", words="waits for a measurement"),
        Column("reasons", lambda task: spoken(" | ".join(r["text"] for r in task.reasons)), "why it was due"),
        "role",
        "status",
        "assigned_to=assigned_to__name",
        "opened_at",
        "closed_at",
    )
    related = ("assigned_to",)

    class Meta:
        model = Task


@register
class CompletionResource(TableResource):
    key, title, order = "completions", "Completions", 71
    words = "What was done about tasks, or why it was not. A completion and its record carry the same uuid."
    columns = columns(
        "uuid",
        Column("task", "task_id", "number of the task"),
        Column("title", "task__title", "what was to be done"),
        Column("subject", "task__subject_label", "what it was about"),
        "outcome",
        "by=by__name",
        "at",
        "entered_at",
        Column("reason", words="why not"),
        Column("rest_until", words="not asked again before"),
        Column("record_kind", words="kind of the record that was made"),
        Column("summary", lambda done: spoken(done.summary), "what was done, in words"),
        Column("undone_at", words="when it was taken back, if it was"),
    )
    related = ("task", "by")

    class Meta:
        model = Completion


@register
class LimitResource(TableResource):
    key, title, order = "limits", "Limits", 72
    words = "Values that managers set, each with its reason; the newest in force counts."
    columns = columns(
        Column("limit", "key", "which limit"),
        Column("scope_kind", words="site, circuit or filter"),
        Column("scope_id", words="number of the circuit or filter, 0 for the site"),
        Column("value", words="empty: back to the wider value"),
        "reason",
        Column("from_on", words="from this day on"),
        "by=by__name",
        "entered_at",
    )
    related = ("by",)

    class Meta:
        model = Limit
