"""The writer of stock and of its use that a list brings: a few statements for all of it."""

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import NotHere
from curehouse.common.locking import lock_rows
from curehouse.common.steps import A_STEP
from curehouse.common.time import local_moment
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import reserve_lot_numbers
from inventory.models import Lot, LotRuling, Material, Movement
from inventory.services.lots import ReceiptEntry
from inventory.services.posting import Posting, write_rows
from inventory.services.recounts import write_listed
from inventory.services.settling import settle

logger = logging.getLogger(__name__)

_IMPORT = Movement.Source.IMPORT
_Kind = Movement.Kind


def lock_for_lots(*, workshop: Workshop, materials: Iterable[Material]) -> None:
    """Lock what comes before all else where lots may be written: their materials, then the number counted up."""
    lock_rows(Material.objects.within(workshop), [row.pk for row in materials])
    reserve_lot_numbers(workshop=workshop, count=0)


@transaction.atomic
def bring_lots(*, actor: Actor, entries: Sequence[ReceiptEntry], at: datetime, listed_at: datetime | None = None) -> list[Lot]:
    """Write lots under the next house numbers, with their first rulings and what came of them, in the order given.

    Where a stock list brings them, *listed_at* is the moment of which it tells: what is dated before it
    was lacking already (``settling.py``). What an entry says is clean: the flow that read it has answered
    for it cell by cell.
    """
    if not entries:
        return []
    workshop = actor.workshop
    wanted = {entry.material.pk for entry in entries}
    if len(lock_rows(Material.objects.within(workshop), wanted)) != len(wanted):
        raise NotHere("not_here", "There is no such material in this workshop.")
    first = reserve_lot_numbers(workshop=workshop, count=len(entries))
    lots = Lot.unscoped.bulk_create(
        [
            Lot(
                workshop=workshop, number=first + index, material=entry.material, supplier=entry.supplier,
                supplier_lot=entry.supplier_lot, received_on=entry.received_on, best_before=entry.best_before,
                unit_cost=entry.unit_cost, standing=entry.standing, on_hand=entry.amount, written_at=at, **actor.signature,
            )
            for index, entry in enumerate(entries)
        ],
        batch_size=A_STEP,
    )  # fmt: skip
    LotRuling.unscoped.bulk_create(
        [
            LotRuling(workshop=workshop, lot=lot, standing=lot.standing, why=entry.why, at=at, **actor.signature)
            for lot, entry in zip(lots, entries, strict=True)
        ],
        batch_size=A_STEP,
    )
    receipts = [
        Posting(lot, _Kind.RECEIVE, lot.on_hand, local_moment(lot.received_on, time.min, workshop.time_zone)) for lot in lots
    ]
    rows = write_rows(actor=actor, postings=receipts, at=at, source=_IMPORT)
    if listed_at is not None:
        write_listed(actor=actor, receipts=rows, listed_at=listed_at, at=at)
    logger.info("lots brought in: workshop=%s lots=%s", workshop.pk, len(lots))
    return lots


@dataclass(frozen=True, slots=True)
class BroughtUse:
    """A use of the past, of a locked lot, in grams or pieces."""

    lot: Lot
    amount: Decimal
    moment: datetime
    reason: str


@transaction.atomic
def bring_uses(*, actor: Actor, uses: Sequence[BroughtUse], at: datetime) -> list[Movement]:
    """Book uses, in the order given, and what follows from them (``settling.py``).

    What is on hand stays where a count after the use lacked it already; more than was there counts as found.
    """
    if not uses:
        return []
    postings = [Posting(one.lot, _Kind.USE, -one.amount, one.moment, one.reason) for one in uses]
    rows = write_rows(actor=actor, postings=postings, at=at, source=_IMPORT)
    lots = {one.lot.pk: one.lot for one in uses}
    settle(actor=actor, lots=lots, told=rows, at=at, source=_IMPORT, goes_back=False)
    logger.info("uses brought in: workshop=%s uses=%s", actor.workshop.pk, len(uses))
    return rows
