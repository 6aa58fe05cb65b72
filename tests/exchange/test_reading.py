"""Files as people's programs write them."""

import csv
import io
import zipfile

import pytest
from openpyxl import Workbook

from refuge.exchange import reading
from refuge.exchange.errors import FileProblem
from refuge.exchange.reading import read

KNOWN = ["code", "name", "water_depth_m", "note"]


def csv_of(text: str, encoding: str = "utf-8") -> bytes:
    return text.encode(encoding)


def xlsx_of(*rows, sheets=()) -> bytes:
    book = Workbook()
    for row in rows:
        book.active.append(row)
    for title, more in sheets:
        sheet = book.create_sheet(title)
        for row in more:
            sheet.append(row)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_encodings_and_separators(encoding, separator, newline):
    content = newline.join([separator.join(["code", "name"]), separator.join(["P1", "Forêt"])]).encode(
        encoding
    )
    sheet = read(content, KNOWN, "x")
    assert sheet.headers == ["code", "name"] and sheet.rows == [["P1", "Forêt"]]


def test_a_semicolon_file_keeps_its_decimal_commas():
    assert read(b"code;water_depth_m\nP1;0,5\n", KNOWN, "x").rows == [["P1", "0,5"]]


def test_headings_as_people_write_them():
    sheet = read(b"Code,Water depth (m),NAME\nP1,0.5,Pond\n", KNOWN, "x")
    assert sheet.headers == ["code", "water_depth_m", "name"]


def test_rows_are_numbered_as_the_spreadsheet_does():
    sheet = read(b'code,note\n\nP1,"two\nlines"\n,\nP2,x\n', KNOWN, "x")
    assert sheet.numbers == [3, 5]
    assert read(xlsx_of(["code"], [], ["P1"], [None], ["P2"]), KNOWN, "x").numbers == [3, 5]


def test_a_column_of_another_name_is_reported_and_guessed():
    sheet = read(b"code,colour,water_dept_m\nP1,green,1\n", KNOWN, "x")
    assert sheet.unread == ["colour", "water_dept_m (did you mean water_depth_m?)"]
    assert sheet.rows == [["P1"]]


def test_a_row_that_is_too_short():
    assert read(b"code,name,note\nP1\n", KNOWN, "x").rows == [["P1", None, None]]


def test_an_apostrophe_that_kept_a_formula_from_running_goes():
    assert read(b"code,note\nP1,'=1+1\nP2,''-x\nP3,'tis\n", KNOWN, "x").rows == [
        ["P1", "=1+1"],
        ["P2", "'-x"],
        ["P3", "'tis"],
    ]


def test_of_several_sheets_the_one_of_the_table():
    content = xlsx_of(["hello"], sheets=[("enclosures", [["code"], ["P1"]])])
    assert read(content, KNOWN, "enclosures").rows == [["P1"]]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\n\n", "empty"),
        (b"code,name\n", "nothing below"),
        (b"colour\nred\n", "must hold their names"),
        (b"code,Code\nP1,P2\n", "twice"),
        (b"\xd0\xcf\x11\xe0 old", "old XLS"),
        (b"PK\x03\x04 broken", "damaged"),
        (b"\x89PNG\r\n\x1a\n\0\0", "neither CSV nor XLSX"),
        (b"code,note\nP1," + b"x" * 20_001, "longer than"),
    ],
)
def test_what_cannot_be_read_is_said_in_words(content, words):
    with pytest.raises(FileProblem, match=words):
        read(content, KNOWN, "x")


def test_another_packed_file():
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    with pytest.raises(FileProblem, match="no XLSX workbook"):
        read(buffer.getvalue(), KNOWN, "x")


def test_a_workbook_that_unpacks_to_more_than_fits(monkeypatch):
    monkeypatch.setattr(reading, "LARGEST_UNPACKED", 1000)
    with pytest.raises(FileProblem, match="unpacks"):
        read(xlsx_of(["code"], ["P1"]), KNOWN, "x")


def test_too_many_rows_and_bytes(monkeypatch):
    monkeypatch.setattr(reading, "MOST_ROWS", 3)
    assert len(read(b"code\n" + b"P\n" * 3, KNOWN, "x").rows) == 3
    with pytest.raises(FileProblem, match="more than 3 rows"):
        read(b"code\n" + b"P\n" * 4, KNOWN, "x")
    with pytest.raises(FileProblem, match="10 MB is the most"):
        read(b"x" * (reading.LARGEST_FILE + 1), KNOWN, "x")


def test_rows_below_many_empty_ones_are_read():
    assert read(b"code\nP1\n" + b"\n" * 2_000 + b"P2\n", KNOWN, "x").rows == [["P1"], ["P2"]]


def test_a_sheet_formatted_to_its_end_is_refused_rather_than_read_in_part(monkeypatch):
    monkeypatch.setattr(reading, "MOST_LINES", 50)
    with pytest.raises(FileProblem, match="goes on beyond row 51"):
        read(b"code\nP1\n" + b"\n" * 60, KNOWN, "x")


def test_a_sheet_of_too_many_cells_is_refused(monkeypatch):
    monkeypatch.setattr(reading, "MOST_CELLS", 50)
    with pytest.raises(FileProblem, match="goes on beyond row 26"):
        read(b"code,note\n" + b"P1,x\n" * 30, KNOWN, "x")


class TestCellsUnderNoHeading:
    def test_a_decimal_comma_splits_no_number_in_silence(self):
        with pytest.raises(FileProblem, match="Row 2 has more cells than there are headings: “5”"):
            read(b"code,note,water_depth_m\nP1,,7,5\n", KNOWN, "x")

    def test_in_a_workbook_beyond_its_hundredth_column_too(self):
        with pytest.raises(FileProblem, match="Row 2 has more cells than there are headings: “lost”"):
            read(xlsx_of(["code"], ["P1", *[None] * 120, "lost"]), KNOWN, "x")

    def test_between_the_headings(self):
        with pytest.raises(FileProblem, match="“x” stands under none"):
            read(b"code,,note\nP1,x,y\n", KNOWN, "x")

    def test_empty_ones_do_no_harm(self):
        assert read(b"code,note,,\nP1,y,,,,\n", KNOWN, "x").rows == [["P1", "y"]]

    def test_more_headings_than_can_be_read(self):
        with pytest.raises(FileProblem, match="names 102 columns; 100 is the most"):
            read(xlsx_of(["code", *(f"extra {n}" for n in range(101))], ["P1"]), KNOWN, "x")


class TestDamaged:
    def test_a_workbook_whose_packed_sheet_was_changed(self):
        content = bytearray(xlsx_of(["code"], *([f"P{n}"] for n in range(2_000))))
        with zipfile.ZipFile(io.BytesIO(bytes(content))) as archive:
            start = archive.getinfo("xl/worksheets/sheet1.xml").header_offset + 460
        for place in range(start, start + 40):
            content[place] ^= 0xFF
        with pytest.raises(FileProblem, match="damaged"):
            read(bytes(content), KNOWN, "x")

    def test_a_packed_file_with_nothing_but_the_name_of_a_workbook(self):
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w") as archive:
            archive.writestr("xl/workbook.xml", "<workbook/>")
        with pytest.raises(FileProblem, match="damaged"):
            read(buffer.getvalue(), KNOWN, "x")

    def test_a_first_line_longer_than_a_cell_usually_is(self):
        csv.field_size_limit(131_072)  # the module's own limit, until a file was read
        with pytest.raises(FileProblem, match="none of the columns"):
            read(b"x" * 200_000, KNOWN, "x")
