"""A lot is ruled; what it went into is held where the lot is not to be used."""

from datetime import datetime

from django.db import transaction

from curehouse.common.errors import Conflict
from curehouse.flows.stock_notices import renew_stock
from curehouse.making.models import Batch, BatchUse
from curehouse.making.services import hold_batch, lock_batches
from curehouse.workshops.actors import Actor
from inventory.models import Lot, LotRuling
from inventory.services.lots import rule_lot as write_ruling


@transaction.atomic
def rule_and_hold(*, actor: Actor, lot: Lot, standing: str, why: str, at: datetime) -> tuple[LotRuling, list[Batch]]:
    """Release, reject or quarantine a lot; return the ruling and the batches it holds.

    A rejected lot holds every batch that took from it and still has bars in the house. Bars that left
    are on record with the batch: whom they went to is for a person to follow.
    """
    uses = BatchUse.objects.within(actor.workshop).filter(movement__lot=lot).in_force()
    batches = lock_batches(actor.workshop, set(uses.values_list("batch_id", flat=True)))
    ruling = write_ruling(actor=actor, lot=lot, standing=standing, why=why, at=at)
    # The lot is locked from here on: what took from it between the two looks was not locked before it.
    if set(uses.values_list("batch_id", flat=True)) - {row.pk for row in batches}:
        raise Conflict("used_meanwhile", f"{ruling.lot} was used just now: look at it again, and say it again.")
    renew_stock(workshop=actor.workshop, at=at, material_ids=[ruling.lot.material_id])
    if ruling.standing != Lot.Standing.REJECTED:
        return ruling, []
    standing_here = [row for row in batches if row.state in (Batch.State.POURED, Batch.State.CURING)]
    for batch in standing_here:
        hold_batch(actor=actor, batch=batch, cause=f"{ruling.lot} was rejected after it went in", reason=ruling.why, at=at)
    return ruling, standing_here
