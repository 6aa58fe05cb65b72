"""The API of the round: what is due, and what people did about it."""

from typing import Any, cast
from uuid import UUID

from django.db.models import Case, QuerySet, Value, When
from django.utils import timezone
from drf_spectacular.utils import OpenApiResponse, extend_schema, extend_schema_field, extend_schema_view
from rest_framework import mixins, serializers, status, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from refuge.api.errors import Conflict, refuse_invalid
from refuge.api.fields import StrictSerializer, describe
from refuge.api.queries import Day, Query, RecordQuery, asked, id_field
from refuge.people.access import require_role
from refuge.people.models import User
from refuge.plain_values import bound
from refuge.rounds import services
from refuge.rounds.cautions import CAUTIONS
from refuge.rounds.models import Completion, Task
from refuge.rounds.recording import recorder
from refuge.rounds.round_parts import Filters, due_tasks
from refuge.rounds.selectors import roles_of
from refuge.rounds.walk import NOT_AS_PLANNED, WALK, against
from refuge.rules.registry import rules
from refuge.units import spoken


class Said(serializers.CharField):
    """A sentence with its amounts in metric units, whoever asks."""

    def to_representation(self, value: Any) -> str:
        return spoken(str(value))


class ReasonOut(serializers.Serializer):
    text = Said()
    due_on = serializers.DateField(source="on", help_text="The day that this reason asks for.")
    kind = serializers.CharField()


class UsedLimitOut(serializers.Serializer):
    key = serializers.CharField()
    value = serializers.FloatField()
    unit = serializers.CharField()
    origin = serializers.CharField(help_text="default, site, circuit or filter: where the value was set.")


class TaskOut(serializers.ModelSerializer):
    instruction = Said(read_only=True, help_text="What to do, with its amounts in metric units.")
    reasons = ReasonOut(many=True, read_only=True, help_text="Why it is due, the most urgent first.")
    limits = UsedLimitOut(many=True, read_only=True, help_text="The limits that the rule went by.")
    assigned_to_name = serializers.CharField(source="assigned_to.name", default="", read_only=True)
    needs_fields = serializers.SerializerMethodField(
        help_text="False: it can be finished without fields, as planned or all well. True too while a reason of the "
        "kind `against` forbids that."
    )

    class Meta:
        model = Task
        fields = [
            "id",
            "title",
            "rule",
            "subject_kind",
            "subject_id",
            "subject_label",
            "subject_path",
            "area_code",
            "area_name",
            "area_rank",
            "stop_code",
            "stop_name",
            "stop_path",
            "due_on",
            "is_unknown",
            "reasons",
            "instruction",
            "limits",
            "role",
            "status",
            "assigned_to",
            "assigned_to_name",
            "needs_fields",
        ]

    def get_needs_fields(self, task: Task) -> bool:
        rule = rules.get(task.rule)
        return not (rule and rule.one_tap) or bool(against(task.reasons))


class FormFieldOut(serializers.Serializer):
    """One thing that the record of a task asks for. A bare number counts in `unit`."""

    name = serializers.CharField()
    label = serializers.CharField()
    type = serializers.CharField(help_text="number, integer, text, boolean, choice or date")
    unit = serializers.CharField()
    required = serializers.BooleanField()
    minimum = serializers.FloatField(allow_null=True)
    maximum = serializers.FloatField(allow_null=True)
    choices = serializers.ListField(child=serializers.DictField())
    initial = serializers.JSONField(allow_null=True, help_text="What the page starts with.")
    help = serializers.CharField()


class TaskDetailOut(TaskOut):
    fields_asked = serializers.SerializerMethodField(help_text="What `fields` of a completion may hold.")
    cautions = serializers.SerializerMethodField()

    class Meta(TaskOut.Meta):
        fields = [*TaskOut.Meta.fields, "cautions", "fields_asked"]

    @extend_schema_field(FormFieldOut(many=True))
    def get_fields_asked(self, task: Task) -> list[dict[str, Any]]:
        if task.status != Task.Status.OPEN or rules.get(task.rule) is None:
            return []
        return describe(_recorder(task).form(task.subject_id, prefill=task.prefill))

    def get_cautions(self, task: Task) -> list[str]:
        rule = rules.get(task.rule)
        return [CAUTIONS[key][1] for key in rule.cautions] if rule else []


def _recorder(task: Task) -> Any:
    return recorder(rules[task.rule].recorder)


class TaskQuery(Query):
    day = Day(required=False, help_text="Due on this day or before. Today, if left out.")
    area = serializers.CharField(required=False, max_length=12, help_text="Code of an area.")
    mine = serializers.BooleanField(required=False, default=False, help_text="Only what is given to you.")


@extend_schema_view(
    list=extend_schema(parameters=[TaskQuery]), retrieve=extend_schema(responses=TaskDetailOut)
)
class TaskViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, viewsets.GenericViewSet):
    """Open tasks that your role may do, in walking order: clean areas first, quarantine last."""

    queryset = Task.objects.select_related("assigned_to")
    serializer_class = TaskOut
    lookup_value_converter = "int"

    def get_queryset(self) -> QuerySet[Task]:
        return self.walk() if self.action == "list" else super().get_queryset()

    def walk(self) -> QuerySet[Task]:
        wanted = asked(TaskQuery, self.request).validated_data
        filters = Filters(area=wanted.get("area", ""), mine=wanted["mine"])
        today = timezone.localdate()
        tasks = due_tasks(cast(User, self.request.user), filters, wanted.get("day") or today)
        if filters.area:
            tasks = tasks.filter(area_code=filters.area)
        urgency = Case(
            When(is_unknown=True, then=Value(1)), When(due_on__lt=today, then=Value(0)), default=Value(2)
        )
        order = (*WALK, urgency.asc(), "due_on", "title", "pk")
        return tasks.select_related("assigned_to").order_by(*order)

    def get_object(self) -> Task:
        """One task, open or not; 403 for work above this person's role, as on its page."""
        task: Task = super().get_object()
        require_role(cast(User, self.request.user), task.role)
        return task

    def get_serializer_class(self) -> type[serializers.Serializer]:
        return TaskDetailOut if self.action == "retrieve" else TaskOut


class CompletionOut(serializers.ModelSerializer):
    summary = Said(read_only=True, help_text="What was done, with its amounts in metric units.")
    by_name = serializers.CharField(source="by.name", read_only=True)
    task_title = serializers.CharField(source="task.title", read_only=True)
    subject_label = serializers.CharField(source="task.subject_label", read_only=True)

    class Meta:
        model = Completion
        fields = [
            "uuid",
            "task",
            "task_title",
            "subject_label",
            "outcome",
            "by",
            "by_name",
            "at",
            "entered_at",
            "reason",
            "rest_until",
            "record_kind",
            "summary",
            "undone_at",
        ]


@extend_schema_field(
    {"oneOf": [{"type": each} for each in ("string", "number", "boolean")], "nullable": True}
)
class Scalar(serializers.Field):
    """Text, a number, true, false or null."""

    def to_internal_value(self, value: Any) -> Any:
        if value is not None and not isinstance(value, str | int | float):
            raise ValidationError("Give one value: text, a number, true or false.")
        return value

    def to_representation(self, value: Any) -> Any:
        return value


class CompletionIn(StrictSerializer):
    """What was done about a task. Its record, if any, carries the same uuid."""

    uuid = serializers.UUIDField(help_text="Made by the client. The same one twice is one completion.")
    task = serializers.PrimaryKeyRelatedField(queryset=Task.objects.all())
    outcome = serializers.ChoiceField(choices=Completion.Outcome.choices, default=Completion.Outcome.DONE)
    at = serializers.DateTimeField(required=False, help_text="When it was done. Now, if left out.")
    reason = serializers.CharField(
        required=False, allow_blank=True, max_length=500, help_text="Why not, for could_not and not_needed."
    )
    fields = serializers.DictField(  # type: ignore[assignment]
        child=Scalar(allow_null=True),
        required=False,
        help_text="What the task's record asks for: see `fields_asked` of the task. Bare numbers are SI; text "
        "may carry a unit. Left out: as planned, or all well, where the task can be finished so (see `needs_fields`).",
    )


class CompletionQuery(RecordQuery):
    task = id_field("Completions of this task.")
    by = id_field("What this person did.")


@extend_schema_view(list=extend_schema(parameters=[CompletionQuery]))
class CompletionViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, viewsets.GenericViewSet):
    """What was done about tasks that your role may do, or why it was not."""

    queryset = Completion.objects.select_related("by", "task")
    serializer_class = CompletionOut
    lookup_field = "uuid"
    lookup_value_converter = "uuid"

    def get_queryset(self) -> QuerySet[Completion]:
        rows = super().get_queryset().filter(task__role__in=roles_of(cast(User, self.request.user)))
        if self.action == "list":
            return asked(CompletionQuery, self.request).narrow(rows.filter(undone_at__isnull=True))
        return rows

    @extend_schema(
        request=CompletionIn,
        responses={
            201: CompletionOut,
            200: OpenApiResponse(CompletionOut, description="The same uuid made this completion before."),
            409: OpenApiResponse(description="Somebody else was first, or it is no longer wanted."),
        },
    )
    def create(self, request: Request) -> Response:
        """Finish a task (this makes its record), or say why it could not be done or is not needed."""
        entry = CompletionIn(data=request.data)
        entry.is_valid(raise_exception=True)
        finished = finish(cast(User, request.user), entry.validated_data)
        code = status.HTTP_201_CREATED if finished.is_new else status.HTTP_200_OK
        return Response(self.get_serializer(finished.completion).data, status=code)

    @extend_schema(request=None, responses=CompletionOut)
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, uuid: UUID) -> Response:
        """Take back your own entry, within a minute. Later, amend the record. A repeat changes nothing."""
        self.get_object()
        completion = services.completion_undo(uuid=uuid, by=cast(User, request.user))
        return Response(self.get_serializer(completion).data)


def finish(by: User, given: dict[str, Any]) -> services.Finished:
    """Close a task as asked. Errors of the record's fields come keyed under `fields`."""
    task: Task = given["task"]
    require_role(by, task.role)
    if given["outcome"] != Completion.Outcome.DONE:
        if not given.get("reason", "").strip():
            raise ValidationError({"reason": ["Say why, in a few words: whoever comes next needs to know."]})
        return services.task_set_aside(
            task_id=task.pk, by=by, outcome=given["outcome"], reason=given["reason"], uuid=given["uuid"]
        )
    repeat = Completion.objects.filter(uuid=given["uuid"], task=task).select_related("task", "by").first()
    if repeat is not None:  # before its fields are judged: what they are judged by may have changed since
        return services.Finished(repeat, False)
    if rules.get(task.rule) is None:
        raise Conflict("This task comes from a rule that is no longer in use.")
    return services.task_complete(task_id=task.pk, by=by, cleaned=record_values(task, given))


def record_values(task: Task, given: dict[str, Any]) -> dict[str, Any]:
    """The cleaned values of a task's record: from the fields, or as planned when there are none."""
    at = given.get("at")
    if not given.get("fields"):
        tapped = _recorder(task).one_tap(task.subject_id, task.prefill)
        why = spoken(against(task.reasons)) if task.status == Task.Status.OPEN else ""
        if tapped is not None and why:
            raise ValidationError({"fields": [f"{why}. {NOT_AS_PLANNED}"]})
        if tapped is not None:
            return {**tapped, "uuid": given["uuid"], "at": at or timezone.now(), "note": ""}
    form = _recorder(task).form(task.subject_id, prefill=task.prefill)
    fields = given.get("fields", {})
    unknown = {name: ["There is no such field."] for name in fields if name not in form.fields}
    if unknown:
        raise ValidationError({"fields": unknown})
    bound(form, {**fields, "uuid": given["uuid"], "at": at})
    try:
        refuse_invalid(form)
    except ValidationError as error:
        raise ValidationError({"fields": error.detail}) from None
    return cast(dict[str, Any], form.cleaned_data)
