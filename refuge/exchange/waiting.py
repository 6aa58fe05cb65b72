"""The file between its preview and its confirmation: kept in the data folder, named by a signed token."""

import secrets
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core import signing

from refuge.exchange.errors import FileProblem
from refuge.people.models import User

WAITS_S = 60 * 60
SALT = "refuge.exchange.waiting"
GONE = "This file was read in already, or has waited for more than an hour. Choose it again: nothing comes in twice."


@dataclass(frozen=True)
class Waiting:
    """A file that waits, and what its preview said it would do."""

    path: Path
    name: str
    key: str
    counts: list[int]


def folder() -> Path:
    return Path(settings.DATA_DIR) / "uploads"


def keep(content: bytes, *, name: str, key: str, counts: list[int], by: User) -> str:
    """Keep a file for an hour. The token says whose it is and what was agreed to."""
    clear_expired()
    folder().mkdir(mode=0o700, parents=True, exist_ok=True)
    stored = secrets.token_hex(16)
    path = folder() / stored
    path.touch(mode=0o600)
    path.write_bytes(content)
    facts = {"file": stored, "name": name[:200], "key": key, "counts": counts, "by": by.pk}
    return signing.dumps(facts, salt=SALT, compress=True)


def find(token: str, *, by: User, key: str) -> Waiting:
    """The file of a token. FileProblem when it is gone, was somebody else's, or was of another kind."""
    try:
        facts: dict[str, Any] = signing.loads(token, salt=SALT, max_age=WAITS_S)
    except signing.BadSignature:
        raise FileProblem(GONE) from None
    path = folder() / facts["file"]
    if facts["by"] != by.pk or facts["key"] != key or not path.is_file():
        raise FileProblem(GONE)
    return Waiting(path, facts["name"], facts["key"], facts["counts"])


def take(file: Waiting) -> bytes:
    """The content, for the first who takes it: of two presses one finds the file gone."""
    taken = file.path.with_suffix(".taken")
    try:
        file.path.rename(taken)
    except FileNotFoundError:
        raise FileProblem(GONE) from None
    content = taken.read_bytes()
    taken.unlink()
    return content


def clear_expired(now: float | None = None) -> None:
    """Delete what has waited too long."""
    if not folder().is_dir():
        return
    oldest = (now or time.time()) - WAITS_S
    for path in folder().iterdir():
        if path.stat().st_mtime < oldest:
            path.unlink(missing_ok=True)
