from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from refuge.demo.accounts import PASSWORD, SIGN_INS
from refuge.demo.loading import NotEmpty, demo_load
from refuge.demo.place import REFUGE_NAME


class Command(BaseCommand):
    help = "Fills an empty database with an invented refuge and eighteen months of its records."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seed", type=int, default=1, help="another number makes other chances (1)")
        parser.add_argument(
            "--today", type=date.fromisoformat, metavar="YYYY-MM-DD", help="the day the records lead up to"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            story = demo_load(seed=options["seed"], today=options["today"])
        except NotEmpty as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            f"{REFUGE_NAME} is loaded, up to {story.today:%Y-%m-%d}. "
            f"Sign in as {', '.join(SIGN_INS[:-1])} or {SIGN_INS[-1]}, password {PASSWORD}."
        )
