"""``manage.py serve``: the web server alone, for containers; worker and beat are Celery's own."""

import argparse
import os
import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.db import connections

from curehouse.commands.house.children import CHILD
from curehouse.commands.house.opening import check_error_pages, collect_static_files, open_database
from curehouse.commands.house.options import DEFAULT_PORT, add_data_option, port_number, process_count
from curehouse.commands.house.refusal import Refused, leave
from curehouse.common.setup_key import setup_key
from curehouse.flows.set_up import is_set_up


class Command(BaseCommand):
    help = "Bring the database up to date and serve the pages and the API, without worker and scheduler."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        add_data_option(parser)
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=port_number, default=DEFAULT_PORT, help="port to listen on")
        parser.add_argument("--processes", type=process_count, default=1, help="web processes; one on SQLite")

    def handle(self, **options: Any) -> None:
        try:
            check_error_pages(options["host"])
            open_database()
            collect_static_files()
        except Refused as refusal:
            leave(refusal)
        if not is_set_up():
            # Whoever comes through a container's network looks like a stranger: the key lets the owner in.
            self.stdout.write(f"Nobody lives here yet: open /set-up/?key={setup_key()} at this house's address.")
            self.stdout.flush()
        connections.close_all()
        words = ["--host", options["host"], "--port", str(options["port"])]
        words += ["--processes", str(options["processes"])]
        # A fresh interpreter: what was needed to migrate need not stay in memory.
        os.execv(sys.executable, [sys.executable, "-m", CHILD, "web", *words])  # noqa: S606  # our own module and words
