"""The day's work: tasks the planner wants, what people did about them, the limits in force, and messages."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from refuge.bounds import known
from refuge.people.models import Role


class Task(models.Model):
    """One due piece of work. Written by the planner alone; what was done is a Completion and a record.

    The stop (where in the round) is copied from the facts, so that a list of tasks needs no other table.
    """

    class Status(models.TextChoices):
        OPEN = "open", "Open"
        DONE = "done", "Done"
        COULD_NOT = "could_not", "Could not be done"
        NOT_NEEDED = "not_needed", "Not needed"
        WITHDRAWN = "withdrawn", "No longer wanted"

    rule = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=20)
    subject_id = models.BigIntegerField()
    subject_label = models.CharField(max_length=120)
    subject_path = models.CharField(max_length=120)
    scope = models.BigIntegerField("circuit it belongs to", null=True)

    area_code = models.CharField(max_length=12)
    area_name = models.CharField(max_length=80)
    area_rank = models.PositiveSmallIntegerField()
    area_position = models.PositiveSmallIntegerField(default=0)
    stop_code = models.CharField(max_length=12)
    stop_name = models.CharField(max_length=80)
    stop_position = models.PositiveSmallIntegerField()
    stop_path = models.CharField(max_length=120)

    title = models.CharField(max_length=120)
    due_on = models.DateField()
    is_unknown = models.BooleanField("waits for a measurement", default=False)
    reasons = models.JSONField(default=list)  # [{"text", "on", "kind", maybe "goes_by"}], earliest first
    instruction = models.TextField(blank=True)
    prefill = models.JSONField(default=dict)
    limits = models.JSONField(default=list)  # [{"key", "value", "unit", "origin"}]: what the rule went by
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.VOLUNTEER)
    fingerprint = models.CharField(max_length=32, default="", editable=False)  # of all the above, as planned

    status = models.CharField(max_length=12, choices=Status.choices, default=Status.OPEN)
    assigned_to = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="tasks"
    )
    opened_at = models.DateTimeField(default=timezone.now)
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["rule", "subject_kind", "subject_id"],
                condition=Q(status="open"),
                name="task_one_open_per_rule_and_subject",
            ),
            known("task", "status", ["open", "done", "could_not", "not_needed", "withdrawn"]),
            models.CheckConstraint(
                condition=Q(status="open", closed_at__isnull=True)
                | (~Q(status="open") & Q(closed_at__isnull=False)),
                name="task_closed_when_not_open",
            ),
        ]
        indexes = [
            # The round of a day reads open tasks only; there are years of closed ones behind them.
            models.Index(
                fields=["due_on", "area_rank", "area_position", "stop_position"],
                condition=Q(status="open"),
                name="task_open_by_round",
            ),
            models.Index(fields=["scope"], condition=Q(status="open"), name="task_open_by_scope"),
            models.Index(
                fields=["subject_kind", "subject_id"], condition=Q(status="open"), name="task_open_by_subject"
            ),
            models.Index(fields=["closed_at"], condition=~Q(status="open"), name="task_closed_at"),
        ]

    def __str__(self) -> str:
        return f"{self.title}: {self.subject_label}"


class Completion(models.Model):
    """What somebody did about a task. The same `uuid` twice is one completion."""

    class Outcome(models.TextChoices):
        DONE = "done", "Done"
        COULD_NOT = "could_not", "Could not"
        NOT_NEEDED = "not_needed", "Not needed"

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    task = models.ForeignKey(Task, models.PROTECT, related_name="completions")
    outcome = models.CharField(max_length=12, choices=Outcome.choices)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="completions")
    at = models.DateTimeField("when it was done", default=timezone.now)
    entered_at = models.DateTimeField("when it was entered", default=timezone.now)
    reason = models.TextField("why not", blank=True)
    rest_until = models.DateField("not asked again before", null=True, blank=True)
    record_kind = models.CharField(max_length=60, blank=True)
    record_id = models.BigIntegerField(null=True, blank=True)
    summary = models.CharField("what was done, in words", max_length=300, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["task"], condition=Q(undone_at__isnull=True), name="completion_one_standing_per_task"
            ),
            known("completion", "outcome", ["done", "could_not", "not_needed"]),
            models.CheckConstraint(
                condition=Q(outcome="done") | ~Q(reason=""), name="completion_says_why_not"
            ),
        ]
        indexes = [
            models.Index(fields=["-entered_at"], name="completion_latest"),
            models.Index(
                fields=["rest_until"],
                condition=Q(rest_until__isnull=False, undone_at__isnull=True),
                name="completion_resting",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_outcome_display()} {self.at:%Y-%m-%d %H:%M}"


class Limit(models.Model):
    """A manager's value for a limit, for the site, one circuit or one filter. Rows are added, never edited."""

    class Scope(models.TextChoices):
        SITE = "site", "The whole site"
        CIRCUIT = "circuit", "One circuit"
        FILTER = "filter", "One filter"

    key = models.CharField(max_length=60)
    scope_kind = models.CharField(max_length=8, choices=Scope.choices, default=Scope.SITE)
    scope_id = models.BigIntegerField(default=0)
    value = models.FloatField(null=True, blank=True, help_text="Empty: back to the wider value.")
    reason = models.CharField(max_length=300)
    from_on = models.DateField("from")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    entered_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-from_on", "-pk"]
        indexes = [models.Index(fields=["key", "scope_kind", "scope_id", "-from_on"], name="limit_in_force")]
        constraints = [
            known("limit", "scope_kind", ["site", "circuit", "filter"]),
            models.CheckConstraint(condition=~Q(reason=""), name="limit_has_reason"),
            models.CheckConstraint(
                condition=Q(scope_kind="site", scope_id=0) | (~Q(scope_kind="site") & Q(scope_id__gt=0)),
                name="limit_scope_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key} = {self.value}"


class PlanRun(models.Model):
    """One run of the planner over the whole site, and what it could not judge."""

    day = models.DateField()
    started_at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True)
    opened = models.PositiveIntegerField(default=0)
    moved = models.PositiveIntegerField(default=0)
    withdrawn = models.PositiveIntegerField(default=0)
    standing = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-started_at"]
        get_latest_by = "started_at"

    def __str__(self) -> str:
        return f"Plan for {self.day}"


class Morning(models.Model):
    """What is done once for one local day. Its row is locked while that is done, so two clocks do it once."""

    day = models.DateField(primary_key=True)
    planned_at = models.DateTimeField("the plan was made", null=True, blank=True)
    told_at = models.DateTimeField("people were told", null=True, blank=True)

    class Meta:
        ordering = ["-day"]

    def __str__(self) -> str:
        return f"Morning of {self.day}"


class RuleFailure(models.Model):
    """A rule that raised for a subject. Shown to the manager until a later plan runs it without error."""

    rule = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=20)
    subject_id = models.BigIntegerField()
    subject_label = models.CharField(max_length=120)
    scope = models.BigIntegerField(null=True)
    error = models.TextField()
    seen_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["rule", "subject_kind", "subject_id"], name="rule_failure_once_per_subject"
            )
        ]

    def __str__(self) -> str:
        return f"{self.rule} failed for {self.subject_label}"


class Message(models.Model):
    """Something one person was to be told on one day. One row a person, day, kind and channel, ever."""

    class Kind(models.TextChoices):
        DIGEST = "digest", "The day's work"
        OVERDUE = "overdue", "Overdue work"
        READING = "reading", "Reading beyond its limit"
        MISSING = "missing", "Animals not seen"
        TROUBLE = "trouble", "A message could not be delivered"

    class Channel(models.TextChoices):
        APP = "app", "In the app"
        EMAIL = "email", "Email"

    class Status(models.TextChoices):
        WAITING = "waiting", "Waiting"
        SENDING = "sending", "Being sent"
        SENT = "sent", "Delivered"
        FAILED = "failed", "Given up"
        DROPPED = "dropped", "Not sent any more"

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="reminders")
    day = models.DateField()
    kind = models.CharField(max_length=12, choices=Kind.choices)
    about = models.CharField(
        "what it is about, for kinds that come more than once a day", max_length=120, blank=True
    )
    for_role = models.CharField(
        "least role that may read it", max_length=12, choices=Role.choices, default=Role.VOLUNTEER
    )
    channel = models.CharField(max_length=8, choices=Channel.choices)
    subject = models.CharField(max_length=200)
    body = models.TextField()
    path = models.CharField(max_length=200, blank=True)
    status = models.CharField(max_length=8, choices=Status.choices, default=Status.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(default=timezone.now)
    last_error = models.CharField(max_length=300, blank=True)
    claimed_at = models.DateTimeField("somebody began to send it", null=True, blank=True)
    handed_over_at = models.DateTimeField("from here on it may have arrived", null=True, blank=True)
    created_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True, blank=True)
    read_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "day", "kind", "about", "channel"], name="message_once_a_day"
            ),
            known("message", "channel", ["app", "email"]),
            known("message", "status", ["waiting", "sending", "sent", "failed", "dropped"]),
            known("message", "for_role", ["volunteer", "staff", "manager"]),
            models.CheckConstraint(
                condition=~Q(status="sending") | Q(claimed_at__isnull=False),
                name="message_sending_is_claimed",
            ),
        ]
        indexes = [
            models.Index(
                fields=["next_try_at"], condition=Q(status__in=["waiting", "sending"]), name="message_to_send"
            ),
            models.Index(fields=["person", "-created_at"], name="message_of_person"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} for {self.person_id} on {self.day}"
