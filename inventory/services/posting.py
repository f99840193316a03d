"""The one place where a lot's balance changes: by one conditional write, with its row in the ledger.

Locks: lots come last, after a batch, its cure and positions, and all of a transaction's at once and in
key order (:func:`lock_lots`). The conditional write holds even where nobody locked, and a CHECK
constraint stands behind it.
"""

from collections.abc import Iterable
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
    # Rounded: SQLite adds decimals as floats, and a tenth left over would bar the last gram.
    after = Round(F("on_hand") + amount, 3)
    fits = Lot.unscoped.filter(pk=lot.pk).annotate(after=after).filter(after__gte=0, after__lte=MOST_ON_HAND)
    if fits.update(on_hand=after) != 1:
        raise _does_not_fit(lot, amount, unit=actor.workshop.unit)
    lot.on_hand = (lot.on_hand + amount).quantize(SMALLEST_G)
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
