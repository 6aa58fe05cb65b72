"""Lists that are only read: places, animals, what a record may refer to."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import mixins, viewsets

from refuge.api.queries import Query, asked


class ReadViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, viewsets.GenericViewSet):
    """A list and its rows; `query_class` says what the list can be narrowed by."""

    query_class: type[Query] | None = None
    lookup_value_converter = "int"

    def get_queryset(self) -> QuerySet[Any]:
        rows: QuerySet[Any] = super().get_queryset()
        if self.action == "list" and self.query_class is not None:
            return asked(self.query_class, self.request).narrow(rows)
        return rows
