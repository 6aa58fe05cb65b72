"""A large invented site, written by the database itself: 1,000 circuits and two years of records in a minute.

Sizes follow what a federation of refuges might keep on one server; every circuit has a filter, three
enclosures and five animals, two meals a week an enclosure, a test every four days.
"""

from dataclasses import dataclass

from django.db import connection

DAYS = 730


@dataclass(frozen=True)
class Size:
    """How much of everything; `history` multiplies the records, not the animals."""

    circuits: int = 1000
    enclosures: int = 3000
    filters: int = 1000
    animals: int = 5000
    days: int = DAYS

    @classmethod
    def small(cls) -> "Size":
        """A twentieth of it."""
        return cls(50, 150, 50, 250)


BASE = """
INSERT INTO people_refuge (id, name, time_zone, morning_at, elevation_m, is_demo)
VALUES (1, 'Benchmark', 'UTC', '07:00', 0, false);
INSERT INTO enclosures_area (id, code, name, biosecurity_rank, position)
SELECT n, 'A' || n, 'Area ' || n, n % 4, n FROM generate_series(1, 40) n;
INSERT INTO enclosures_watersource (id, name, disinfectant, total_chlorine_mg_l, nitrate_n_mg_l, alkalinity_mg_l, note)
VALUES (1, 'Town', 'chloramine', 2, 1, 120, '');
INSERT INTO enclosures_circuit
    (id, code, name, water_source_id, extra_volume_m3, usual_temperature_c, warmest_month, is_quarantine, note)
SELECT n, 'W' || n, 'Water ' || n, 1, 0.2, 22, 7, n % 4 = 3, '' FROM generate_series(1, {circuits}) n;
INSERT INTO enclosures_enclosure
    (id, code, name, area_id, circuit_id, purpose, position, shape, length_m, width_m, water_depth_m,
     is_outdoor, in_use, note)
SELECT n, 'E' || n, 'Tank ' || n, 1 + (n - 1) % {circuits} % 40, 1 + (n - 1) % {circuits}, 'resident', n % 1000,
       'rectangle', 2.4, 1.2, 0.5, false, true, ''
FROM generate_series(1, {enclosures}) n;
INSERT INTO husbandry_species (id, name, scientific_name, adult_mass_kg, note) VALUES (1, 'Turtle', '', 40, '');
INSERT INTO husbandry_food
    (id, name, water_fraction, protein_fraction, fat_fraction, phosphorus_fraction, source, in_use)
VALUES (1, 'Fish', 0.80, 0.164, 0.03, 0.002, 'benchmark', true);
INSERT INTO husbandry_animal
    (id, code, name, species_id, sex, marks, transponder, origin, condition, photo, arrived_on, status, note)
SELECT n, 'T' || n, '', 1, 'unknown', '', '', '', '', '', current_date - {days}, 'here', ''
FROM generate_series(1, {animals}) n;
INSERT INTO husbandry_placement (animal_id, enclosure_id, circuit_id, starts_at, reason, entered_at)
SELECT n, 1 + (n - 1) % {enclosures}, 1 + (n - 1) % {enclosures} % {circuits}, now() - interval '{days} days', '',
       now() FROM generate_series(1, {animals}) n;
INSERT INTO husbandry_quarantine (id, animal_id, started_on, clock_from, days, ends_on, outcome)
SELECT n, n * 4, current_date - 100, current_date - 100, 365, current_date + 265, ''
FROM generate_series(1, {animals} / 4) n;
INSERT INTO husbandry_quarantinecheck (quarantine_id, kind, due_on)
SELECT n, kind, current_date + 30 FROM generate_series(1, {animals} / 4) n,
       unnest(ARRAY['faecal_sample_3', 'release_exam']) kind;
INSERT INTO husbandry_feedingplan (id, enclosure_id, food_id, ration_kg, every_days, starts_on, note)
SELECT n, n, 1, 0.4, 3, current_date - {days}, '' FROM generate_series(1, {enclosures}) n;
INSERT INTO filtration_filterunit
    (id, code, name, circuit_id, area_id, position, shape, length_m, height_m, void_height_m, state, state_since,
     seeded, commissioning_flow_m3_h, note)
SELECT n, 'F' || n, 'Filter ' || n, 1 + (n - 1) % {circuits}, 1 + n % 40, n % 1000, 'round', 0.57, 0.88, 0.2,
       CASE WHEN n % 20 = 0 THEN 'cycling' ELSE 'mature' END,
       current_date - CASE WHEN n % 20 = 0 THEN 20 ELSE {days} END, false, 2.0, ''
FROM generate_series(1, {filters}) n;
INSERT INTO filtration_medialayer (filter_id, position, medium, depth_m, is_bagged)
SELECT n, layer, CASE layer WHEN 1 THEN 'river_rock' ELSE 'lava_rock' END, 0.3, false
FROM generate_series(1, {filters}) n, generate_series(1, 2) layer;
INSERT INTO filtration_pump (filter_id, name, rated_flow_m3_h, is_protected)
SELECT n, 'Pump', 3, true FROM generate_series(1, {filters}) n;
"""

RECORDS = """
INSERT INTO enclosures_watertest
    (uuid, at, entered_at, note, circuit_id, temperature_c, ph, tan_mg_l, nitrite_n_mg_l, nitrate_n_mg_l, alkalinity_mg_l)
SELECT gen_random_uuid(), now() - (d || ' days')::interval - interval '3 hours', now(), '', c, 22, 7.4,
       0.1 + (c + d) % 7 * 0.03, 0.05, CASE WHEN d % 28 = 0 THEN 10 + c % 30 END, CASE WHEN d % 28 = 0 THEN 130 END
FROM generate_series(1, {circuits}) c, generate_series({first}, {last}, 4) d;
INSERT INTO enclosures_waterchange (uuid, at, entered_at, note, circuit_id, kind, volume_m3, source_id, conditioner)
SELECT gen_random_uuid(), now() - (d || ' days')::interval, now(), '', c, 'change', 0.6, 1, 'thiosulfate'
FROM generate_series(1, {circuits}) c, generate_series({first} + 5, {last}, 30) d;
INSERT INTO husbandry_feeding
    (uuid, at, entered_at, note, enclosure_id, circuit_id, plan_id, food_id, offered_kg, left_kg, refused, tan_g, solids_g)
SELECT gen_random_uuid(), now() - (d || ' days')::interval, now(), '', e, 1 + (e - 1) % {circuits}, e, 1, 0.4, 0,
       false, 6.0, 20 FROM generate_series(1, {enclosures}) e, generate_series({first} + 1, {last}, 3) d;
INSERT INTO husbandry_headcount (uuid, at, entered_at, note, enclosure_id, seen, expected)
SELECT gen_random_uuid(), now() - (d || ' days')::interval, now(), '', e, 2, 2
FROM generate_series(1, {enclosures}) e, generate_series({first}, {last}, 2) d;
INSERT INTO husbandry_measurement (uuid, at, entered_at, note, animal_id, mass_kg)
SELECT gen_random_uuid(), now() - (d || ' days')::interval, now(), '', a, 20 + a % 30
FROM generate_series(1, {animals}) a, generate_series({first} + a % 60, {last}, 60) d;
INSERT INTO husbandry_healthrecord (uuid, at, entered_at, note, animal_id, kind, is_normal, finding)
SELECT gen_random_uuid(), now() - (d || ' days')::interval, now(), '', a * 4, 'look', true, ''
FROM generate_series(1, {animals} / 4) a, generate_series({first}, LEAST({last}, {first} + 100)) d;
INSERT INTO filtration_maintenance
    (uuid, at, entered_at, note, filter_id, kind, new_state, flow_m3_h, passed, predicted_sediment_l, observed_sediment_l)
SELECT gen_random_uuid(), now() - ((d + CASE kind WHEN 'drain' THEN 20 ELSE 0 END) || ' days')::interval, now(), '',
       f, kind, '', CASE kind WHEN 'bucket_test' THEN 1.7 END, CASE kind WHEN 'protection_test' THEN true END,
       CASE kind WHEN 'drain' THEN 12 END, CASE kind WHEN 'drain' THEN 10 END
FROM generate_series(1, {filters}) f, generate_series({first} + f % 25, {last}, 30) d,
     unnest(ARRAY['bucket_test', 'pump_clean', 'protection_test', 'drain']) kind
WHERE kind <> 'drain' OR d % 4 = 0;
"""

COMPLETIONS = """
INSERT INTO rounds_task
    (rule, subject_kind, subject_id, subject_label, subject_path, scope, area_code, area_name, area_rank, area_position,
     stop_code, stop_name, stop_position, stop_path, title, due_on, is_unknown, reasons, instruction, prefill, limits,
     role, fingerprint, status, opened_at, closed_at)
SELECT 'husbandry.all_seen', 'enclosure', e, 'Tank', '/enclosures/' || e || '/', 1, 'A1', 'Area 1', 0, 0, 'E' || e, 'Tank', 0,
       '', 'All animals seen', current_date - d, false, '[]', '', '{{}}', '[]', 'volunteer', '', 'done',
       now() - (d || ' days')::interval, now() - (d || ' days')::interval
FROM generate_series(1, {enclosures}) e, generate_series({first} + 1, {last}, {every}) d;
INSERT INTO rounds_completion
    (uuid, task_id, outcome, by_id, at, entered_at, reason, record_kind, summary)
SELECT gen_random_uuid(), id, 'done', 1, closed_at, closed_at, '', '', 'All seen' FROM rounds_task t
WHERE status = 'done' AND NOT EXISTS (SELECT 1 FROM rounds_completion c WHERE c.task_id = t.id);
"""


def build(size: Size) -> None:
    """Write the site and its records into an empty, migrated PostgreSQL database."""
    _run(BASE, size)
    _run(RECORDS, size, first=0, last=size.days)
    _analyze()


def add_task_history(size: Size, *, first: int, last: int, every: int) -> None:
    """Finished tasks of past days, one an enclosure each `every` days, with their completions."""
    _run(COMPLETIONS, size, first=first, last=last, every=every)
    _analyze()


def _run(sql: str, size: Size, **more: int) -> None:
    with connection.cursor() as cursor:
        cursor.execute(sql.format(**vars(size), **more))


def _analyze() -> None:
    """Statistics as autovacuum would make them, and nothing left to be written while something is measured."""
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")
        cursor.execute("CHECKPOINT")
