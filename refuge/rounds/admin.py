"""What the round keeps, to look at. The planner and the services write it, so nothing here can be edited."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from refuge.rounds.models import Completion, Limit, Message, PlanRun, RuleFailure, Task


class ReadOnly(admin.ModelAdmin):
    """A list and a page for each row, without a way to change any."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Task)
class TaskAdmin(ReadOnly):
    list_display = ("title", "subject_label", "due_on", "status", "assigned_to")
    list_filter = ("status", "rule", "role")
    list_select_related = ("assigned_to",)
    search_fields = ("subject_label", "title")


@admin.register(Completion)
class CompletionAdmin(ReadOnly):
    list_display = ("task", "outcome", "by", "at", "summary", "undone_at")
    list_filter = ("outcome",)
    list_select_related = ("task", "by")
    date_hierarchy = "at"


@admin.register(Limit)
class LimitAdmin(ReadOnly):
    list_display = ("key", "scope_kind", "scope_id", "value", "from_on", "by", "reason")
    list_filter = ("scope_kind", "key")
    list_select_related = ("by",)


@admin.register(PlanRun)
class PlanRunAdmin(ReadOnly):
    list_display = ("day", "started_at", "finished_at", "opened", "moved", "withdrawn", "standing")


@admin.register(RuleFailure)
class RuleFailureAdmin(ReadOnly):
    list_display = ("rule", "subject_label", "error", "seen_at")


@admin.register(Message)
class MessageAdmin(ReadOnly):
    list_display = ("person", "day", "kind", "channel", "status", "attempts", "last_error")
    list_filter = ("channel", "status", "kind")
    list_select_related = ("person",)
