"""A CSV or XLSX file as rows of cells, whatever program wrote it. Bounded, so that no file fills the memory."""

import csv
import io
import re
import zipfile
from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from openpyxl import load_workbook

from refuge.exchange.errors import FileProblem

LARGEST_FILE = 10 * 1024 * 1024
MOST_ROWS = 10_000
MOST_COLUMNS = 100
MOST_LINES = 100_000  # empty ones too: a spreadsheet formatted to its end has a million of them
MOST_CELLS = 10_000_000
LARGEST_UNPACKED = 200 * 1024 * 1024
LONGEST_CELL = 20_000
SEPARATORS = ",;\t"
OTHER = re.compile(r"[^a-z0-9]+")
ESCAPED = re.compile(r"^'+[=+\-@\t\r]")


@dataclass
class Sheet:
    """Rows under known columns. `unread` are headings that no column answers to; numbers are the file's own."""

    headers: list[str]
    rows: list[list[Any]] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)


def read(content: bytes, known: Collection[str], sheet_name: str) -> Sheet:
    """The rows of a file. FileProblem for one that is too large, of another kind, or without the columns.

    Of a workbook with several sheets the one called `sheet_name` is read, else the first.
    """
    if len(content) > LARGEST_FILE:
        raise FileProblem(
            f"The file has {len(content) / 1048576:.1f} MB; {LARGEST_FILE // 1048576} MB is the most. "
            "Split it, or leave out columns that are not read."
        )
    if content[:4] == b"\xd0\xcf\x11\xe0":
        raise FileProblem("This is the old XLS format, or protected by a password. Save it as XLSX or CSV.")
    rows = _workbook(content, sheet_name) if content[:2] == b"PK" else _text_rows(content, known)
    return _under_columns(rows, known)


def _text_rows(content: bytes, known: Collection[str]) -> Iterable[tuple[Any, ...]]:
    text = _decoded(content)
    csv.field_size_limit(LARGEST_FILE)
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=_separator(text, known)):
            yield tuple(cell[1:] if ESCAPED.match(cell) else cell for cell in row)
    except csv.Error as error:
        raise FileProblem(
            f"The file is not well-formed CSV ({error}). Save it anew from your program."
        ) from None


def _decoded(content: bytes) -> str:
    for encoding in ("utf-16",) if content[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise FileProblem("This is neither CSV nor XLSX text that can be read. Save it as CSV (UTF-8) or XLSX.")


def _separator(text: str, known: Collection[str]) -> str:
    """The one that splits the first line into most of the known columns."""
    first = text.lstrip("\r\n").splitlines()[0] if text.strip() else ""
    names = {plain(name) for name in known}

    def score(separator: str) -> tuple[int, int]:
        parts = next(csv.reader([first], delimiter=separator), [])
        return sum(plain(part) in names for part in parts), len(parts)

    return max(SEPARATORS, key=score)


def _workbook(content: bytes, sheet_name: str) -> Iterable[tuple[Any, ...]]:
    _check_archive(content)
    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book[sheet_name] if sheet_name in book.sheetnames else book.worksheets[0]
        sheet.reset_dimensions()
        yield from sheet.iter_rows(values_only=True)
    except Exception:  # a damaged file makes its readers fail in any way
        raise FileProblem("The workbook is damaged. Open it in your program and save it anew.") from None


def _check_archive(content: bytes) -> None:
    """A small archive can unpack to more than the memory holds: look at what it says before unpacking."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            names, unpacked = archive.namelist(), sum(each.file_size for each in archive.infolist())
    except zipfile.BadZipFile:
        raise FileProblem("The workbook is damaged. Open it in your program and save it anew.") from None
    if "xl/workbook.xml" not in names:
        raise FileProblem("This is a packed file but no XLSX workbook. Save the table as XLSX or CSV.")
    if unpacked > LARGEST_UNPACKED:
        raise FileProblem("The workbook unpacks to more than can be read. Save only the table, as CSV.")


def _under_columns(rows: Iterable[tuple[Any, ...]], known: Collection[str]) -> Sheet:
    filled = _filled(rows)
    _, headings = next(filled, (0, ()))
    if not headings:
        raise FileProblem("The file is empty. Its first row must hold the names of the columns.")
    sheet, places = _headed(headings, known)
    for number, row in filled:
        _refuse_beyond(headings, number, row)
        _take(sheet, number, [row[place] if place < len(row) else None for place in places])
    if not sheet.rows:
        raise FileProblem("There is nothing below the names of the columns.")
    return sheet


def _filled(rows: Iterable[tuple[Any, ...]]) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """Rows that hold something, with their numbers; FileProblem rather than leaving off before the end."""
    cells = 0
    for number, row in enumerate(rows, start=1):
        cells += len(row)
        if number > MOST_LINES or cells > MOST_CELLS:
            raise FileProblem(
                f"The table goes on beyond row {number:,}, with empty rows or columns. Delete those, and save it anew."
            )
        if any(_is_filled(cell) for cell in row):
            yield number, row


def _is_filled(cell: Any) -> bool:
    return cell is not None and cell != ""


def _refuse_beyond(headings: tuple[Any, ...], number: int, row: tuple[Any, ...]) -> None:
    """What stands under no heading would be lost without a word, and often shows that a row was split wrongly."""
    width = len(headings)
    beyond = [
        cell
        for place, cell in enumerate(row)
        if _is_filled(cell) and not (place < width and _is_filled(headings[place]))
    ]
    if beyond:
        raise FileProblem(
            f"Row {number} has more cells than there are headings: “{str(beyond[0])[:40]}” stands under none. "
            "In a file with commas between its cells write numbers with a point, 7.5, and put text that holds a "
            "comma in quotes. Give what belongs to the table a heading, and take out what does not."
        )


def _take(sheet: Sheet, number: int, cells: list[Any]) -> None:
    if len(sheet.rows) >= MOST_ROWS:
        raise FileProblem(
            f"The file has more than {MOST_ROWS:,} rows. Split it and bring the parts one by one."
        )
    long = next(
        (name for name, cell in zip(sheet.headers, cells, strict=True) if len(str(cell)) > LONGEST_CELL), ""
    )
    if long:
        raise FileProblem(f"Row {number}, {long}: the text is longer than {LONGEST_CELL:,} characters.")
    sheet.rows.append(cells)
    sheet.numbers.append(number)


def _headed(row: tuple[Any, ...], known: Collection[str]) -> tuple[Sheet, list[int]]:
    by_plain = {plain(name): name for name in known}
    headings = [(place, str(cell).strip()) for place, cell in enumerate(row) if _is_filled(cell)]
    if len(headings) > MOST_COLUMNS:
        raise FileProblem(
            f"The first row names {len(headings):,} columns; {MOST_COLUMNS} is the most. Leave out those not read."
        )
    found = [(place, by_plain[plain(heading)]) for place, heading in headings if plain(heading) in by_plain]
    if not found:
        raise FileProblem(
            "The first row names none of the columns. It must hold their names: " + ", ".join(known) + "."
        )
    twice = [name for name, count in Counter(name for _, name in found).items() if count > 1]
    if twice:
        raise FileProblem(f"The column “{twice[0]}” is there twice. Leave one.")
    unread = [_perhaps(heading, known) for _, heading in headings if plain(heading) not in by_plain]
    return Sheet([name for _, name in found], unread=unread), [place for place, _ in found]


def _perhaps(heading: str, known: Collection[str]) -> str:
    close = get_close_matches(plain(heading), known, n=1, cutoff=0.75)
    return f"{heading} (did you mean {close[0]}?)" if close else heading


def plain(heading: str) -> str:
    """A heading without what people add to it: “Water depth m” is water_depth_m."""
    return OTHER.sub("_", heading.casefold()).strip("_")
