"""An animal that has left has no place: the database refuses an open placement of it.

An earlier version let a move and a leaving at one moment end so; such a placement ends on the day it left.
Triggers on both databases. On PostgreSQL the one of placements locks the animal, so that of two at once the later
one sees what the earlier one did.
"""

from datetime import UTC, datetime, time, timedelta

from django.db import migrations

POSTGRESQL = """
CREATE FUNCTION husbandry_placement_of_one_here() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE became text;
BEGIN
    SELECT status INTO became FROM husbandry_animal WHERE id = NEW.animal_id FOR SHARE;
    IF became <> 'here' THEN
        RAISE EXCEPTION 'placement_of_one_here' USING ERRCODE = 'check_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER placement_of_one_here BEFORE INSERT OR UPDATE ON husbandry_placement
FOR EACH ROW WHEN (NEW.ends_at IS NULL) EXECUTE FUNCTION husbandry_placement_of_one_here();
CREATE FUNCTION husbandry_animal_gone_has_no_place() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT 1 FROM husbandry_placement WHERE animal_id = NEW.id AND ends_at IS NULL) THEN
        RAISE EXCEPTION 'animal_gone_has_no_place' USING ERRCODE = 'check_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER animal_gone_has_no_place BEFORE UPDATE OF status ON husbandry_animal
FOR EACH ROW WHEN (NEW.status <> 'here') EXECUTE FUNCTION husbandry_animal_gone_has_no_place()
"""
POSTGRESQL_BACK = """
DROP TRIGGER placement_of_one_here ON husbandry_placement;
DROP TRIGGER animal_gone_has_no_place ON husbandry_animal;
DROP FUNCTION husbandry_placement_of_one_here();
DROP FUNCTION husbandry_animal_gone_has_no_place()
"""
SQLITE = {
    "placement_of_one_here_on_insert": """BEFORE INSERT ON husbandry_placement
        WHEN NEW.ends_at IS NULL AND EXISTS (
            SELECT 1 FROM husbandry_animal WHERE id = NEW.animal_id AND status <> 'here')""",
    "placement_of_one_here_on_update": """BEFORE UPDATE ON husbandry_placement
        WHEN NEW.ends_at IS NULL AND EXISTS (
            SELECT 1 FROM husbandry_animal WHERE id = NEW.animal_id AND status <> 'here')""",
    "animal_gone_has_no_place": """BEFORE UPDATE OF status ON husbandry_animal
        WHEN NEW.status <> 'here' AND EXISTS (
            SELECT 1 FROM husbandry_placement WHERE animal_id = NEW.id AND ends_at IS NULL)""",
}


def end_places_of_the_gone(apps, schema_editor):
    placements = apps.get_model("husbandry", "Placement").objects.filter(ends_at__isnull=True)
    for each in placements.exclude(animal__status="here").select_related("animal"):
        left = datetime.combine(each.animal.left_on, time(12), tzinfo=UTC)
        each.ends_at = max(left, each.starts_at + timedelta(seconds=1))
        each.save(update_fields=["ends_at"])


def add(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(POSTGRESQL)
    else:
        for name, when in SQLITE.items():
            schema_editor.execute(f"CREATE TRIGGER {name} {when} BEGIN SELECT RAISE(ABORT, '{name}'); END")


def remove(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(POSTGRESQL_BACK)
    else:
        for name in SQLITE:
            schema_editor.execute(f"DROP TRIGGER {name}")


class Migration(migrations.Migration):
    dependencies = [("husbandry", "0002_placements_never_overlap")]
    operations = [
        migrations.RunPython(end_places_of_the_gone, migrations.RunPython.noop),
        migrations.RunPython(add, remove),
    ]
