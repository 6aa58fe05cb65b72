"""Empty files to fill in."""

import csv
import io
from tempfile import TemporaryFile
from typing import IO, Any

from django import forms
from openpyxl import Workbook
from openpyxl.styles import Font

from refuge.plain_values import is_yes_or_no


def template_line(kind: Any) -> str:
    """The names of the columns, as CSV."""
    buffer = io.StringIO()
    csv.writer(buffer).writerow(kind.import_columns())
    return buffer.getvalue()


def template_book(kind: Any) -> IO[bytes]:
    """A workbook with the columns' names, and a second sheet that says what they mean."""
    book = Workbook()
    sheet: Any = book.active
    sheet.title = kind.key
    sheet.append(list(kind.import_columns()))
    sheet.freeze_panes = "A2"
    meanings = book.create_sheet("columns")
    meanings.append(["column", "needed", "meaning", "values"])
    for name, field, words in kind.explained():
        meanings.append([name, "yes" if field.required else "", words, values_of(field)])
    for each in (sheet, meanings):
        for cell in each[1]:
            cell.font = Font(bold=True)
    for column, width in zip("ABCD", (26, 8, 80, 60), strict=True):
        meanings.column_dimensions[column].width = width
    file = TemporaryFile()  # noqa: SIM115  (whoever sends it closes it)
    book.save(file)
    file.seek(0)
    return file


def values_of(field: forms.Field) -> str:
    """The words that a column takes, if it takes only some."""
    if is_yes_or_no(field):
        return "yes, no"
    if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
        choices: Any = field.choices
        return ", ".join(str(value) for value, _ in choices if value != "")
    return ""
