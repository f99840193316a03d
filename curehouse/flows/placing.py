"""Bars put at a place and carried elsewhere, and how much a place holds, as the doors call it.

Each is the verb of ``curing.services`` under the same name; with it what is said of places kept for runs stays true.
"""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from curehouse.curing.models import Placement, Position
from curehouse.curing.services import places as _places
from curehouse.curing.services import racks as _racks
from curehouse.curing.services.places import WhenFull
from curehouse.flows.place_notices import renew_places
from curehouse.making.models import Batch
from curehouse.workshops.actors import Actor


@transaction.atomic
def place(
    *,
    actor: Actor,
    batch: Batch,
    position: Position,
    bars: int,
    moved_at: datetime,
    at: datetime,
    when_full: WhenFull = "refuse",
) -> Sequence[Placement]:
    """Put bars that stand nowhere at a position."""
    written = _places.place(
        actor=actor, batch=batch, position=position, bars=bars, moved_at=moved_at, at=at, when_full=when_full
    )
    renew_places(workshop=actor.workshop, at=at)
    return written


@transaction.atomic
def move(
    *,
    actor: Actor,
    batch: Batch,
    origin: Position,
    target: Position,
    bars: int,
    moved_at: datetime,
    at: datetime,
    when_full: WhenFull = "refuse",
) -> Sequence[Placement]:
    """Carry bars from one position to another."""
    written = _places.move(
        actor=actor, batch=batch, origin=origin, target=target, bars=bars, moved_at=moved_at, at=at, when_full=when_full
    )
    renew_places(workshop=actor.workshop, at=at)
    return written


@transaction.atomic
def set_capacity(*, actor: Actor, position: Position, capacity_bars: int, at: datetime) -> Position:
    """Say how many bars a position holds; never fewer than stand there."""
    row = _racks.set_capacity(position=position, capacity_bars=capacity_bars)
    renew_places(workshop=actor.workshop, at=at)
    return row
