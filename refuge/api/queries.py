"""What a list may be asked for by its address."""

from datetime import date, datetime, time, timedelta
from typing import Any, TypeVar

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2200, 1, 1)
LARGEST_ID = 2**63 - 1

QueryT = TypeVar("QueryT", bound="Query")


class Day(serializers.DateField):
    """A day of the refuge's own calendar."""

    def to_internal_value(self, value: Any) -> date:
        day = super().to_internal_value(value)
        if not FIRST_DAY <= day <= LAST_DAY:
            raise ValidationError("Choose a day between 1900 and 2200.")
        return day


def id_field(help_text: str) -> serializers.IntegerField:
    return serializers.IntegerField(required=False, min_value=1, max_value=LARGEST_ID, help_text=help_text)


class Query(serializers.Serializer):
    """Base of the queries: fields that are model look-ups under the same name."""

    def narrow(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        """The rows that are asked for."""
        return rows.filter(
            **{name: value for name, value in self.validated_data.items() if value is not None}
        )


class RecordQuery(Query):
    """`since` and `until` are days of the refuge's calendar, both included."""

    since = Day(required=False, help_text="First day.")
    until = Day(required=False, help_text="Last day.")
    ordering = serializers.ChoiceField(
        choices=[("-at", "newest first"), ("at", "oldest first")], required=False, default="-at"
    )

    def narrow(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        wanted = dict(self.validated_data)
        since, until, ordering = (wanted.pop(name, None) for name in ("since", "until", "ordering"))
        if since:
            rows = rows.filter(at__gte=day_start(since))
        if until:
            rows = rows.filter(at__lt=day_start(until + timedelta(days=1)))
        sign = "" if ordering == "at" else "-"
        return rows.filter(**wanted).order_by(f"{sign}at", f"{sign}pk")


def day_start(day: date) -> datetime:
    """The first instant of a day in the time zone in force, which a request sets to the refuge's own."""
    return timezone.make_aware(datetime.combine(day, time.min))


def asked(query_class: type[QueryT], request: Request) -> QueryT:
    """The query of a request. ValidationError, keyed by parameter, for what makes no sense."""
    query = query_class(data=request.query_params)
    query.is_valid(raise_exception=True)
    return query
