"""The store count: whoever counts a lot while one is under way counts on it; the walk past all lots begins one.

Locks: past `alone on the store count` a workshop's counts go one at a time; it comes before the lots.
"""

import logging
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict, NotHere
from curehouse.common.locking import lock_alone
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from inventory.models import Lot, StoreCount
from inventory.queries.lots import LotQuerySet
from inventory.services.movements import PAGE, Counted, count

logger = logging.getLogger(__name__)

# A figure that somebody was just typing as another ended the store count is still of it.
_STILL_OF_IT = timedelta(hours=1)


def left_to_count(store_count: StoreCount) -> LotQuerySet:
    """Return the lots that hold something and were not counted on a store count."""
    counted = store_count.counts.not_taken_back().values("lot")
    return Lot.objects.within(store_count.workshop).in_stock().exclude(pk__in=counted)


@transaction.atomic
def count_in_store(
    *,
    actor: Actor,
    lot: Lot,
    counted: Decimal | None,
    moment: datetime,
    at: datetime,
    reason: str = "",
    source: str = PAGE,
    is_estimate: bool = False,
    seen: int | None = None,
    on_walk: bool = False,
    of: int | None = None,
) -> Counted:
    """Book what a person found of *lot* (`movements.count`), on the store count that is under way, if one is.

    *on_walk* begins one where none is. *of* is the key of the one that whoever counted took part in: ended just now,
    the figure is still of it. With the last lot that was left it ends.
    """
    under_way = _under_way(actor.workshop)
    just_ended = None if of is None else StoreCount.objects.within(actor.workshop).filter(pk=of).first()
    if just_ended is not None and just_ended.ended_at is not None and at - just_ended.ended_at <= _STILL_OF_IT:
        walk = just_ended
    elif under_way is not None:
        walk = under_way if on_walk or moment >= under_way.begun_at else None
    else:
        walk = _begin(actor, moment=moment) if on_walk else None
    found = count(
        actor=actor, lot=lot, counted=counted, moment=moment, at=at, reason=reason, source=source,
        is_estimate=is_estimate, seen=seen, store_count=walk,
    )  # fmt: skip
    if walk is not None and walk.ended_at is None and not left_to_count(walk).exists():
        _end(walk, at=at, lots_left=0)
    return found


@transaction.atomic
def end_store_count(*, actor: Actor, store_count: StoreCount, at: datetime) -> StoreCount:
    """End a store count; what was not counted stays as it is booked, and how many lots that are is kept."""
    _under_way(actor.workshop)
    row = StoreCount.objects.within(actor.workshop).filter(pk=store_count.pk).first()
    if row is None:
        raise NotHere("not_here", "There is no such store count in this workshop.")
    if row.ended_at is not None:
        raise Conflict("ended", "This store count has ended already: look at what it came to.")
    return _end(row, at=at, lots_left=left_to_count(row).count())


def _under_way(workshop: Workshop) -> StoreCount | None:
    """Return the store count that is under way, alone on it until the transaction ends, or None."""
    lock_alone(f"store count of workshop {workshop.pk}")
    return StoreCount.objects.within(workshop).under_way().first()


def _begin(actor: Actor, *, moment: datetime) -> StoreCount:
    row = StoreCount.unscoped.create(workshop=actor.workshop, begun_at=moment, **actor.signature)
    logger.info("store count begun: workshop=%s store_count=%s", actor.workshop.pk, row.pk)
    return row


def _end(row: StoreCount, *, at: datetime, lots_left: int) -> StoreCount:
    row.ended_at, row.lots_left = at, lots_left
    row.save(update_fields=["ended_at", "lots_left"])
    logger.info("store count ended: workshop=%s store_count=%s left=%s", row.workshop_id, row.pk, lots_left)
    return row
