"""The one command, `clearmere`: runs the site, its single parts, or any of Django's own commands."""

import os
import sys


def main(argv: list[str] | None = None) -> int:
    arguments = sys.argv[1:] if argv is None else argv
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "refuge.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line(["clearmere", *arguments])
    return 0
