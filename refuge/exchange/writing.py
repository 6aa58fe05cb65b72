"""Tables as CSV, as one XLSX workbook, or as a ZIP of CSV files. Row by row: a large refuge fits as well."""

import csv
import io
import re
import zipfile
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from tempfile import TemporaryFile
from typing import IO, Any
from zoneinfo import ZoneInfo

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

# A spreadsheet runs a cell that begins so as a formula, whoever wrote it.
FORMULA = re.compile(r"^'*[=+\-@\t\r]")
CHUNK = 64 * 1024
LONGEST_XLSX_TEXT = 32_767


def csv_cell(value: Any, zone: ZoneInfo) -> str:
    """A value as text in a CSV file: exact, and never a formula."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return repr(value)
    words = plain_cell(value, zone)
    return f"'{words}" if FORMULA.match(words) else words


def plain_cell(value: Any, zone: ZoneInfo) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.astimezone(zone).isoformat(sep=" ")
    return value.isoformat() if isinstance(value, date) else str(value)


def csv_lines(table: Any, zone: ZoneInfo) -> Iterator[str]:
    """A table as CSV lines, its columns' names first."""
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow([each.column_name for each in table.columns])
    for row in table.rows():
        writer.writerow([csv_cell(value, zone) for value in row])
        if buffer.tell() > CHUNK:
            yield _drained(buffer)
    yield _drained(buffer)


def _drained(buffer: io.StringIO) -> str:
    text = buffer.getvalue()
    buffer.seek(0)
    buffer.truncate()
    return text


class _Outlet(io.RawIOBase):
    """Collects what the archive writes until it is sent on. It cannot seek, so nothing is written twice."""

    def __init__(self) -> None:
        self.parts: list[bytes] = []

    def writable(self) -> bool:
        return True

    def write(self, data: Any) -> int:
        self.parts.append(bytes(data))
        return len(data)

    def taken(self) -> bytes:
        parts, self.parts = self.parts, []
        return b"".join(parts)


def zip_chunks(tables: Iterable[Any], readme: str, zone: ZoneInfo) -> Iterator[bytes]:
    """A ZIP archive of one CSV file a table, made while it is sent."""
    outlet = _Outlet()
    with zipfile.ZipFile(outlet, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("README.txt", readme)
        for table in tables:
            with archive.open(f"{table.key}.csv", "w") as file:
                file.write("\ufeff".encode())  # or a spreadsheet takes the text for another encoding
                for lines in csv_lines(table, zone):
                    file.write(lines.encode())
                    yield outlet.taken()
    yield outlet.taken()


def xlsx_file(tables: Iterable[Any], readme: str, zone: ZoneInfo) -> IO[bytes]:
    """A workbook of one sheet a table, in a temporary file that is gone when it is closed."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("README")
    for line in readme.splitlines():
        sheet.append([_text_cell(sheet, line)])
    for table in tables:
        sheet = book.create_sheet(table.key[:31])
        sheet.freeze_panes = "A2"
        sheet.append([each.column_name for each in table.columns])
        for row in table.rows():
            sheet.append([xlsx_cell(sheet, value, zone) for value in row])
    file = TemporaryFile()  # noqa: SIM115  (whoever sends it closes it)
    book.save(file)
    file.seek(0)
    return file


def xlsx_cell(sheet: Any, value: Any, zone: ZoneInfo) -> Any:
    """Numbers and days are themselves; an instant is text, since a workbook knows no time zones."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if (
        value is None
        or isinstance(value, int | float)
        or (isinstance(value, date) and not isinstance(value, datetime))
    ):
        return value
    return _text_cell(sheet, plain_cell(value, zone))


def _text_cell(sheet: Any, words: str) -> Any:
    clean = ILLEGAL_CHARACTERS_RE.sub("", words)[:LONGEST_XLSX_TEXT]
    if not FORMULA.match(clean):
        return clean
    cell = WriteOnlyCell(sheet, value=clean)
    cell.data_type = "s"  # text, whatever it begins with
    return cell


def readme(tables: Iterable[Any], refuge: Any, now: datetime) -> str:
    """What the tables and their columns mean."""
    zone = refuge.zone
    lines = [
        f"{refuge.name}: everything, as it stood at {now.astimezone(zone):%Y-%m-%d %H:%M} ({refuge.time_zone}).",
        "",
        "Numbers are in SI units or in those that the name of the column says; a decimal point stands before the",
        "decimals. An empty cell is not known. Times carry their offset from UTC. Records that were struck out say",
        "so in voided_at. Text that a spreadsheet would run as a formula has an apostrophe in front (CSV).",
        "Tables marked with * can be read in again.",
    ]
    for table in tables:
        mark = " *" if table.row_form is not None else ""
        lines += ["", f"{table.key}{mark}: {table.title}. {table.words}".rstrip()]
        lines += [f"  {each.column_name}: {each.explained()}" for each in table.columns]
    return "\n".join(lines) + "\n"
