"""The one place where a lot's balance changes: by one conditional write, with its row in the ledger.

Locks: lots come last, after a batch, its cure and positions, and all of a transaction's at once and in
key order (:func:`lock_lots`). The conditional write holds even where nobody locked, and a CHECK
constraint stands behind it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import F, OuterRef, Subquery, Sum
from django.db.models.expressions import Combinable
from django.db.models.functions import Round

from curehouse.common.errors import Conflict, NotHere
from curehouse.common.locking import lock_rows
from curehouse.common.steps import A_STEP, in_steps
from curehouse.common.units import SMALLEST_G
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from inventory.models import MOST_ON_HAND, Lot, Movement
from inventory.queries.lots import LotQuerySet
from inventory.services.entries import show_amount


def lock_lots(*, workshop: Workshop, lots: Iterable[Lot]) -> dict[int, Lot]:
    """Return the lots fresh and locked until the transaction ends, by key.

    Raises :class:`NotHere` for a lot of another workshop.
    """
    keys = {lot.pk for lot in lots}
    rows = lock_rows(Lot.objects.within(workshop).select_related("material"), keys)
    if len(rows) != len(keys):
        raise NotHere("not_here", "There is no such lot in this workshop.")
    return rows


def lock_lot(*, workshop: Workshop, lot: Lot) -> Lot:
    """Return one lot fresh and locked until the transaction ends."""
    return lock_lots(workshop=workshop, lots=[lot])[lot.pk]


def _change(lots: LotQuerySet, amount: Combinable | Decimal) -> int:
    """Change what lots hold, those of which the constraint allows it; return how many."""
    # Rounded: SQLite adds decimals as floats, and a tenth left over would bar the last gram.
    after = Round(F("on_hand") + amount, 3)
    return lots.annotate(after=after).filter(after__gte=0, after__lte=MOST_ON_HAND).update(on_hand=after)


def _shift(lot: Lot, amount: Decimal, *, unit: str) -> None:
    if _change(Lot.unscoped.filter(pk=lot.pk), amount) != 1:
        raise _does_not_fit(lot, amount, unit=unit)


def _shift_by_rows(lots: Mapping[int, Lot], changes: Mapping[int, Decimal], rows: Sequence[Movement], *, unit: str) -> None:
    """Change what lots, which are locked, hold by their *rows* of the ledger: a few statements for all of them."""
    # Of a locked lot nobody else writes a row, so those from the first of these on are these.
    new = Movement.unscoped.filter(lot=OuterRef("pk"), pk__gte=min(row.pk for row in rows)).order_by().values("lot")
    amount = Subquery(new.annotate(total=Sum("amount")).values("total"))
    for keys in in_steps(sorted(changes)):
        if _change(Lot.unscoped.filter(pk__in=keys), amount) != len(keys):
            key = next((key for key in keys if not 0 <= lots[key].on_hand + changes[key] <= MOST_ON_HAND), keys[0])
            raise _does_not_fit(lots[key], changes[key], unit=unit)


@dataclass(frozen=True, slots=True)
class Posting:
    """A row for the ledger: grams or pieces that come to *lot*, or (below zero) leave it."""

    lot: Lot
    kind: str
    amount: Decimal
    moment: datetime
    reason: str = ""
    corrects: Movement | None = None


def write_rows(*, actor: Actor, postings: Sequence[Posting], at: datetime, source: str) -> list[Movement]:
    """Write rows of the ledger by one statement, of lots that hold what the rows come to already."""
    return Movement.unscoped.bulk_create(
        [
            Movement(
                workshop=actor.workshop, lot=one.lot, kind=one.kind, amount=one.amount, moment=one.moment,
                reason=one.reason, corrects=one.corrects, source=source, written_at=at, **actor.signature,
            )
            for one in postings
        ],
        batch_size=A_STEP,
    )  # fmt: skip


def post_many(*, actor: Actor, postings: Sequence[Posting], at: datetime, source: str) -> list[Movement]:
    """Change what lots hold by rows for the ledger (grams or pieces) and write these down.

    For the services of this package, inside their transaction. Raises :class:`Conflict` where a lot
    would hold less than nothing, or more than any lot can, once all of them are posted.
    """
    lots = {one.lot.pk: one.lot for one in postings}
    changes = dict.fromkeys(lots, Decimal(0))
    for one in postings:
        changes[one.lot.pk] += one.amount
    changes = {key: change for key, change in changes.items() if change}
    unit, one_by_one = actor.workshop.unit, len(changes) == 1
    if one_by_one:
        for key, change in changes.items():
            _shift(lots[key], change, unit=unit)
    rows = write_rows(actor=actor, postings=postings, at=at, source=source)
    if changes and not one_by_one:
        _shift_by_rows(lots, changes, rows, unit=unit)
    for key, change in changes.items():
        lots[key].on_hand = (lots[key].on_hand + change).quantize(SMALLEST_G)
    return rows


def post(
    *, actor: Actor, lot: Lot, kind: str, amount: Decimal, moment: datetime, at: datetime, source: str, reason: str = ""
) -> Movement:
    """Post one row, like :func:`post_many`."""
    return post_many(actor=actor, postings=[Posting(lot, kind, amount, moment, reason)], at=at, source=source)[0]


def _does_not_fit(lot: Lot, amount: Decimal, *, unit: str) -> Conflict:
    held = show_amount(lot.on_hand, lot.material, unit)
    if amount > 0:
        return Conflict(
            "too_much", f"{lot} holds {held}, and no lot holds more than {MOST_ON_HAND}: check the figure.", field="amount"
        )
    return Conflict(
        "not_enough",
        f"{lot} holds {held} by the book, so {show_amount(-amount, lot.material, unit)} cannot leave it: "
        "check the figure, or count the lot first if more is there.",
        field="amount",
        lot=lot.pk,
        on_hand=str(lot.on_hand),
    )
