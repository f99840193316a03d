"""The logs in the data folder: one file a process, of limited size."""

import contextlib
import logging
import shutil
from logging.handlers import RotatingFileHandler
from pathlib import Path

from django.conf import settings

from curehouse.common.log_lines import LineFormatter

MAX_BYTES = 2 * 2**20
SHOWN_LINES = 20
_SHOWN_BYTES = 16 * 1024


def folder_for_logs(data: Path) -> Path:
    """Return the folder of the logs, making it if needed."""
    logs = data / "logs"
    logs.mkdir(mode=0o700, exist_ok=True)
    return logs


def keep_small(log: Path) -> None:
    """Move a log that has grown over the limit aside, replacing the one moved before.

    The child goes on writing to the same open file: it is copied and emptied, not renamed.
    """
    if log.exists() and log.stat().st_size > MAX_BYTES:
        # A full disk has no room for the copy, and emptying the log makes some.
        with contextlib.suppress(OSError):
            shutil.copyfile(log, log.with_suffix(".log.1"))
        with log.open("r+b") as stream:
            stream.truncate()


def last_lines(log: Path, *, since: int) -> list[str]:
    """Return the last lines written to *log* after byte *since*."""
    if not log.exists():
        return []
    size = log.stat().st_size
    with log.open("rb") as stream:
        stream.seek(max(size - _SHOWN_BYTES, since if since <= size else 0))
        text = stream.read().decode("utf-8", "replace")
    return text.splitlines()[-SHOWN_LINES:]


def log_this_process(log: Path) -> None:
    """Send what this process logs to *log* instead of the terminal."""
    # Where the disk is full, a line that cannot be written must not become a traceback on the terminal.
    logging.raiseExceptions = False
    handler = RotatingFileHandler(log, maxBytes=MAX_BYTES, backupCount=1, encoding="utf-8")
    handler.setFormatter(LineFormatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(level=logging.INFO, handlers=[handler], force=True)
    for name in settings.LOGGING["loggers"]:
        # The terminal stays quiet: what the children write to standard error goes to this file here.
        named = logging.getLogger(name)
        named.handlers, named.propagate = [], True
    # A line every tick, for ever, says nothing.
    logging.getLogger("celery.beat").setLevel(logging.WARNING)
