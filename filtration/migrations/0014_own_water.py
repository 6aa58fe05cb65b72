"""The water that stands in a filter, and whether it has become part of its circuit's volume."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("enclosures", "0002_warmth_of_a_water"),
        ("filtration", "0013_sediment_that_packs"),
    ]

    operations = [
        migrations.AddField(
            model_name="filterunit",
            name="is_water_counted",
            field=models.BooleanField(db_default=False, default=False, editable=False),
        ),
        migrations.AddField(
            model_name="filterunit",
            name="water_m3",
            field=models.FloatField(blank=True, null=True, verbose_name="water that stands in it"),
        ),
        migrations.AddField(
            model_name="historicalfilterunit",
            name="is_water_counted",
            field=models.BooleanField(db_default=False, default=False, editable=False),
        ),
        migrations.AddField(
            model_name="historicalfilterunit",
            name="water_m3",
            field=models.FloatField(blank=True, null=True, verbose_name="water that stands in it"),
        ),
        migrations.AddConstraint(
            model_name="filterunit",
            constraint=models.CheckConstraint(
                condition=models.Q(("water_m3__isnull", True), ("water_m3__gt", 0), _connector="OR"),
                name="filter_water_m3_positive",
            ),
        ),
        migrations.AddConstraint(
            model_name="filterunit",
            constraint=models.CheckConstraint(
                condition=models.Q(("is_water_counted", False), ("water_m3__isnull", False), _connector="OR"),
                name="filter_counted_water_is_known",
            ),
        ),
    ]
