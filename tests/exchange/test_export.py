"""Everything written out: whole, exact, harmless in a spreadsheet, and fit to be read in again."""

import csv
import io
import json
import zipfile
from datetime import UTC, date, datetime

import pytest
from django.apps import apps
from openpyxl import load_workbook

from enclosures.models import Area, Circuit, Enclosure, WaterTest
from husbandry.models import Animal, Feeding, Food, Measurement, Placement, Species
from refuge.exchange.importing import import_file
from refuge.exchange.registry import importable, tables
from refuge.records import amend, void
from refuge.rounds.planner import plan_site
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def site(manager):
    """Two waters, a well and a tap, a group and an animal alone, a tank of each shape, records with every value."""
    tap = make.WaterSourceFactory(name="Tap", chloramine=True)
    pond = make.CircuitFactory(code="W-P", name="Pond; big", extra_volume_m3=0.1, note="=SUM(A1)")
    barn = make.CircuitFactory(code="W-B", water_source=tap, is_quarantine=True)
    big = make.EnclosureFactory(
        code="P1", circuit=pond, shape="round", length_m=4.1, width_m=None, is_outdoor=True
    )
    tub = make.EnclosureFactory(code="B1", circuit=barn, measured_volume_m3=1 / 3, area__name="Barn, north")
    one = make.AnimalFactory(
        code="T1", placed_in=big, transponder="900000000000001", sex="female", marks="+ on scute"
    )
    two = make.AnimalFactory(
        code="T2", placed_in=tub, note='Says "no"\nand bites', hatched_on=date(2001, 2, 3)
    )
    make.AnimalFactory(code="T3", status="released", left_on=date(2026, 1, 1), arrived_on=date(2020, 1, 1))
    smelt = make.FoodFactory(
        name="Smelt", protein_fraction=0.163, fat_fraction=0.025, phosphorus_fraction=0.0023
    )
    plan = make.FeedingPlanFactory(animal=one, food=smelt)
    moments = [datetime(2026, 10, 25, hour, 30, 0, 123456, tzinfo=UTC) for hour in (5, 6)]
    make.FeedingFactory(
        enclosure=big, animal=one, plan=plan, food=smelt, at=moments[0], offered_kg=0.1 + 0.2, by=manager
    )
    make.FeedingFactory(
        enclosure=tub, food=smelt, at=moments[1], offered_kg=1, left_kg=1, refused=True, tan_g=0, solids_g=0
    )
    make.WaterTestFactory(
        circuit=pond, at=datetime(2026, 11, 1, 5, 30, tzinfo=UTC), ph=7.1, clarity=2, hardness_mg_l=80
    )
    make.WaterTestFactory(circuit=pond, at=datetime(2026, 11, 1, 6, 30, tzinfo=UTC), ph=7.2, note="-1 fish")
    make.MeasurementFactory(animal=two, mass_kg=12.3456789, carapace_m=0.3)
    make.QuarantineFactory(animal=two)
    unit = make.FilterUnitFactory(circuit=pond)
    unit.maintenance.create(kind="drain", litres_drained=12.5)
    two.health_records.create(kind="look")
    tub.head_counts.create(seen=1, expected=1)
    pond.water_changes.create(volume_m3=0.5, source=tap)
    plan_site()
    return manager


def exported(client, ending):
    answer = client.get(f"/files/everything.{ending}")
    assert answer.status_code == 200
    return b"".join(answer.streaming_content)


def csv_tables(content):
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {
            name.removesuffix(".csv"): list(
                csv.DictReader(io.StringIO(archive.read(name).decode("utf-8-sig")))
            )
            for name in archive.namelist()
            if name.endswith(".csv")
        }


class TestWhole:
    def test_every_table_of_a_refuge_is_there(self, site, desk_of):
        found = csv_tables(exported(desk_of, "zip"))
        assert set(found) == {table.key for table in tables()} and len(found) >= 27
        for table in tables():
            model = getattr(getattr(table, "_meta", None), "model", None)
            if model is not None:
                assert len(found[table.key]) == getattr(model, "everything", model.objects).count(), table.key

    def test_no_model_is_forgotten(self):
        """Whoever adds a table of records decides here whether a refuge takes it along."""
        ours = {"enclosures", "husbandry", "filtration", "rounds", "people"}
        out = {table._meta.model for table in tables() if hasattr(table, "_meta")}
        missing = {
            model.__name__
            for model in apps.get_models()
            if model._meta.app_label in ours
            and model not in out
            and not model.__name__.startswith("Historical")
        }
        computed = {
            "WaterForecast",
            "ForecastStart",
            "ForecastWanted",
        }  # made anew from the records wherever they are read in
        assert missing == {"PlanRun", "RuleFailure", "Message", "Morning", "Invitation", *computed}

    def test_passwords_and_addresses_stay_here(self, site, desk_of):
        site.email = "ines@example.org"
        site.save()
        whole = json.dumps(csv_tables(exported(desk_of, "zip")))
        assert site.password not in whole and "ines@example.org" not in whole

    def test_the_readme_explains_every_column(self, site, desk_of):
        with zipfile.ZipFile(io.BytesIO(exported(desk_of, "zip"))) as archive:
            words = archive.read("README.txt").decode()
        assert "Stillmere Refuge" in words and "America/New_York" in words
        for table in tables():
            assert f"\n{table.key}" in words
            for column in table.columns:
                assert f"\n  {column.column_name}: " in words
        assert "  offered_kg: offered kg [kg]" in words or "  offered_kg:" in words
        assert "  mass_kg: mass kg [kg]" in words

    def test_a_workbook_holds_the_same(self, site, desk_of):
        book = load_workbook(io.BytesIO(exported(desk_of, "xlsx")), read_only=True)
        assert set(book.sheetnames) == {"README", *(table.key for table in tables())}
        rows = list(book["measurements"].iter_rows(values_only=True))
        assert dict(zip(*rows, strict=False))["mass_kg"] == 12.3456789
        animals = list(book["animals"].iter_rows(values_only=True))
        assert dict(zip(animals[0], animals[2], strict=False))["hatched_on"] == datetime(2001, 2, 3)

    def test_earlier_versions_are_there(self, site, desk_of):
        test = WaterTest.objects.first()
        amend(record=test, by=site, reason="Misread", ph=6.5)
        void(record=WaterTest.objects.last(), by=site, reason="Other tank")
        found = csv_tables(exported(desk_of, "zip"))
        versions = [row for row in found["history"] if row["uuid"] == str(test.uuid)]
        assert [row["what"] for row in versions] == ["entered", "changed"]
        assert [json.loads(row["values"])["ph"] for row in versions] == [test.ph, 6.5]
        assert versions[1]["by"] == "Ines Tarouca" and versions[1]["reason"] == "Misread"
        assert sum(bool(row["voided_at"]) for row in found["water_tests"]) == 1


class TestHarmless:
    def test_no_text_runs_as_a_formula(self, site, desk_of):
        found = csv_tables(exported(desk_of, "zip"))
        by_code = {row["code"]: row for row in found["circuits"]}
        assert by_code["W-P"]["note"] == "'=SUM(A1)"
        assert {row["note"] for row in found["water_tests"]} == {"", "'-1 fish"}
        for table, rows in found.items():
            for row in rows:
                for name, cell in row.items():
                    if cell[:1] in ("=", "+", "-", "@", "\t", "\r"):
                        float(cell)  # a number below zero may stand as it is
                        assert table and name

    def test_nor_in_a_workbook(self, site, desk_of):
        book = load_workbook(io.BytesIO(exported(desk_of, "xlsx")))
        cells = [cell for row in book["circuits"].iter_rows() for cell in row]
        assert "=SUM(A1)" in [cell.value for cell in cells]
        assert {cell.data_type for cell in cells} <= {"s", "n", "inlineStr"}

    @pytest.mark.parametrize("words", ["=1", "'=1", "''@x", "-", "'tis", "+351 2", "\tx", "plain", "'"])
    def test_what_is_escaped_comes_back_as_it_was(self, words):
        from refuge.exchange.reading import read
        from refuge.exchange.writing import csv_cell

        buffer = io.StringIO()
        csv.writer(buffer).writerows([["code", "note"], ["P1", csv_cell(words, UTC)]])
        assert read(buffer.getvalue().encode(), ["code", "note"], "x").rows == [["P1", words]]

    def test_control_characters_do_not_break_a_workbook(self, site, desk_of):
        Circuit.objects.filter(code="W-P").update(note="a\x01b")
        book = load_workbook(io.BytesIO(exported(desk_of, "xlsx")))
        assert "ab" in [cell.value for row in book["circuits"].iter_rows() for cell in row]


COMPARED = {
    Area: ["code", "name", "biosecurity_rank", "position"],
    Circuit: [
        "code", "name", "water_source__name", "extra_volume_m3", "usual_temperature_c", "coldest_temperature_c",
        "warmest_month", "is_quarantine", "note",
    ],
    Enclosure: [
        "code", "name", "area__code", "circuit__code", "purpose", "position", "shape", "length_m", "width_m",
        "water_depth_m", "measured_volume_m3", "is_outdoor", "in_use", "note",
    ],
    Species: ["name", "scientific_name", "adult_mass_kg", "temperature_low_c", "temperature_high_c", "note"],
    Food: ["name", "water_fraction", "protein_fraction", "fat_fraction", "phosphorus_fraction", "source", "in_use"],
    Animal: [
        "code", "name", "species__name", "sex", "marks", "transponder", "hatched_on", "origin", "condition",
        "arrived_on", "status", "left_on", "brumating_since", "note",
    ],
    Feeding: [
        "uuid", "at", "animal__code", "enclosure__code", "circuit__code", "food__name", "offered_kg", "left_kg",
        "refused", "tan_g", "solids_g", "note",
    ],
    WaterTest: ["uuid", "at", "circuit__code", *WaterTest.READINGS, "note"],
    Measurement: ["uuid", "at", "animal__code", "mass_kg", "carapace_m", "note"],
}  # fmt: skip


def snapshot():
    """Every row, floats to 14 digits: a load is computed anew, and sums may differ in the last place."""
    return {
        model: sorted(
            ([_rounded(each) for each in row] for row in model.objects.values_list(*names)), key=str
        )
        for model, names in COMPARED.items()
    }


def _rounded(value):
    return float(f"{value:.14g}") if isinstance(value, float) else value


def empty():
    """The refuge as it was founded: only its people."""
    from refuge.rounds.models import Completion, Limit, Task

    for model in [Completion, Task, Limit]:
        model.objects.all().delete()
    order = ["maintenance", "pump", "medialayer", "filterunit", "feeding", "measurement", "headcount"]
    order += [
        "quarantinerestart",
        "quarantinecheck",
        "healthrecord",
        "quarantine",
        "placement",
        "feedingplan",
    ]
    order += [
        "animal",
        "species",
        "food",
        "watertest",
        "waterchange",
        "enclosure",
        "circuit",
        "watersource",
        "area",
    ]
    models = {model._meta.model_name: model for model in apps.get_models()}
    for name in order:
        models[name]._base_manager.all().delete()


@pytest.mark.parametrize("ending", ["zip", "xlsx"])
def test_what_was_written_out_and_read_into_an_empty_refuge_is_the_same(site, desk_of, ending):
    before, place = snapshot(), set(Placement.objects.values_list("animal__code", "enclosure__code"))
    content = exported(desk_of, ending)
    empty()
    assert not any(snapshot().values())
    for table in importable():
        brought = content
        if ending == "zip":
            with zipfile.ZipFile(io.BytesIO(content)) as archive:
                brought = archive.read(f"{table.key}.csv")
        outcome = import_file(key=table.key, content=brought, name=f"{table.key}.{ending}", by=site)
        assert outcome.mistakes == [], table.key
        again = import_file(key=table.key, content=brought, name=f"{table.key}.{ending}", by=site)
        assert again.counts[:2] == [0, 0], (table.key, [row.changes for row in again.rows])
    assert snapshot() == before
    assert set(Placement.objects.values_list("animal__code", "enclosure__code")) == place


def test_the_memory_holds_no_more_than_a_part_of_a_table(manager, desk_of):
    """The rows of a table are asked for in parts and sent on before the table has been read."""
    circuit = make.CircuitFactory()
    at = datetime(2026, 1, 1, tzinfo=UTC)
    WaterTest.objects.bulk_create(
        WaterTest(circuit=circuit, ph=7, at=at, note="x" * 100) for _ in range(3000)
    )
    chunks = [len(chunk) for chunk in desk_of.get("/files/everything.zip").streaming_content]
    assert len([size for size in chunks if size]) > 5
    assert max(chunks) < 200_000


def test_the_cost_does_not_grow_with_the_rows(manager, desk_of):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def cost():
        with CaptureQueriesContext(connection) as queries:
            exported(desk_of, "zip")
        return len(queries)

    def fill():
        tank = make.EnclosureFactory()
        animal = make.AnimalFactory(placed_in=tank, mass_kg=5)
        make.FeedingFactory(enclosure=tank, animal=animal, by=manager)
        make.WaterTestFactory(circuit=tank.circuit, by=manager)
        make.FilterUnitFactory(circuit=tank.circuit).maintenance.create(kind="inspection", by=manager)

    fill()
    few = cost()
    for _ in range(5):
        fill()
    assert cost() == few
