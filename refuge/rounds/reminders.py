"""Who is told what, and when. Whatever is told is a row for each person and channel, made once.

The message in the app is there with its row; one by email waits for refuge.rounds.delivery. The same person,
day, kind and subject is one message: a later plan, a second worker or a repeated run adds nothing.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime, timedelta
from functools import partial

from django.conf import settings
from django.db import transaction
from django.db.models import Max, QuerySet
from django.urls import reverse
from django.utils import timezone

from refuge.people.models import Role, User
from refuge.people.selectors import site_today, the_refuge
from refuge.rounds.digest import Words, digest_words, found_words, overdue_words
from refuge.rounds.models import Message, Morning, Task
from refuge.rounds.planner import plan_site
from refuge.rounds.schedule import SiteClock
from refuge.rules.registry import rules

FOUND_KEPT_IN_MIND = timedelta(days=60)
# Kinds of reasons that managers are told at once, and the messages that tell them.
TOLD_AT_ONCE = {"reading": Message.Kind.READING, "missing": Message.Kind.MISSING}
WALK = ("area_rank", "area_position", "stop_position", "due_on", "pk")
BATCH = 200


def site_clock() -> SiteClock | None:
    """The refuge's clock, or None before there is a refuge: 1 query."""
    refuge = the_refuge()
    return SiteClock(refuge.zone, refuge.morning_at) if refuge else None


def plan_when_due(now: datetime) -> bool:
    """Make the plan of the day if its hour has come and it is not made yet. Whether this call made it."""
    clock = site_clock()
    day = clock.plan_due(_latest("planned_at"), now) if clock else None
    return day is not None and _once(day, "planned_at", partial(plan_site, now=now))


def tell_when_due(now: datetime) -> bool:
    """Write the morning's messages if their hour has come and they are not written yet."""
    clock = site_clock()
    day = clock.telling_due(_latest("told_at"), now) if clock else None
    return day is not None and _once(day, "told_at", partial(_tell_morning, day))


def tell_findings(scopes: Iterable[int] | None, day: date) -> None:
    """Tell managers of readings beyond a limit, and of animals not seen, in these circuits (None: everywhere).

    Each finding once: what a manager was told in the last weeks in the same words is not told again.
    """
    found = [
        (task, kind)
        for task in _open_tasks(scopes)
        for kind in TOLD_AT_ONCE
        if any(reason["kind"] == kind for reason in task.reasons)
    ]
    if not found:
        return
    told, managers = _told_before(_about(task) for task, _ in found), list(_managers())
    messages: list[Message] = []
    for task, kind in found:
        words, about = found_words(task, kind), _about(task)
        people = [each for each in managers if (each.pk, about, words.body) not in told]
        messages += _messages(people, TOLD_AT_ONCE[kind], day, words, about=about, path=_help_path(task))
    _keep(messages)


def _help_path(task: Task) -> str:
    """Where the rule says what to do about what was found; else the page of the subject."""
    rule = rules.get(task.rule)
    return reverse(rule.help_page, args=[task.subject_id]) if rule and rule.help_page else task.subject_path


def tell_trouble(words: Words, *, about: str) -> None:
    """Tell managers, in the app alone, that the program could not do something; once a day for `about`."""
    path = reverse("overview")
    _keep(_messages(_managers(), Message.Kind.TROUBLE, site_today(), words, about=about, path=path))


@transaction.atomic
def _once(day: date, mark: str, work: Callable[[], object]) -> bool:
    """Do `work` once for `day`, whoever asks and however often.

    The row is locked until the work and its mark are committed together: a second clock waits and then finds
    it done, and after a crash neither work nor mark is there.
    """
    Morning.objects.get_or_create(day=day)
    morning = Morning.objects.select_for_update().get(day=day)
    if getattr(morning, mark) is not None:
        return False
    work()
    setattr(morning, mark, timezone.now())
    morning.save(update_fields=[mark])
    return True


def _latest(mark: str) -> date | None:
    done = Morning.objects.exclude(**{mark: None})
    latest: date | None = done.aggregate(latest=Max("day"))["latest"]
    return latest


def _tell_morning(day: date) -> None:
    """4 queries for any number of people and tasks, besides the rows written."""
    due = _due_tasks(day)
    messages: list[Message] = []
    for person in User.objects.filter(is_active=True, wants_digest=True).order_by("pk"):
        words = digest_words(person, due, day)
        messages += _messages([person], Message.Kind.DIGEST, day, words, path=reverse("today"))
    late = [task for task in due if task.due_on < day - timedelta(days=1)]
    if late:
        words, path = overdue_words(late, day), reverse("overview")
        messages += _messages(_managers(), Message.Kind.OVERDUE, day, words, path=path)
    _keep(messages)
    tell_findings(None, day)


def _due_tasks(day: date) -> list[Task]:
    due = Task.objects.filter(status=Task.Status.OPEN, due_on__lte=day).order_by(*WALK)
    return list(due.select_related("assigned_to").defer("reasons", "prefill", "limits", "instruction"))


def _open_tasks(scopes: Iterable[int] | None) -> QuerySet[Task]:
    tasks = Task.objects.filter(status=Task.Status.OPEN).order_by("pk")
    tasks = tasks.only("rule", "subject_kind", "subject_id", "subject_label", "subject_path", "reasons")
    return tasks if scopes is None else tasks.filter(scope__in=scopes)


def _managers() -> QuerySet[User]:
    return User.objects.filter(is_active=True, role=Role.MANAGER).order_by("pk")


def _about(task: Task) -> str:
    return f"{task.rule}:{task.subject_kind}:{task.subject_id}"


def _told_before(abouts: Iterable[str]) -> set[tuple[int, str, str]]:
    told = Message.objects.filter(
        kind__in=TOLD_AT_ONCE.values(),
        channel=Message.Channel.APP,
        about__in=list(abouts),
        created_at__gte=timezone.now() - FOUND_KEPT_IN_MIND,
    )
    return set(told.values_list("person_id", "about", "body"))


def _messages(
    people: Iterable[User], kind: Message.Kind, day: date, words: Words, *, path: str, about: str = ""
) -> list[Message]:
    return [
        Message(
            person=person,
            day=day,
            kind=kind,
            about=about,
            channel=channel,
            subject=words.subject,
            body=words.body,
            path=path,
            # Demoted before it is sent, a person no longer gets what was written for the higher role.
            for_role=person.role,
            status=Message.Status.SENT if channel == Message.Channel.APP else Message.Status.WAITING,
            sent_at=timezone.now() if channel == Message.Channel.APP else None,
        )
        for person in people
        for channel in _channels(person, kind)
    ]


def _channels(person: User, kind: Message.Kind) -> list[Message.Channel]:
    by_email = settings.EMAIL_CONFIGURED and person.email and kind != Message.Kind.TROUBLE
    return [Message.Channel.APP, Message.Channel.EMAIL] if by_email else [Message.Channel.APP]


def _keep(messages: Sequence[Message]) -> None:
    # The unique constraint decides what was told already, not a look beforehand: two may write at once.
    Message.objects.bulk_create(messages, ignore_conflicts=True, batch_size=BATCH)
