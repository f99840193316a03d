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
        raise does_not_fit(lot, amount, there=lot.on_hand, unit=unit)


def _shift_by_rows(lots: Mapping[int, Lot], changes: Mapping[int, Decimal], rows: Sequence[Movement], *, unit: str) -> None:
    """Change what lots, which are locked, hold by their *rows* of the ledger: a few statements for all of them."""
    # Of a locked lot nobody else writes a row, so those from the first of these on are these.
    new = Movement.unscoped.filter(lot=OuterRef("pk"), pk__gte=min(row.pk for row in rows)).order_by().values("lot")
    amount = Subquery(new.annotate(total=Sum("amount")).values("total"))
    for keys in in_steps(sorted(changes)):
        if _change(Lot.unscoped.filter(pk__in=keys), amount) != len(keys):
            key = next((key for key in keys if not 0 <= lots[key].on_hand + changes[key] <= MOST_ON_HAND), keys[0])
            raise does_not_fit(lots[key], changes[key], there=lots[key].on_hand, unit=unit)


@dataclass(frozen=True, slots=True)
class Posting:
    """A row for the ledger: grams or pieces that come to *lot*, or (below zero) leave it.

    ``told_at`` is set where the house was told of it before now: a receipt whose day alone is corrected.
    """

    lot: Lot
    kind: str
    amount: Decimal
    moment: datetime
    reason: str = ""
    corrects: Movement | None = None
    told_at: datetime | None = None


def write_rows(*, actor: Actor, postings: Sequence[Posting], at: datetime, source: str) -> list[Movement]:
    """Write rows of the ledger by one statement; what their lots hold is kept apart from it (:func:`keep_balances`)."""
    return Movement.unscoped.bulk_create(
        [
            Movement(
                workshop=actor.workshop, lot=one.lot, kind=one.kind, amount=one.amount, moment=one.moment,
                reason=one.reason, corrects=one.corrects, source=source, written_at=one.told_at or at,
                **actor.signature,
            )
            for one in postings
        ],
        batch_size=A_STEP,
    )  # fmt: skip


def keep_balances(*, actor: Actor, lots: Mapping[int, Lot], rows: Sequence[Movement]) -> None:
    """Change what lots (by key) hold by *rows*: all that was written of them in this transaction and is not in their balance.

    Raises :class:`Conflict` where a lot would hold less than nothing, or more than any lot can.
    """
    changes = dict.fromkeys(lots, Decimal(0))
    for row in rows:
        changes[row.lot_id] += row.amount
    changes = {key: change for key, change in changes.items() if change}
    unit = actor.workshop.unit
    if len(changes) == 1:
        for key, change in changes.items():
            _shift(lots[key], change, unit=unit)
    elif changes:
        _shift_by_rows(lots, changes, rows, unit=unit)
    for key, change in changes.items():
        lots[key].on_hand = (lots[key].on_hand + change).quantize(SMALLEST_G)


def post(
    *, actor: Actor, lot: Lot, kind: str, amount: Decimal, moment: datetime, at: datetime, source: str, reason: str = ""
) -> Movement:
    """Post one row that nothing else follows from, in grams or pieces: the first of a new lot. The balance holds it first."""
    _shift(lot, amount, unit=actor.workshop.unit)
    posting = Posting(lot, kind, amount, moment, reason)
    (row,) = write_rows(actor=actor, postings=[posting], at=at, source=source)
    lot.on_hand = (lot.on_hand + amount).quantize(SMALLEST_G)
    return row


def does_not_fit(lot: Lot, amount: Decimal, *, there: Decimal, unit: str, then: bool = False) -> Conflict:
    """Say that so much cannot come to a lot, or (below zero) leave it, which holds, or held *then*, what was *there*."""
    held = f"{lot} {'held' if then else 'holds'} {show_amount(there, lot.material, unit)}"
    if amount > 0:
        return Conflict("too_much", f"{held}, and no lot holds more than {MOST_ON_HAND}: check the figure.", field="amount")
    return Conflict(
        "not_enough",
        f"{held} by the book{' then' if then else ''}, so {show_amount(-amount, lot.material, unit)} cannot leave it: "
        "check the figure, or count the lot first if more is there.",
        field="amount",
        lot=lot.pk,
        on_hand=str(there),
    )
