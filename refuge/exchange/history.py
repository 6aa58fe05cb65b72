"""Earlier versions of whatever was amended or changed: one table for all of them."""

import json
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from django.apps import apps
from django.db.models import Model

from refuge.exchange.columns import Column, columns
from refuge.exchange.registry import register

WHAT = {"+": "entered", "~": "changed", "-": "deleted"}


@register
class History:
    """Every version of each object that was changed at least once."""

    key, title, order = "history", "Earlier versions", 900
    words = "Every version of what was amended or changed: who, when and why. Values as JSON, by column."
    row_form = None
    columns = columns(
        Column("table", words="What kind of thing it is"),
        Column("id", words="Its number in the database"),
        Column("uuid", words="The record's uuid, for records"),
        Column("version_at", words="When this version came about"),
        Column("what", words="entered, changed or deleted"),
        Column("by", words="Who did it"),
        Column("reason", words="Why"),
        Column("values", words="All values of this version"),
    )

    def rows(self) -> Iterator[list[Any]]:
        for model in apps.get_models():
            tracked: Any = getattr(model, "history", None)
            if tracked is not None and hasattr(tracked, "model"):
                yield from _versions(model, tracked.model)


def _versions(model: type[Model], historical: Any) -> Iterator[list[Any]]:
    key = model._meta.pk.name
    changed = historical.objects.exclude(history_type="+").values(key)
    versions = historical.objects.filter(**{f"{key}__in": changed}).select_related("history_user")
    names = [each.attname for each in model._meta.concrete_fields]
    for each in versions.order_by(key, "history_id").iterator(chunk_size=500):
        values = {name: _plain(getattr(each, name)) for name in names if name not in (key, "uuid")}
        yield [
            model._meta.label_lower,
            getattr(each, key),
            getattr(each, "uuid", None),
            each.history_date,
            WHAT[each.history_type],
            str(each.history_user) if each.history_user else None,
            each.history_change_reason,
            json.dumps(values, ensure_ascii=False),
        ]


def _plain(value: Any) -> Any:
    if isinstance(value, date | datetime):
        return value.isoformat()
    return value if value is None or isinstance(value, str | int | float | bool) else str(value)
