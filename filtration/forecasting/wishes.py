"""Waters to be forecast anew: one row each, however much was recorded about them. Light, for every process."""

from collections.abc import Iterable

from django.db import transaction

from enclosures.models import Circuit
from filtration.forecasting.models import ForecastWanted


def want_forecasts(circuits: Iterable[int]) -> None:
    """Remember that these waters are to be forecast anew: 2 queries, and once however many records there were."""
    known = Circuit.objects.filter(pk__in=list(circuits)).values_list("pk", flat=True)
    ForecastWanted.objects.bulk_create([ForecastWanted(pk=pk) for pk in known], ignore_conflicts=True)


@transaction.atomic
def take_wishes(most: int) -> list[int]:
    """The oldest wishes, which are thereby taken: only one worker gets each."""
    wishes = list(ForecastWanted.objects.select_for_update().values_list("pk", flat=True)[:most])
    ForecastWanted.objects.filter(pk__in=wishes).delete()
    return wishes
