"""How far an import is, for whoever watches it.

It comes in by one transaction, which nobody can look into until it ends; so its progress is kept
beside the database, in a small file of the data folder that all processes of the house share.
"""

import json
import logging
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings

from curehouse.flows.bring_in.work import Progress
from curehouse.intake.models import Import

logger = logging.getLogger(__name__)

_FOLDER = "progress"
_AT_MOST_EVERY_SECONDS = 0.25


@dataclass(frozen=True, slots=True)
class Far:
    """What is being done, how much of it is, and when that was last said."""

    step: str
    done: int
    of: int
    said_at: datetime

    @property
    def percent(self) -> int:
        """Return how much is done, in per cent."""
        return 100 * self.done // self.of if self.of else 0


def _path(brought: Import) -> Path:
    return Path(settings.DATA_FOLDER) / _FOLDER / f"import-{brought.pk}.json"


def keeper(brought: Import) -> Progress:
    """Return what notes the progress of *brought*; a disk that is full costs the progress only."""
    path, last = _path(brought), 0.0

    def keep(step: str, done: int, of: int) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last < _AT_MOST_EVERY_SECONDS and done:
            return
        last = now
        try:
            path.parent.mkdir(mode=0o700, exist_ok=True)
            draft = path.with_suffix(".new")
            draft.write_text(json.dumps([step, done, of]), "utf-8")
            draft.replace(path)
        except OSError:
            logger.warning("progress not kept: import=%s", brought.pk)

    return keep


def how_far(brought: Import) -> Far | None:
    """Return how far *brought* is, or None where nobody works on it."""
    try:
        path = _path(brought)
        said_at = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        return Far(*json.loads(path.read_text("utf-8")), said_at)
    except (OSError, ValueError, TypeError):
        return None


def forget(brought: Import) -> None:
    """Forget the progress of what has ended."""
    _path(brought).unlink(missing_ok=True)
