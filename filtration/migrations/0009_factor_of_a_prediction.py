"""Keep with each drain the factor that its prediction held. Drains of before: by the rule that was in force then."""

import math
from itertools import groupby

from django.db import migrations, models

KEPT, SMALLEST, LARGEST = 6, 0.25, 4.0


def factor_then(drains):
    """From the last six drains before, oldest first, as it was reckoned until now."""
    factor = 1.0
    for predicted, observed in drains[-KEPT:]:
        if predicted and observed is not None:
            surprise = min(max(observed / predicted, SMALLEST), LARGEST)
            factor = min(max(factor * math.sqrt(surprise), SMALLEST), LARGEST)
    return factor


def keep_factors(apps, schema_editor):
    rows = apps.get_model("filtration", "Maintenance").objects.filter(kind="drain", voided_at__isnull=True)
    for _, drains in groupby(rows.order_by("filter_id", "at", "pk"), key=lambda each: each.filter_id):
        earlier = []
        for drain in drains:
            drain.predicted_factor = factor_then(earlier)
            drain.save(update_fields=["predicted_factor"])
            earlier.append((drain.predicted_sediment_l, drain.observed_sediment_l))


class Migration(migrations.Migration):
    dependencies = [("filtration", "0008_void_share_as_typed")]

    operations = [
        migrations.AddField(
            model_name="maintenance",
            name="predicted_factor",
            field=models.FloatField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="historicalmaintenance",
            name="predicted_factor",
            field=models.FloatField(blank=True, editable=False, null=True),
        ),
        migrations.AddConstraint(
            model_name="maintenance",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("predicted_factor__isnull", True), ("predicted_factor__gt", 0), _connector="OR"
                ),
                name="maintenance_predicted_factor_positive",
            ),
        ),
        migrations.RunPython(keep_factors, migrations.RunPython.noop),
    ]
