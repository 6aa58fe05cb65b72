"""Django's own admin as a window: everything can be looked at, nothing changed.

Whatever is written goes through a service, which keeps who did it and has the day planned anew; a form of the
admin would do neither.
"""

from typing import Any

from django.contrib import admin
from django.db.models import Model, QuerySet
from django.http import HttpRequest


class NoChange:
    """Mixed into pages and inlines of the admin: no way to add, change or delete."""

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class OnlyToLook(NoChange, admin.ModelAdmin):
    """A list, and a page for each row."""

    show_full_result_count = False  # counting years of records would be most of the work


class Rows(NoChange, admin.TabularInline):
    """What belongs to a row, below it."""

    extra = 0


class RecordsToLook(OnlyToLook):
    """Records: those that were struck out stay readable."""

    date_hierarchy = "at"
    readonly_fields = ("uuid", "entered_at", "voided_at")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Model]:
        model: Any = self.model
        ordering = self.get_ordering(request)
        rows: QuerySet[Model] = model.everything.all()
        return rows.order_by(*ordering) if ordering else rows
