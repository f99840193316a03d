"""The one place where a lot's balance changes: by one conditional write, with its row in the ledger.

Locks: lots come last, after a batch, its cure and positions, and all of a transaction's at once and in
key order (:func:`lock_lots`). The conditional write holds even where nobody locked, and a CHECK
constraint stands behind it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import F
from django.db.models.functions import Round

from curehouse.common.errors import Conflict, NotHere
from curehouse.common.locking import lock_rows
from curehouse.common.units import SMALLEST_G
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from inventory.models import MOST_ON_HAND, Lot, Movement
from inventory.services.entries import show_amount

# SQLite takes a few thousand values in one statement.
MOST_AT_ONCE = 500


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


def _shift(lot: Lot, amount: Decimal, *, unit: str) -> None:
    # Rounded: SQLite adds decimals as floats, and a tenth left over would bar the last gram.
    after = Round(F("on_hand") + amount, 3)
    fits = Lot.unscoped.filter(pk=lot.pk).annotate(after=after).filter(after__gte=0, after__lte=MOST_ON_HAND)
    if fits.update(on_hand=after) != 1:
        raise _does_not_fit(lot, amount, unit=unit)
    lot.on_hand = (lot.on_hand + amount).quantize(SMALLEST_G)


def post(
    *,
    actor: Actor,
    lot: Lot,
    kind: str,
    amount: Decimal,
    moment: datetime,
    at: datetime,
    source: str,
    reason: str = "",
    corrects: Movement | None = None,
) -> Movement:
    """Change what *lot* holds by *amount* (grams or pieces, below zero what leaves) and write it down.

    For the services of this package, inside their transaction. Raises :class:`Conflict` where the
    lot would hold less than nothing, or more than any lot can.
    """
    _shift(lot, amount, unit=actor.workshop.unit)
    return Movement.unscoped.create(
        workshop=actor.workshop,
        lot=lot,
        kind=kind,
        amount=amount,
        moment=moment,
        reason=reason,
        corrects=corrects,
        source=source,
        written_at=at,
        **actor.signature,
    )


@dataclass(frozen=True, slots=True)
class Posting:
    """A row for the ledger: grams or pieces that come to *lot*, or (below zero) leave it."""

    lot: Lot
    kind: str
    amount: Decimal
    moment: datetime
    reason: str = ""


def post_many(*, actor: Actor, postings: Sequence[Posting], at: datetime, source: str) -> list[Movement]:
    """Post many rows to lots that are locked: one write a lot, one statement for the ledger.

    Raises :class:`Conflict` like :func:`post`, of what a lot would hold once all of them are posted.
    """
    lots = {one.lot.pk: one.lot for one in postings}
    change = dict.fromkeys(lots, Decimal(0))
    for one in postings:
        change[one.lot.pk] += one.amount
    for key in sorted(lots):
        if change[key]:
            _shift(lots[key], change[key], unit=actor.workshop.unit)
    return Movement.unscoped.bulk_create(
        [
            Movement(
                workshop=actor.workshop, lot=one.lot, kind=one.kind, amount=one.amount, moment=one.moment,
                reason=one.reason, source=source, written_at=at, **actor.signature,
            )
            for one in postings
        ],
        batch_size=MOST_AT_ONCE,
    )  # fmt: skip


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
