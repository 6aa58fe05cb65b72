"""A layer's void share is bounded in the database as where it is typed: 5 to 98 % of it is water.

Since it can be typed at all, the form has refused anything else, so a value outside was written past it. It broke
every sum about that filter (its page said that its sizes cannot be), or, as 0, was read as not measured. It is
emptied here, since the new constraint would refuse the row: the medium's own share counts again, and the filter's
note says what stood there and at which layer.
"""

from django.db import migrations, models
from django.db.models import Q

LEAST, MOST = 0.05, 0.98
WITHIN = Q(void_fraction__isnull=True) | Q(void_fraction__gte=LEAST, void_fraction__lte=MOST)


def empty_what_cannot_be(apps, schema_editor):
    database = schema_editor.connection.alias
    layers = apps.get_model("filtration", "MediaLayer").objects.using(database)
    units = apps.get_model("filtration", "FilterUnit").objects.using(database)
    for layer in layers.exclude(WITHIN).order_by("filter", "position"):
        unit = units.get(pk=layer.filter_id)
        words = (
            f"Layer {layer.position}: a measured void share of {layer.void_fraction:g} was emptied when Clearmere "
            f"was updated; it must lie between {LEAST:g} and {MOST:g}. The medium's own share counts until it is "
            "measured again."
        )
        unit.note = f"{unit.note}\n{words}".strip()
        unit.save(update_fields=["note"])
    layers.exclude(WITHIN).update(void_fraction=None)


class Migration(migrations.Migration):
    dependencies = [("filtration", "0007_measured_stones")]

    operations = [
        migrations.RunPython(empty_what_cannot_be, migrations.RunPython.noop),
        migrations.RemoveConstraint(model_name="medialayer", name="layer_void_fraction_within"),
        migrations.AddConstraint(
            model_name="medialayer",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("void_fraction__isnull", True),
                    models.Q(("void_fraction__gte", 0.05), ("void_fraction__lte", 0.98)),
                    _connector="OR",
                ),
                name="layer_void_fraction_within",
            ),
        ),
    ]
