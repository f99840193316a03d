"""A batch takes from the storeroom: what to take, and what was really taken."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from curehouse.common.errors import DomainError
from curehouse.common.units import SMALLEST_G
from curehouse.core.stock.allocation import allocate
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.superfats import renew_superfats
from curehouse.flows.verdict_notices import end_promises
from curehouse.making.models import Batch, BatchUse
from curehouse.making.services import lock_batch, record_use
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from inventory.adapter import lots_on_hand
from inventory.models import Lot, Material, Movement
from inventory.services.entries import clean_amount
from inventory.services.movements import Used, use
from inventory.services.posting import lock_lots


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to take from which lot (grams or pieces), what is missing, and what is here but not in order."""

    takes: tuple[tuple[Lot, Decimal], ...]
    short: Decimal
    passed_over: tuple[tuple[Lot, str], ...]


@dataclass(frozen=True, slots=True)
class UseLine:
    """An amount really taken from a lot; a lot that is not in order wants a reason."""

    lot: Lot
    amount: Decimal
    reason: str = ""


def propose(*, workshop: Workshop, material: Material, amount: Decimal, day: date) -> Proposal:
    """Return from which lots to take *amount* on *day*: first expired, first out.

    An expired lot, or one in quarantine or rejected, is never proposed; it is named beside it.
    """
    amount = clean_amount(amount, material)
    lots = list(Lot.objects.within(workshop).filter(material=material).in_stock().named().first_expired_first())
    by_key = {lot.pk: lot for lot in lots}
    found = allocate(lots_on_hand(lots), float(amount), day.toordinal())
    return Proposal(
        takes=tuple((by_key[take.key], Decimal(take.amount).quantize(SMALLEST_G)) for take in found.takes),
        short=Decimal(found.short).quantize(SMALLEST_G),
        passed_over=tuple((lot, irregular) for lot in lots if (irregular := lot.irregular_on(day))),
    )


@transaction.atomic
def book_use(
    *,
    actor: Actor,
    batch: Batch,
    lines: Sequence[UseLine],
    used_at: datetime,
    at: datetime,
    source: str = Movement.Source.PAGE,
) -> list[BatchUse]:
    """Book what *batch* took, all of it or nothing; a lot that was not in order holds the batch.

    Its superfat is then that of the lots it took, and where they may make it caustic its check is a condition.

    What is wrong with a line says which in its data (``line``, counted from 0).
    """
    row = lock_batch(batch)
    lots = lock_lots(workshop=actor.workshop, lots=[line.lot for line in lines])
    written = []
    for number, line in enumerate(lines):
        used = _used(number, line, actor=actor, lot=lots[line.lot.pk], moment=used_at, at=at, source=source)
        written.append(record_use(actor=actor, batch=row, movement=used.movement, irregular=used.irregular, at=at))
    if any(one.irregular for one in written):
        end_promises(batch=row, at=at)
    renew_superfats(batches=[row], at=at)
    renew_stock(workshop=actor.workshop, at=at, material_ids={lot.material_id for lot in lots.values()})
    return written


def _used(number: int, line: UseLine, **how: Any) -> Used:
    try:
        return use(amount=line.amount, reason=line.reason, **how)
    except DomainError as error:
        error.data["line"] = number
        raise
