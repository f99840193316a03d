"""What an order's steps come to: written, sent, partly in, in, or called off."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import models


class State(models.TextChoices):
    """Where an order stands."""

    WRITTEN = "written", "written"
    SENT = "sent", "sent"
    PARTLY_IN = "partly_in", "partly in"
    IN = "in", "in"
    CALLED_OFF = "called_off", "called off"


@dataclass(frozen=True, slots=True)
class Packs:
    """The packs of a line: how many were asked for, came into stock, will not come."""

    asked: int
    came: int
    ended: int

    @property
    def open(self) -> int:
        """Return how many are still to come; more may have come than were asked for."""
        return max(self.asked - self.came - self.ended, 0)


def state_of(*, is_sent: bool, lines: Iterable[Packs]) -> State:
    """Return where an order with these lines stands."""
    packs = list(lines)
    if any(one.came for one in packs):
        return State.PARTLY_IN if any(one.open for one in packs) else State.IN
    if packs and not any(one.open for one in packs):
        return State.CALLED_OFF
    return State.SENT if is_sent else State.WRITTEN
