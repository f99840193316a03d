"""The only writer of turned bars."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from curehouse.common.errors import Conflict, Invalid, NotHere
from curehouse.common.time import local_day
from curehouse.curing.models import Turning
from curehouse.making.models import Batch
from curehouse.making.services import lock_batches
from curehouse.workshops.actors import Actor


@transaction.atomic
def note_turned(*, actor: Actor, batch_ids: Iterable[int], turned_at: datetime, at: datetime) -> list[Turning]:
    """Note that all bars of batches were turned, all of them or none.

    What was noted of a batch for that day is returned as it is: pressed twice, or by two people, it is there once.
    """
    keys = set(batch_ids)
    if not keys:
        raise Invalid("nothing", "No batch is chosen: tick those whose bars you turned.", field="batches")
    if turned_at > at:
        raise Invalid("future", "The time lies in the future: enter it once the bars are turned.", field="turned_at")
    batches = lock_batches(actor.workshop, keys)
    if len(batches) < len(keys):
        raise NotHere("not_here", "There is no such batch in this workshop.", field="batches")
    for batch in batches:
        _must_be_turnable(batch, turned_at)
    zone = actor.workshop.time_zone
    day = local_day(turned_at, zone)
    rows = Turning.objects.within(actor.workshop).filter(batch__in=batches).newest_first()
    known = {row.batch_id: row for row in rows if local_day(row.turned_at, zone) == day}
    new = [
        Turning(workshop=actor.workshop, batch=batch, turned_at=turned_at, written_at=at, **actor.signature)
        for batch in batches
        if batch.pk not in known
    ]
    known |= {row.batch_id: row for row in Turning.unscoped.bulk_create(new)}
    return [known[batch.pk] for batch in batches]


def _must_be_turnable(batch: Batch, turned_at: datetime) -> None:
    if batch.state != Batch.State.CURING:
        raise Conflict("not_curing", f"{batch} has no bars on the racks: leave it out.", field="batches")
    if turned_at < batch.cut_at:
        raise Invalid(
            "before_cut", f"{batch} was not cut yet at that time: check the time, or leave it out.", field="turned_at"
        )
