"""The data folder: made on first use, written to by one running site at a time."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from filelock import FileLock, Timeout

from refuge.serving.errors import StartRefused

PARTS = ("logs", "beat", "media", "static")


@contextmanager
def held(folder: Path, address: str) -> Iterator[None]:
    """Hold `folder` for this process while the site runs at `address`.

    Raises StartRefused when the folder cannot be written to, or another start holds it. The lock ends with
    the process, however that ends.
    """
    _make_writable(folder)
    lock = FileLock(folder / "clearmere.lock", timeout=0)
    try:
        lock.acquire()
    except Timeout:
        raise StartRefused(_already_running(folder)) from None
    try:
        (folder / "address").write_text(address)
        yield
    finally:
        (folder / "address").unlink(missing_ok=True)
        lock.release()


def _make_writable(folder: Path) -> None:
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        for part in PARTS:
            (folder / part).mkdir(mode=0o700, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise StartRefused(
            f"The data folder {folder} cannot be written to ({error.strerror}); "
            "make it writable for you, or choose another one with --data."
        ) from error


def _already_running(folder: Path) -> str:
    address = ""
    with suppress(OSError):
        address = (folder / "address").read_text().strip()
    where = f" at {address}" if address else ""
    return f"Clearmere already runs on the data folder {folder}{where}; stop it first, or give this one its own folder with --data."
