"""``manage.py backup FILE``: everything a house needs to stand again, in one file."""

import argparse
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import connection
from django.utils import timezone

from curehouse.commands.house import archive
from curehouse.commands.house.greeting import say
from curehouse.commands.house.options import add_backup_options
from curehouse.commands.house.refusal import Refused, leave


class Command(BaseCommand):
    help = "Write a backup of the house, which may be running, to a new file."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        add_backup_options(parser)

    def handle(self, **options: Any) -> None:
        target: Path = options["file"]
        try:
            if connection.vendor != "sqlite":
                raise Refused(
                    "this house keeps its data in PostgreSQL, which makes its own backups:"
                    f' pg_dump --format=custom --file={target} "$DATABASE_URL".'
                )
            size = archive.write(target, Path(settings.DATA_FOLDER), at=timezone.now())
        except Refused as refusal:
            leave(refusal)
        say(f"Backup of {settings.DATA_FOLDER} written to {target} ({size / 1e6:.1f} MB).")
        say("It holds the house's secrets: keep it where only you can read it.")
