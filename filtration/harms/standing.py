"""Whether a filter that stopped still stands: until somebody says that it runs, or measures a flow after it was entered."""

from datetime import datetime, timedelta
from typing import Any

from django.db.models import OuterRef, Subquery

from filtration.harms.models import FilterHarm
from filtration.models import Maintenance


def flowed_at(until: Any) -> Subquery:
    """Beside rows of FilterHarm: the first bucket test of its filter after it began and was entered, up to `until`."""
    measured = Maintenance.objects.filter(
        filter=OuterRef("filter"), kind=Maintenance.Kind.BUCKET_TEST, flow_m3_h__gt=0, at__lte=until
    )
    later = measured.filter(at__gt=OuterRef("at")).filter(at__gt=OuterRef("entered_at"))
    return Subquery(later.order_by("at").values("at")[:1])


def as_it_stands(harm: FilterHarm, flowed: datetime | None, now: datetime) -> FilterHarm:
    """A harm as it is now, not to be saved: one that went on when it was entered lasted until the flow was measured,
    or goes on still."""
    if harm.runs_again:
        return harm
    harm.runs_again = flowed is not None
    harm.hours = max((flowed or now) - harm.at, timedelta(0)) / timedelta(hours=1)
    return harm
