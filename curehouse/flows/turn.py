"""Bars are turned: of whole batches, or at one place; the notice that asked for it stays true."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from curehouse.curing.models import Placement, Position, Turning
from curehouse.curing.services import places as _places
from curehouse.curing.services.turning import note_turned
from curehouse.flows.turn_notices import renew_turning
from curehouse.making.models import Batch
from curehouse.workshops.actors import Actor


@transaction.atomic
def turn_batches(*, actor: Actor, batch_ids: Iterable[int], turned_at: datetime, at: datetime) -> list[Turning]:
    """Note that all bars of batches were turned."""
    rows = note_turned(actor=actor, batch_ids=batch_ids, turned_at=turned_at, at=at)
    renew_turning(workshop=actor.workshop, at=at, was_turned=True)
    return rows


@transaction.atomic
def turn_at_place(*, actor: Actor, batch: Batch, position: Position, moved_at: datetime, at: datetime) -> Placement:
    """Note that a batch's bars at a position were turned; once those at each of its places were, all of them are."""
    row = _places.turn(actor=actor, batch=batch, position=position, moved_at=moved_at, at=at)
    renew_turning(workshop=actor.workshop, at=at, was_turned=True)
    return row
