"""Database constraints said in words: this column is positive, that one a share."""

from django.db.models import CheckConstraint, F, Q


def _or_null(name: str, condition: Q) -> Q:
    return Q(**{f"{name}__isnull": True}) | condition


def positive(table: str, *names: str) -> list[CheckConstraint]:
    """Each column is greater than zero where it is given."""
    return [
        CheckConstraint(condition=_or_null(n, Q(**{f"{n}__gt": 0})), name=f"{table}_{n}_positive")
        for n in names
    ]


def not_negative(table: str, *names: str) -> list[CheckConstraint]:
    """Each column is zero or more where it is given."""
    return [
        CheckConstraint(condition=_or_null(n, Q(**{f"{n}__gte": 0})), name=f"{table}_{n}_not_neg")
        for n in names
    ]


def share(table: str, *names: str) -> list[CheckConstraint]:
    """Each column is a share between 0 and 1 where it is given."""
    return [between(table, n, 0, 1) for n in names]


def between(table: str, name: str, low: float, high: float) -> CheckConstraint:
    """The column lies within [low, high] where it is given."""
    condition = _or_null(name, Q(**{f"{name}__gte": low, f"{name}__lte": high}))
    return CheckConstraint(condition=condition, name=f"{table}_{name}_within")


def known(table: str, name: str, values: list[str]) -> CheckConstraint:
    """The column holds one of the listed words."""
    return CheckConstraint(condition=Q(**{f"{name}__in": values}), name=f"{table}_{name}_known")


def ordered(table: str, first: str, last: str) -> CheckConstraint:
    """`last`, where it is given, does not come before `first`."""
    return CheckConstraint(
        condition=_or_null(last, Q(**{f"{last}__gte": F(first)})), name=f"{table}_{last}_after"
    )
