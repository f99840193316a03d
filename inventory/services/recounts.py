"""What a count means in a ledger that is only appended to: it fixes what a lot held at its moment.

What is dated before a count but entered after it (a use, a receipt, a reversal) was lacking, or there,
when it was counted. So it changes the count's difference and not what is on hand: the count is held
against the book anew, by a row at its own moment that restates it. Of several counts the first after
that moment takes it up. A count taken back takes with it what was restated of it; that then goes on
to the next count, or to what is on hand. What a stock list says of a lot is a count as well.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from curehouse.common.steps import A_STEP, in_steps
from curehouse.common.time import local_day
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from inventory.models import Count, Lot, Movement
from inventory.services.posting import Posting, post_many

AS_LISTED = "as the stock list says"
Counts = Mapping[int, Sequence[Count]]


def counts_of(workshop: Workshop, lots: Iterable[Lot]) -> dict[int, list[Count]]:
    """Return the counts that stand, as they happened, by the key of the lot (which is locked)."""
    found: dict[int, list[Count]] = {}
    for part in in_steps(sorted({lot.pk for lot in lots})):
        for row in Count.objects.within(workshop).filter(lot__in=part).standing():
            found.setdefault(row.lot_id, []).append(row)
    return found


def count_after(counts: Sequence[Count], moment: datetime, *, written_at: datetime) -> Count | None:
    """Return the first count after what happened at *moment*; of one moment, what was written later is later."""
    return next((row for row in counts if (row.moment, row.written_at) > (moment, written_at)), None)


@dataclass(frozen=True, slots=True)
class Restated:
    """A count that is held against the book anew, and by how much what is dated before it changes the book."""

    count: Count
    lot: Lot
    change: Decimal

    def reason(self, time_zone: str) -> str:
        """Return what is said of it in the ledger."""
        day = local_day(self.count.moment, time_zone)
        what = "by the stock list" if self.count.by_list else "at the count"
        return f"{'lacking' if self.change < 0 else 'there'} {what} of {day} already"


def restated(postings: Iterable[Posting], counts: Counts, *, at: datetime) -> list[Restated]:
    """Return the counts that stand after these rows and take them up; what they do comes to nothing on hand."""
    found: dict[int, Restated] = {}
    for one in postings:
        written_at = at if one.corrects is None else one.corrects.written_at
        row = count_after(counts.get(one.lot.pk, ()), one.moment, written_at=written_at)
        if row is not None:
            before = found[row.pk].change if row.pk in found else Decimal(0)
            found[row.pk] = Restated(row, one.lot, before + one.amount)
    return [one for one in found.values() if one.change]


def enter(
    *, actor: Actor, postings: Sequence[Posting], counts: Counts, at: datetime, source: str
) -> tuple[list[Movement], list[Count]]:
    """Post rows to locked lots; return them, and the counts that were held against the book anew for them."""
    again = restated(postings, counts, at=at)
    zone = actor.workshop.time_zone
    corrections = [Posting(one.lot, Movement.Kind.COUNT, -one.change, one.count.moment, one.reason(zone)) for one in again]
    rows = post_many(actor=actor, postings=[*postings, *corrections], at=at, source=source)
    counted = [one.count for one in again]
    written = write_restating(actor=actor, counts=counted, corrections=rows[len(postings) :], at=at)
    return rows[: len(postings)], written


def write_restating(*, actor: Actor, counts: Sequence[Count], corrections: Sequence[Movement], at: datetime) -> list[Count]:
    """Write that counts are held against the book anew, each with the row that corrects it."""
    return Count.unscoped.bulk_create(
        [
            Count(
                workshop=actor.workshop, lot=row.lot, counted=count.counted, expected=count.counted - row.amount,
                moment=count.moment, reason=row.reason, movement=row, restates=count, written_at=at, **actor.signature,
            )
            for count, row in zip(counts, corrections, strict=True)
        ],
        batch_size=A_STEP,
    )  # fmt: skip


def write_listed(*, actor: Actor, receipts: Sequence[Movement], listed_at: datetime, at: datetime) -> list[Count]:
    """Write what a stock list says of the lots it brings, as of the moment of which it tells: it goes with their receipts."""
    return Count.unscoped.bulk_create(
        [
            Count(
                workshop=actor.workshop, lot=row.lot, counted=row.amount, expected=0, moment=listed_at, reason=AS_LISTED,
                movement=row, by_list=True, written_at=at, **actor.signature,
            )
            for row in receipts
        ],
        batch_size=A_STEP,
    )  # fmt: skip
