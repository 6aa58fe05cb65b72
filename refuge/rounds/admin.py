"""What the round keeps, to look at. The planner and the services write it, so nothing here can be edited."""

from django.contrib import admin

from refuge.only_to_look import OnlyToLook
from refuge.rounds.models import Completion, Limit, Message, PlanRun, RuleFailure, Task
from refuge.units import spoken


@admin.register(Task)
class TaskAdmin(OnlyToLook):
    list_display = ("title", "subject_label", "due_on", "status", "assigned_to")
    list_filter = ("status", "rule", "role")
    list_select_related = ("assigned_to",)
    search_fields = ("subject_label", "title")
    exclude = ("reasons", "instruction")
    readonly_fields = ("why", "what_to_do")

    @admin.display(description="why it is due")
    def why(self, task: Task) -> str:
        return spoken("\n".join(f"{each['on']}: {each['text']}" for each in task.reasons))

    @admin.display(description="what to do")
    def what_to_do(self, task: Task) -> str:
        return spoken(task.instruction)


@admin.register(Completion)
class CompletionAdmin(OnlyToLook):
    list_display = ("task", "outcome", "by", "at", "what", "undone_at")
    list_filter = ("outcome",)
    list_select_related = ("task", "by")
    date_hierarchy = "at"
    exclude = ("summary",)
    readonly_fields = ("what",)

    @admin.display(description="what was done")
    def what(self, completion: Completion) -> str:
        return spoken(completion.summary)


@admin.register(Limit)
class LimitAdmin(OnlyToLook):
    list_display = ("key", "scope_kind", "scope_id", "value", "from_on", "by", "reason")
    list_filter = ("scope_kind", "key")
    list_select_related = ("by",)


@admin.register(PlanRun)
class PlanRunAdmin(OnlyToLook):
    list_display = ("day", "started_at", "finished_at", "opened", "moved", "withdrawn", "standing")


@admin.register(RuleFailure)
class RuleFailureAdmin(OnlyToLook):
    list_display = ("rule", "subject_label", "error", "seen_at")


@admin.register(Message)
class MessageAdmin(OnlyToLook):
    list_display = ("person", "day", "kind", "channel", "status", "attempts", "last_error")
    list_filter = ("channel", "status", "kind")
    list_select_related = ("person",)
    exclude = ("body",)
    readonly_fields = ("text",)

    @admin.display(description="body")
    def text(self, message: Message) -> str:
        return spoken(message.body)
