"""The only writer of what a batch used from the storeroom, and of what holds its release."""

import logging
from datetime import datetime

from django.db import transaction

from curehouse.common.errors import Conflict, NotHere
from curehouse.making.models import Batch, BatchHold, BatchHoldLift, BatchUse
from curehouse.making.services.batches import lock_batch
from curehouse.workshops.actors import Actor
from inventory.models import Irregular, Movement
from inventory.services.entries import clean_reason

logger = logging.getLogger(__name__)


def _check_here(actor: Actor, batch: Batch) -> None:
    if batch.workshop_id != actor.workshop.pk:
        raise NotHere("not_here", "There is no such batch in this workshop.")


@transaction.atomic
def record_use(*, actor: Actor, batch: Batch, movement: Movement, irregular: str, at: datetime) -> BatchUse:
    """Note that *batch* (locked by the caller) took a movement of the storeroom.

    A lot that was not in order holds the batch's release until a person lifts the hold.
    """
    _check_here(actor, batch)
    use = BatchUse.unscoped.create(
        workshop=actor.workshop,
        batch=batch,
        movement=movement,
        irregular=irregular,
        reason=movement.reason,
        written_at=at,
        **actor.signature,
    )
    if irregular:
        cause = f"{movement.lot} was {Irregular(irregular).label} when it went in"
        hold_batch(actor=actor, batch=batch, cause=cause, reason=movement.reason, at=at, use=use)
    return use


@transaction.atomic
def hold_batch(*, actor: Actor, batch: Batch, cause: str, reason: str, at: datetime, use: BatchUse | None = None) -> BatchHold:
    """Hold the release of *batch* (locked by the caller): for a *use* of it, or for what came up later."""
    _check_here(actor, batch)
    hold = BatchHold.unscoped.create(
        workshop=actor.workshop, batch=batch, use=use, cause=cause, reason=reason, at=at, **actor.signature
    )  # fmt: skip
    logger.info("batch held: workshop=%s batch=%s", actor.workshop.pk, batch.pk)
    return hold


@transaction.atomic
def lift_hold(*, actor: Actor, hold: BatchHold, why: str, at: datetime) -> BatchHoldLift:
    """Lift a hold: a person's word, with a reason; the hold itself stays on record."""
    actor.must_be_a_person("lift a hold")
    batch = lock_batch(hold.batch)
    _check_here(actor, batch)
    reason = clean_reason(why, ask=f"Say why {batch} may leave all the same.", field="why")
    if BatchHoldLift.objects.within(actor.workshop).filter(hold=hold).exists():
        raise Conflict("lifted", "This hold was lifted already.", field="why")
    lift = BatchHoldLift.unscoped.create(workshop=actor.workshop, hold=hold, why=reason, at=at, **actor.signature)
    logger.info("hold lifted: workshop=%s batch=%s hold=%s", actor.workshop.pk, batch.pk, hold.pk)
    return lift
