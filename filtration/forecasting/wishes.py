"""Waters to be forecast anew: one row each, however much was recorded about them. Light, for every process."""

from collections.abc import Iterable
from datetime import datetime
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import OuterRef, Q, Subquery

from enclosures.models import Circuit
from filtration.forecasting.models import ForecastWanted, WaterForecast
from refuge.prepared import prepared

Wishes = dict[int, datetime]  # since when, by water


def want_forecasts(circuits: Iterable[int]) -> None:
    """Remember that these waters are to be forecast anew, as of now: 2 queries, and once however many records there were.

    A wish that is already there becomes as new as this one: whoever is at work on it leaves it for another run.
    """
    known = Circuit.objects.filter(pk__in=list(circuits)).values_list("pk", flat=True)
    ForecastWanted.objects.bulk_create(
        [ForecastWanted(pk=pk) for pk in known],
        update_conflicts=True,
        unique_fields=["circuit"],
        update_fields=["since"],
    )


def wishes(most: int) -> Wishes:
    """The oldest wishes; they stay until they are fulfilled. Two workers may see the same: a repeat does no harm."""
    return dict(ForecastWanted.objects.values_list("pk", "since")[:most])


def fulfil(seen: Wishes) -> None:
    """Forget these wishes, but not one that became newer than it was seen: 1 query."""
    same = (Q(pk=pk, since=since) for pk, since in seen.items())
    ForecastWanted.objects.filter(reduce(or_, same)).delete()


def change_stamp(circuits: Iterable[int]) -> list[tuple[Any, ...]]:
    """Something that is another after every record of these waters, and after every forecast of them: 1 query."""
    return list(_stamps(circuits=list(circuits)))


@prepared
def _stamps(circuits: list[int]) -> Any:
    wanted = ForecastWanted.objects.filter(pk=OuterRef("pk")).values("since")
    made = WaterForecast.objects.filter(circuit=OuterRef("pk")).order_by("-day").values("made_at")[:1]
    rows = Circuit.objects.filter(pk__in=circuits).order_by("pk")
    return rows.values_list("pk", Subquery(wanted), Subquery(made))
