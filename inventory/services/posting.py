"""The one place where a lot's balance changes: by one conditional write, with its row in the ledger.

Locks: lots come last, after a batch, its cure and positions, and all of a transaction's at once and in
key order (:func:`lock_lots`). The conditional write holds even where nobody locked, and a CHECK
constraint stands behind it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Case, F, Value, When
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


def _after(changes: Mapping[int, Decimal]) -> Round:
    """Return what lots hold once these changes (by the key of the lot) are made."""
    # Rounded: SQLite adds decimals as floats, and a tenth left over would bar the last gram.
    cases = [When(pk=key, then=Value(change)) for key, change in changes.items()]
    return Round(F("on_hand") + Case(*cases, output_field=Lot._meta.get_field("on_hand")), 3)


def _that_fit(changes: Mapping[int, Decimal]) -> LotQuerySet:
    """Return those of the lots that can take their change."""
    return Lot.unscoped.filter(pk__in=list(changes)).annotate(after=_after(changes)).filter(
        after__gte=0, after__lte=MOST_ON_HAND
    )  # fmt: skip


def _shift(lots: Mapping[int, Lot], changes: Mapping[int, Decimal], *, unit: str) -> None:
    """Change what lots hold, a few statements for all of them; raises what does not fit of the first that cannot."""
    for keys in in_steps(sorted(key for key, change in changes.items() if change)):
        part = {key: changes[key] for key in keys}
        if _that_fit(part).update(on_hand=_after(part)) != len(part):
            key = next((key for key in part if not _that_fit({key: part[key]}).exists()), keys[0])
            raise _does_not_fit(lots[key], part[key], unit=unit)
        for key, change in part.items():
            lots[key].on_hand = (lots[key].on_hand + change).quantize(SMALLEST_G)


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
    _shift(lots, changes, unit=actor.workshop.unit)
    return write_rows(actor=actor, postings=postings, at=at, source=source)


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
