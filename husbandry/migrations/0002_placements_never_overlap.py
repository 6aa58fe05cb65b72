"""An animal is in one place at a time: the database refuses overlapping placements.

PostgreSQL has exclusion constraints; SQLite has triggers. `int8range(animal, animal, '[]') WITH &&` stands for
`animal WITH =`, which would need an extension that not every server has.
"""

from django.db import migrations

POSTGRESQL = """
ALTER TABLE husbandry_placement ADD CONSTRAINT placement_never_overlaps EXCLUDE USING gist (
    int8range(animal_id, animal_id, '[]') WITH &&,
    tstzrange(starts_at, ends_at, '[)') WITH &&
)
"""

SQLITE = """
CREATE TRIGGER placement_never_overlaps_on_{event} BEFORE {event} ON husbandry_placement
WHEN EXISTS (
    SELECT 1 FROM husbandry_placement AS other
    WHERE other.animal_id = NEW.animal_id AND other.id IS NOT NEW.id
      AND (other.ends_at IS NULL OR other.ends_at > NEW.starts_at)
      AND (NEW.ends_at IS NULL OR NEW.ends_at > other.starts_at)
)
BEGIN SELECT RAISE(ABORT, 'placement_never_overlaps'); END
"""


def add(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(POSTGRESQL)
    else:
        for event in ("insert", "update"):
            schema_editor.execute(SQLITE.format(event=event))


def remove(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("ALTER TABLE husbandry_placement DROP CONSTRAINT placement_never_overlaps")
    else:
        for event in ("insert", "update"):
            schema_editor.execute(f"DROP TRIGGER placement_never_overlaps_on_{event}")


class Migration(migrations.Migration):
    dependencies = [("husbandry", "0001_initial")]
    operations = [migrations.RunPython(add, remove)]
