"""Counts: what people, and the lists they bring, say that a lot held at a moment.

What follows from where a count stands among all that happened is worked out in ``settling.py``.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from curehouse.common.errors import Conflict
from curehouse.common.steps import A_STEP, in_steps
from curehouse.common.time import day_words
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from inventory.models import Count, Lot, Movement
from inventory.services.entries import show_amount

AS_LISTED = "as the stock list says"
Counts = Mapping[int, Sequence[Count]]
# When something happened, when the house was told, and its row: of one moment, what was told later is later.
Place = tuple[datetime, datetime, int]


def place_of_count(count: Count) -> Place:
    """Return where a count stands; one without a difference has no row."""
    return count.moment, count.written_at, count.movement_id or 0


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


def newest_count(lot: Lot) -> int:
    """Return the key of the last count of a lot that a person entered, taken back since or not; 0 where none is."""
    rows = Count.objects.within(lot.workshop).filter(lot=lot).by_people()
    return rows.order_by("-pk").values_list("pk", flat=True).first() or 0


def check_counted_since(lot: Lot, *, seen: int | None, zone: str, unit: str) -> None:
    """Raise ``Conflict`` (counted_meanwhile) where somebody counted a locked lot after the count that was *seen*."""
    if seen is None:
        return
    rows = Count.objects.within(lot.workshop).filter(lot=lot, pk__gt=seen).by_people().not_taken_back()
    other = rows.select_related("by_user", "by_device").order_by("-pk").first()
    if other is None:
        return
    found = show_amount(other.counted, lot.material, unit)
    did, when = "judged it by eye to be" if other.is_estimate else "counted", other.moment.astimezone(ZoneInfo(zone))
    day = day_words(when.date(), today=when.date())
    said = (
        f"{other.signed_by} {did} {found} at {when:%H:%M} on {day}, while you were at it. Look once more: "
        "if yours is right, say why it differs, and keep it."
    )
    raise Conflict("counted_meanwhile", said, field="counted", count=other.pk, counted=str(other.counted))


def keep_estimated(*, workshop: Workshop, lots: Mapping[int, Lot]) -> None:
    """Let locked lots (by key) say whether the last count that says what they held was judged by eye."""
    counts = counts_of(workshop, lots.values())
    for key, lot in lots.items():
        last = counts.get(key, ())
        is_estimated = bool(last) and last[-1].is_estimate
        if lot.is_estimated != is_estimated:
            lot.is_estimated = is_estimated
            lot.save(update_fields=["is_estimated"])


def write_taken_back(*, actor: Actor, count: Count, reason: str, at: datetime) -> Count:
    """Write that a count without a difference never happened."""
    return Count.unscoped.create(
        workshop=actor.workshop, lot=count.lot, counted=count.counted, expected=count.expected, moment=count.moment,
        reason=reason, takes_back=count, written_at=at, **actor.signature,
    )  # fmt: skip
