"""Pages of a list."""

from rest_framework.pagination import LimitOffsetPagination


class Pages(LimitOffsetPagination):
    """`?limit=&offset=`: a hundred rows unless asked otherwise, never more than five hundred."""

    max_limit = 500
