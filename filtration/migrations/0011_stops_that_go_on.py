"""Whether a filter that stood still runs again. What was recorded before counted as over, and goes on doing so."""

from django.db import migrations, models
from django.db.models import Q

FIELD = models.BooleanField("it runs again", default=True)


class Migration(migrations.Migration):
    dependencies = [("filtration", "0010_outdoor_plans")]

    operations = [
        migrations.AddField(model_name="filterharm", name="runs_again", field=FIELD),
        migrations.AddField(model_name="historicalfilterharm", name="runs_again", field=FIELD.clone()),
        migrations.AddConstraint(
            model_name="filterharm",
            constraint=models.CheckConstraint(
                condition=Q(("runs_again", True), ("kind__in", ("no_flow", "dry")), _connector="OR"),
                name="harm_only_a_stop_goes_on",
            ),
        ),
    ]
