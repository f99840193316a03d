"""What a kind is given to work on."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from curehouse.flows.bring_in.options import Options
from curehouse.intake.models import Import
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop

Progress = Callable[[str, int, int], None]


def silent(_step: str, _done: int, _of: int) -> None:
    """Tell nobody how far it is."""


@dataclass(frozen=True, slots=True)
class Work:
    """A file to be checked, or (``writes``) brought in.

    ``progress`` is told the step, how much of it is done and how much there is.
    """

    actor: Actor
    path: Path
    options: Options
    at: datetime
    writes: bool
    beside: Path | None = None
    brought: Import | None = None
    progress: Progress = silent

    @property
    def workshop(self) -> Workshop:
        """Return the workshop at work."""
        return self.actor.workshop
