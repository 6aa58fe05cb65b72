"""A file read in: first what it would do, then all of it or nothing.

The preview does everything and takes it back, so it finds whatever the database itself would refuse.
"""

from collections import Counter
from dataclasses import dataclass
from typing import Any

import tablib

from refuge.exchange.reading import read
from refuge.exchange.registry import table
from refuge.exchange.resource import CHANGED, NEW, UNCHANGED, WRONG, Row
from refuge.people.models import User


@dataclass(frozen=True)
class Mistake:
    """What is wrong in one cell, or in a row as a whole."""

    row: int
    column: str
    words: str


@dataclass(frozen=True)
class Outcome:
    """What a file would do, or did."""

    rows: list[Row]
    mistakes: list[Mistake]
    unread: list[str]

    def count(self, state: str) -> int:
        return Counter(row.state for row in self.rows)[state]

    @property
    def new(self) -> int:
        return self.count(NEW)

    @property
    def changed(self) -> int:
        return self.count(CHANGED)

    @property
    def unchanged(self) -> int:
        return self.count(UNCHANGED)

    @property
    def wrong(self) -> int:
        return self.count(WRONG)

    @property
    def counts(self) -> list[int]:
        """What is agreed to when a preview is confirmed."""
        return [self.new, self.changed, self.unchanged]


def preview(*, key: str, content: bytes, name: str, by: User) -> Outcome:
    """What a file would do; nothing is kept. FileProblem for one that cannot be read at all."""
    return _run(key, content, name, by, dry_run=True)


def import_file(*, key: str, content: bytes, name: str, by: User) -> Outcome:
    """Read a file in, all of it or, when there are mistakes, nothing. FileProblem as for preview()."""
    return _run(key, content, name, by, dry_run=False)


def _run(key: str, content: bytes, name: str, by: User, *, dry_run: bool) -> Outcome:
    resource = table(key)
    sheet = read(content, list(resource.import_columns()), key)
    resource.start(by=by, reason=f"File {name}"[:100], numbers=sheet.numbers)
    dataset = tablib.Dataset(*sheet.rows, headers=sheet.headers)
    result = resource.import_data(
        dataset,
        dry_run=dry_run,
        use_transactions=True,
        rollback_on_validation_errors=True,
        raise_errors=False,
    )
    _fail_loudly(result)
    return Outcome(resource.read, _mistakes(resource.read, sheet.headers), sheet.unread)


def _fail_loudly(result: Any) -> None:
    """What no check foresaw is a fault of ours: it was rolled back, and is raised for the log."""
    unforeseen = [*result.base_errors, *(each for _, errors in result.row_errors() for each in errors)]
    if unforeseen:
        raise unforeseen[0].error


def _mistakes(rows: list[Row], columns: list[str]) -> list[Mistake]:
    """In the order of the table, from left to right; what is wrong with a whole row comes first."""
    place = {name: number for number, name in enumerate(columns)}
    return [
        Mistake(row.number, column, words)
        for row in rows
        for column, found in sorted(row.errors.items(), key=lambda each: place.get(each[0], -1))
        for words in found
    ]
