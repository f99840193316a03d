"""``manage.py start``: the whole house with one command."""

import argparse
import io
import sys
from importlib import import_module
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import connections
from django.utils import timezone

from curehouse.celery import app
from curehouse.commands.house.broker import check_broker
from curehouse.commands.house.children import Child
from curehouse.commands.house.early import prepared
from curehouse.commands.house.greeting import Greeter, greeting, say
from curehouse.commands.house.logs import folder_for_logs, log_this_process
from curehouse.commands.house.network import Doors
from curehouse.commands.house.opening import check_error_pages, collect_static_files, look_for_database, open_database
from curehouse.commands.house.options import add_start_options
from curehouse.commands.house.refusal import Refused, leave
from curehouse.commands.house.scheduler import BeatThread
from curehouse.commands.house.signals import wish_to_end
from curehouse.commands.house.supervisor import Supervisor
from curehouse.common.health import database_file
from curehouse.common.setup_key import setup_key
from curehouse.workshops.models import Workshop


class Command(BaseCommand):
    help = "Run the whole house: web, worker and scheduler, until Ctrl-C."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        add_start_options(parser)

    def handle(self, **options: Any) -> None:
        # A terminal that can't show the QR code's blocks gets question marks, not a traceback.
        if isinstance(sys.stdout, io.TextIOWrapper):
            sys.stdout.reconfigure(errors="replace")
        try:
            run_house(
                prepared().doors,
                certificate=options["cert"],
                key=options["key"],
                demo=options["demo"],
            )
        except Refused as refusal:
            leave(refusal)


def run_house(doors: Doors, *, certificate: Path | None, key: Path | None, demo: bool) -> None:
    """Open the house behind *doors* and keep it until somebody wants it to end."""
    check_error_pages(doors.listen)
    data = Path(settings.DATA_FOLDER)
    logs = folder_for_logs(data)
    log_this_process(logs / "house.log")
    check_broker(app)
    open_database()
    collect_static_files()
    sign_in = demo_sign_in(data) if demo else None
    web_words = ["--host", doors.listen, "--port", str(doors.port)]
    if certificate and key:
        web_words += ["--cert", str(certificate), "--key", str(key)]

    key_to_set_up = None if Workshop.objects.exists() else setup_key()
    greeter = Greeter(doors, greeting(doors, setup_key=key_to_set_up, sign_in=sign_in))
    file = database_file()
    connections.close_all()

    def look() -> None:
        look_for_database(file)
        greeter.look()

    wish_to_end.hold()
    Supervisor(
        [
            Child("web", web_words, logs / "web.log"),
            Child("worker", [], logs / "worker.log"),
            BeatThread(app),
        ],
        wish_to_end,
        say=say,
        on_look=look,
    ).run()


def demo_sign_in(data: Path) -> tuple[str, str]:
    """Return the demo's sign-in; its flows are loaded only when they are asked for."""
    demo = import_module("curehouse.commands.house.demo")
    email, password = demo.demo_sign_in(data, at=timezone.now())
    return email, password
