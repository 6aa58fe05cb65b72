"""A copy of the empty, fully migrated SQLite database, kept between runs: migrating takes longer than most tests.

Named after everything that goes into it, so that a changed migration makes a new one.
"""

import hashlib
import shutil
import sqlite3
import tempfile
from pathlib import Path

import django
from platformdirs import user_cache_path

ROOT = Path(__file__).resolve().parent.parent


def template_path() -> Path:
    digest = hashlib.sha256(django.__version__.encode())
    for path in sorted([*ROOT.glob("*/migrations/*.py"), *ROOT.glob("refuge/*/migrations/*.py")]):
        digest.update(path.read_bytes())
    return user_cache_path("clearmere-tests") / f"{digest.hexdigest()[:20]}.sqlite3"


def copy_template(to: Path) -> bool:
    """Put the template at `to`; False when there is none yet."""
    if not template_path().exists():
        return False
    shutil.copyfile(template_path(), to)
    return True


def keep_template(database: Path) -> None:
    """Make the just migrated `database` the template; several runs may do so at once, and one wins."""
    path = template_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        draft = Path(folder) / "draft.sqlite3"
        with sqlite3.connect(database) as connection:
            connection.execute("VACUUM INTO ?", [str(draft)])
        draft.replace(path)
