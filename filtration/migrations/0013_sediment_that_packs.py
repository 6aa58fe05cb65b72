"""Sediment that packs as it ages takes up less room than it was reckoned to: what was expected at drains of before is
held against the same sums as those of today. And what was seen only as litres let out was mostly water."""

import math

from django.db import migrations

# As it was reckoned, 2 % of dry matter; as it is, 1.5 % fresh and 3 % packed: litres a gram.
WAS, PACKED, LOOSE_MORE = 0.04909, 0.03324, 0.03333
DECAY, PACKING, INERT = 0.03, 0.05, 0.55
LONGEST_DAYS = 365.0  # where nobody knows when it was drained before
LET_OUT_RATIO = 3.0


def taken_up(days):
    """Litres of today over those of then, of a void filled evenly in so many days."""
    easy = (1 - INERT) / DECAY * -math.expm1(-DECAY * days)
    dry = INERT * days + easy
    loose = INERT / PACKING * -math.expm1(-PACKING * days)
    loose += (1 - INERT) / (DECAY + PACKING) * -math.expm1(-(DECAY + PACKING) * days)
    return (dry * PACKED + loose * LOOSE_MORE) / (dry * WAS)


def hold_against_todays_sums(apps, schema_editor):
    rows = apps.get_model("filtration", "Maintenance").objects.filter(kind="drain", voided_at__isnull=True)
    filter_id = before = None
    for drain in rows.order_by("filter_id", "at", "pk"):
        is_first = drain.filter_id != filter_id
        days = LONGEST_DAYS if is_first else max((drain.at - before).total_seconds() / 86400, 1.0)
        filter_id, before = drain.filter_id, drain.at
        if drain.predicted_factor is not None:
            drain.predicted_factor /= taken_up(min(days, LONGEST_DAYS))
        if drain.sediment_depth_m is None and drain.litres_drained and drain.observed_sediment_l is not None:
            drain.observed_sediment_l = drain.litres_drained / LET_OUT_RATIO
        drain.save(update_fields=["predicted_factor", "observed_sediment_l"])


class Migration(migrations.Migration):
    dependencies = [("filtration", "0012_other_filters_of_the_water")]

    operations = [migrations.RunPython(hold_against_todays_sums, migrations.RunPython.noop)]
