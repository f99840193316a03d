"""``manage.py health``: exit code 0 or 1 and a line, for containers and for people."""

import argparse
import http.client
import urllib.error
import urllib.request
from typing import Any

from celery.beat import beat_nodename
from celery.utils.nodenames import default_nodename
from django.core.management.base import BaseCommand

from curehouse.celery import app
from curehouse.commands.house.greeting import say
from curehouse.commands.house.options import add_data_option
from curehouse.common.health import database_answers

ANSWER_WITHIN_SECONDS = 3.0


def web_fault(url: str) -> str | None:
    """Return what is wrong with the web server at *url*, or None."""
    if not url.startswith(("http://", "https://")):
        return f"--web {url} is no address; write one that begins with http:// or https://"
    try:
        with urllib.request.urlopen(f"{url.rstrip('/')}/healthz", timeout=ANSWER_WITHIN_SECONDS) as answer:  # noqa: S310  # checked above
            code = answer.status
    except urllib.error.HTTPError as error:
        code = error.code
    except (OSError, http.client.HTTPException) as error:
        return f"the web server at {url} does not answer ({error})"
    return None if code == http.HTTPStatus.OK else f"the web server at {url} answers {code}"


def node_fault(name: str) -> str | None:
    """Return what is wrong with the Celery node *name* of this computer, or None."""
    try:
        replies = app.control.ping(destination=[name], timeout=ANSWER_WITHIN_SECONDS)
    except (OSError, app.connection_for_write().connection_errors) as error:
        return f"the queue does not answer ({error})"
    return None if replies else f"{name} does not answer"


class Command(BaseCommand):
    help = "Say whether a part of the house is well: the database, or what the options name."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        add_data_option(parser)
        parser.add_argument("--web", metavar="URL", help="ask the web server at URL")
        parser.add_argument("--worker", action="store_true", help="ask this computer's worker")
        parser.add_argument("--beat", action="store_true", help="ask this computer's scheduler")

    def handle(self, **options: Any) -> None:
        faults: list[str | None] = []
        if options["web"]:
            faults.append(web_fault(options["web"]))
        if options["worker"]:
            faults.append(node_fault(default_nodename(None)))
        if options["beat"]:
            faults.append(node_fault(beat_nodename()))
        if not faults:
            faults.append(None if database_answers() else "the database does not answer")
        found = [fault for fault in faults if fault]
        say("; ".join(found) if found else "well")
        if found:
            raise SystemExit(1)
