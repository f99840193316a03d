"""Opens the database: reachable, not newer than this version, its tables up to date."""

import logging
from ipaddress import ip_address

from django.conf import settings
from django.core.management import call_command
from django.db import Error, connection
from django.db.migrations.loader import MigrationLoader

from curehouse.commands.house.refusal import Refused
from curehouse.common.health import DatabaseFile
from curehouse.common.static_files import NOT_COLLECTED

logger = logging.getLogger(__name__)


def where() -> str:
    """Return the database in words, without its password."""
    facts = connection.settings_dict
    if connection.vendor == "sqlite":
        return str(facts["NAME"])
    return f"{facts['NAME']} on {facts['HOST'] or 'this computer'}"


def check_error_pages(listen: str) -> None:
    """Raise Refused if Django's own error pages, which show the settings, could be asked for from elsewhere."""
    if settings.DEBUG and listen != "localhost" and not _is_loopback(listen):
        raise Refused(
            "DEBUG=1 shows the settings of this house to everybody who can reach it; unset DEBUG, or serve this computer alone."
        )


def _is_loopback(listen: str) -> bool:
    try:
        return ip_address(listen).is_loopback
    except ValueError:
        return False


def open_database() -> None:
    """Bring the database up to this version.

    Raises
    ------
    Refused
        It can't be reached or written, or a newer version of Curehouse has already used it.
    """
    try:
        connection.ensure_connection()
        loader = MigrationLoader(connection)
        disk = loader.disk_migrations
        ours = {label for label, _ in disk}
        # Those that one migration stands for are not in the graph of a house that took that one.
        known = disk.keys() | {key for migration in disk.values() for key in migration.replaces}
        unknown = [
            f"{label}.{name}" for label, name in loader.applied_migrations if label in ours and (label, name) not in known
        ]
        if unknown:
            raise Refused(
                f"the database {where()} was used by a newer version of Curehouse ({unknown[0]});"
                " install that version, or restore a backup made before it."
            )
        if set(loader.graph.nodes) - set(loader.applied_migrations):
            call_command("migrate", verbosity=0, interactive=False, skip_checks=True)
        # The secret is made on first use; a house that is open has it, and a backup of it too.
        str(settings.SECRET_KEY)
    except Error as error:
        reason = " ".join(str(error).split())
        remedy = "" if connection.vendor == "sqlite" else "; check DATABASE_URL, and that the server runs and lets the house in"
        raise Refused(f"the database {where()} can't be used ({reason}){remedy}.") from error


def collect_static_files() -> None:
    """Put the files the pages need where the web server finds them."""
    try:
        call_command(
            "collectstatic",
            verbosity=0,
            interactive=False,
            ignore_patterns=NOT_COLLECTED,
            skip_checks=True,
        )
    except OSError as error:
        raise Refused(f"the static files can't be written ({error.strerror}); make room there.") from error


def look_for_database(file: DatabaseFile | None) -> None:
    """Raise Refused if the file of the database is not the one any more that the house has open."""
    fault = None if file is None else file.fault()
    if file is None or fault is None:
        return
    logger.error("the database %s %s while the house was running", file.path, fault)
    raise Refused(
        f"the database {file.path} {fault} while the house was running, and nothing more could be kept; put that"
        " file back, or restore a backup into an empty folder: start --data NEW --restore FILE."
    )
