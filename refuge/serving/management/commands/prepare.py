from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import OperationalError, connection, transaction

from refuge.people.models import Refuge
from refuge.serving.errors import StartRefused

UNUSED_STATIC = ["rest_framework"]  # pages for clicking through the API, which answers in JSON only


class Command(BaseCommand):
    """Safe to run again at every start: what is up to date stays as it is."""

    help = "Brings the database and the static files up to date; with --demo, fills an empty database."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--demo", action="store_true", help="load the demo refuge into an empty database")

    def handle(self, *args: Any, **options: Any) -> None:
        self._reach_database()
        call_command("migrate", interactive=False, verbosity=0)
        if not settings.DEBUG:
            call_command("collectstatic", interactive=False, verbosity=0, ignore_patterns=UNUSED_STATIC)
        if options["demo"]:
            self._load_demo()

    def _reach_database(self) -> None:
        try:
            connection.ensure_connection()
        except OperationalError as error:
            reason = str(error).strip().splitlines()[0]
            raise StartRefused(f"The database does not answer ({reason}); look at DATABASE_URL.") from error

    def _load_demo(self) -> None:
        refuge = Refuge.objects.first()
        if refuge is not None and not refuge.is_demo:
            raise StartRefused(
                f"“{refuge.name}” is kept here, and --demo loads only into an empty data folder; "
                "leave --demo out, or choose another folder with --data.",
            )
        if refuge is None:
            self.stdout.write("Loading the demo refuge; this takes a moment.")
            with transaction.atomic():  # all of it or nothing, so that a broken load can be tried again
                call_command("load_demo")
