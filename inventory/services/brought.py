"""The writer of stock and of its use that a list brings: a few statements for all of it."""

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import NotHere
from curehouse.common.locking import lock_rows
from curehouse.common.time import local_day, local_moment
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import reserve_lot_numbers
from inventory.models import Count, Lot, LotRuling, Material, Movement
from inventory.services.lots import ReceiptEntry
from inventory.services.movements import FOUND
from inventory.services.posting import MOST_AT_ONCE, Posting, post_many

logger = logging.getLogger(__name__)

BEFORE = "used before the stock list came in"
_IMPORT = Movement.Source.IMPORT
_Kind = Movement.Kind


def _receipt_moment(entry: ReceiptEntry, workshop: Workshop, at: datetime) -> datetime:
    if entry.received_on == local_day(at, workshop.time_zone):
        return at
    return local_moment(entry.received_on, time.min, workshop.time_zone)


def lock_for_lots(*, workshop: Workshop, materials: Iterable[Material]) -> None:
    """Lock what comes before all else where lots may be written: their materials, then the number counted up."""
    lock_rows(Material.objects.within(workshop), [row.pk for row in materials])
    reserve_lot_numbers(workshop=workshop, count=0)


@transaction.atomic
def bring_lots(*, actor: Actor, entries: Sequence[ReceiptEntry], at: datetime) -> list[Lot]:
    """Write lots under the next house numbers, with their first rulings and what came of them, in the order given.

    What an entry says is clean: the flow that read it has answered for it cell by cell.
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
                unit_cost=entry.unit_cost, standing=entry.standing, written_at=at, **actor.signature,
            )
            for index, entry in enumerate(entries)
        ],
        batch_size=MOST_AT_ONCE,
    )  # fmt: skip
    LotRuling.unscoped.bulk_create(
        [
            LotRuling(workshop=workshop, lot=lot, standing=lot.standing, why=entry.why, at=at, **actor.signature)
            for lot, entry in zip(lots, entries, strict=True)
        ],
        batch_size=MOST_AT_ONCE,
    )
    receipts = [
        Posting(lot, _Kind.RECEIVE, entry.amount, _receipt_moment(entry, workshop, at))
        for lot, entry in zip(lots, entries, strict=True)
    ]
    post_many(actor=actor, postings=receipts, at=at, source=_IMPORT)
    logger.info("lots brought in: workshop=%s lots=%s", workshop.pk, len(lots))
    return lots


@dataclass(frozen=True, slots=True)
class BroughtUse:
    """A use of the past, of a locked lot, in grams or pieces.

    ``is_off`` is set where what the lot holds by the book lacks it already: then as much is booked in
    as came with the lot, and the balance stays.
    """

    lot: Lot
    amount: Decimal
    moment: datetime
    reason: str
    is_off: bool


@transaction.atomic
def bring_uses(*, actor: Actor, uses: Sequence[BroughtUse], at: datetime) -> list[Movement]:
    """Book uses, in the order given; more than is booked counts the rest in first, "found at the pour"."""
    held = {one.lot.pk: one.lot.on_hand for one in uses}
    postings: list[Posting] = []
    where: list[int] = []
    found: list[tuple[int, Decimal, Decimal]] = []
    for one in uses:
        before = held[one.lot.pk]
        if one.is_off:
            came = local_moment(one.lot.received_on, time.min, actor.workshop.time_zone)
            postings.append(Posting(one.lot, _Kind.RECEIVE, one.amount, min(came, one.moment), BEFORE))
        elif one.amount > before:
            found.append((len(postings), one.amount, before))
            postings.append(Posting(one.lot, _Kind.COUNT, one.amount - before, one.moment, FOUND))
            held[one.lot.pk] = Decimal(0)
        else:
            held[one.lot.pk] = before - one.amount
        where.append(len(postings))
        postings.append(Posting(one.lot, _Kind.USE, -one.amount, one.moment, one.reason))
    rows = post_many(actor=actor, postings=postings, at=at, source=_IMPORT)
    Count.unscoped.bulk_create(
        [
            Count(
                workshop=actor.workshop, lot=rows[index].lot, counted=counted, expected=expected, reason=FOUND,
                moment=rows[index].moment, movement=rows[index], for_use=rows[index + 1], written_at=at, **actor.signature,
            )
            for index, counted, expected in found
        ],
        batch_size=MOST_AT_ONCE,
    )  # fmt: skip
    logger.info("uses brought in: workshop=%s uses=%s", actor.workshop.pk, len(uses))
    return [rows[index] for index in where]
