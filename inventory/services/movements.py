"""What comes to a lot and leaves it: the verbs of the ledger.

Recording never blocks what happened: a use of more than is booked counts the rest in, and a lot that is
not in order is used all the same, with a reason. Whatever is told, in whatever order, the ledger comes to
what happened (``settling.py``).
"""

import logging
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Q

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.time import local_day
from curehouse.workshops.actors import Actor
from inventory.models import MOST_ON_HAND, Count, Irregular, Lot, Making, Movement, StoreCount
from inventory.services.entries import clean_amount, clean_moment, clean_reason, clean_text, show_amount
from inventory.services.posting import Posting, does_not_fit, lock_lot, write_rows
from inventory.services.recounts import check_counted_since, keep_estimated, write_taken_back
from inventory.services.settling import Settled, settle
from inventory.solutions import is_dissolved

logger = logging.getLogger(__name__)

PAGE = Movement.Source.PAGE
FOLLOWS_COUNT = "This row follows from a count: take back the count, or what was entered late before it."
# A kitchen scale shows whole grams: so much more may be its last figure.
_A_GRAM = Decimal(1)
FOLLOWS_USE = "This was found for a use: take back that use, and it goes with it."
_GROWN = (
    "How strong {lot} is follows from what was dissolved in it, so a count adds nothing to it. If an earlier count, a use or "
    "a write-off says too much, take that back and count again. If more was dissolved, make that as a lot of its own. If "
    "anything was poured to it, nobody knows how strong it is any more: put it in quarantine."
)


@dataclass(frozen=True, slots=True)
class Used:
    """A use as booked: what was found for it, and why the lot was not in order, if it was not."""

    movement: Movement
    found: Count | None
    irregular: str


@dataclass(frozen=True, slots=True)
class Counted:
    """A count as booked; ``moved`` is the correction, or None where the count was as booked."""

    count: Count
    moved: Movement | None


@transaction.atomic
def receive_more(
    *, actor: Actor, lot: Lot, amount: Decimal, moment: datetime, at: datetime, reason: str = "", source: str = PAGE
) -> Movement:
    """Book more of the same lot that came in: a rest of the delivery, another sack of the same lot number.

    Not of one that was made here: what went into it would not say what is in it any more.
    """
    row = lock_lot(workshop=actor.workshop, lot=lot)
    if Making.objects.within(actor.workshop).filter(lot=row).exists():
        raise Conflict("made_here", f"{row} was made here: what was made besides is another lot, so make that.", field="amount")
    posting = Posting(
        row,
        Movement.Kind.RECEIVE,
        clean_amount(amount, row.material),
        clean_moment(moment, row, actor.workshop, at=at),
        clean_text(reason, field="reason", what="The reason", longest=400),
    )
    return _entered(actor, posting, at=at, source=source)[0]


def _entered(actor: Actor, posting: Posting, *, at: datetime, source: str) -> tuple[Movement, Settled]:
    rows = write_rows(actor=actor, postings=[posting], at=at, source=source)
    return rows[0], settle(actor=actor, lots={posting.lot.pk: posting.lot}, told=rows, at=at, source=source)


def _left(actor: Actor, posting: Posting, *, at: datetime, source: str) -> Movement:
    """Book what left a lot otherwise than by a use: not more than was there when it did."""
    lot, before = posting.lot, posting.lot.on_hand
    row, settled = _entered(actor, posting, at=at, source=source)
    found = settled.found_for(row)
    if found is not None:
        then = found.expected != before
        raise does_not_fit(lot, posting.amount, there=found.expected, then=then, unit=actor.workshop.unit)
    return row


@transaction.atomic
def use(
    *, actor: Actor, lot: Lot, amount: Decimal, moment: datetime, at: datetime, reason: str = "", source: str = PAGE
) -> Used:
    """Book what was used of *lot*; more than was there counts the rest in, "found at the pour".

    Whether the lot was in order is judged by its standing now (what is known) and by its
    best-before on the day it was used. If it was not, a reason is wanted.
    """
    row = lock_lot(workshop=actor.workshop, lot=lot)
    grams_or_pieces = clean_amount(amount, row.material)
    moment = clean_moment(moment, row, actor.workshop, at=at)
    irregular = row.irregular_on(local_day(moment, actor.workshop.time_zone))
    if irregular:
        ask = f"{row} is {Irregular(irregular).label}: say why it was used all the same."
        reason = clean_reason(reason, ask=ask)
    else:
        reason = clean_text(reason, field="reason", what="The reason", longest=400)
    posting = Posting(row, Movement.Kind.USE, -grams_or_pieces, moment, reason)
    movement, settled = _entered(actor, posting, at=at, source=source)
    return Used(movement, settled.found_for(movement), irregular)


@transaction.atomic
def write_off(
    *, actor: Actor, lot: Lot, amount: Decimal, reason: str, moment: datetime, at: datetime, source: str = PAGE
) -> Movement:
    """Book what was spilt, spoilt or thrown away, and why."""
    row = lock_lot(workshop=actor.workshop, lot=lot)
    posting = Posting(
        row,
        Movement.Kind.WRITE_OFF,
        -clean_amount(amount, row.material),
        clean_moment(moment, row, actor.workshop, at=at),
        clean_reason(reason, ask="Say why it is written off: spilt, rancid, expired…"),
    )
    return _left(actor, posting, at=at, source=source)


@transaction.atomic
def give_back(
    *, actor: Actor, lot: Lot, amount: Decimal, reason: str, moment: datetime, at: datetime, source: str = PAGE
) -> Movement:
    """Book what went back to the supplier, and why."""
    row = lock_lot(workshop=actor.workshop, lot=lot)
    posting = Posting(
        row,
        Movement.Kind.GIVE_BACK,
        -clean_amount(amount, row.material),
        clean_moment(moment, row, actor.workshop, at=at),
        clean_reason(reason, ask="Say why it goes back to the supplier."),
    )
    return _left(actor, posting, at=at, source=source)


@transaction.atomic
def count(
    *,
    actor: Actor,
    lot: Lot,
    counted: Decimal | None,
    moment: datetime,
    at: datetime,
    reason: str = "",
    source: str = PAGE,
    is_estimate: bool = False,
    seen: int | None = None,
    store_count: StoreCount | None = None,
) -> Counted:
    """Book what a person found of *lot* at *moment*; a difference is corrected and wants a reason.

    What was booked after that moment is left out of what is expected, so a count may be entered late. An estimate
    without a figure (None) says that by eye it may be what is booked. *seen* is the newest count of the lot that
    whoever counted knew of, if they say: another figure than somebody else's since then is asked about.
    Of lye that was dissolved here no more is found than is booked: nobody would know how strong that is.
    """
    row = lock_lot(workshop=actor.workshop, lot=lot)
    moment = clean_moment(moment, row, actor.workshop, at=at)
    later = Movement.objects.within(actor.workshop).filter(lot=row, moment__gt=moment).total()
    expected = row.on_hand - later
    found = _found(counted, row, expected, is_estimate=is_estimate)
    columns = {"counted": found, "expected": expected, "is_estimate": is_estimate, "store_count": store_count}
    columns |= {"moment": moment, "written_at": at}
    moved = None
    if found == expected:
        said = clean_text(reason, field="reason", what="The reason", longest=400)
    else:
        check_counted_since(row, seen=seen, zone=actor.workshop.time_zone, unit=actor.workshop.unit)
        booked, here = (show_amount(one, row.material, actor.workshop.unit) for one in (expected, found))
        how = "judged by eye" if is_estimate else "counted"
        if found > expected + _A_GRAM and is_dissolved(row):
            raise Conflict("grown", f"{booked} are booked and {here} {how}. {_GROWN.format(lot=row)}", field="counted")
        said = clean_reason(reason, ask=f"{booked} are booked and {here} {how}: say why.")
        (moved,) = write_rows(
            actor=actor, postings=[Posting(row, Movement.Kind.COUNT, found - expected, moment, said)], at=at, source=source
        )
    entered = Count.unscoped.create(workshop=actor.workshop, lot=row, reason=said, movement=moved, **columns, **actor.signature)
    if moved is not None:
        settle(actor=actor, lots={row.pk: row}, told=[moved], at=at, source=source)
    keep_estimated(workshop=actor.workshop, lots={row.pk: row})
    return Counted(entered, moved)


def _found(counted: Decimal | None, lot: Lot, expected: Decimal, *, is_estimate: bool) -> Decimal:
    if counted is None and is_estimate:
        return expected
    if counted is None:
        raise Invalid("missing", "Say how much there is: only by eye may it be what is booked.", field="counted")
    most = Decimal(MOST_ON_HAND)
    return clean_amount(counted, lot.material, field="counted", what="The count", zero=True, most=most)


@transaction.atomic
def reverse(*, actor: Actor, movement: Movement, reason: str, at: datetime, source: str = PAGE) -> Movement:
    """Take back a movement that never happened, as of its own moment; return the reversal.

    With a use goes what was found for it, and with a count what was held against it since. What was used
    since was there all the same: what is not booked of it any more counts as found. Refused: a reversal
    itself, a movement that was taken back already, and one that follows from another.
    """
    lot = lock_lot(workshop=actor.workshop, lot=movement.lot)
    row = Movement.objects.within(actor.workshop).with_corrections().get(pk=movement.pk)
    _check_reversible(row)
    why = clean_reason(reason, ask="Say why it is taken back.")
    gone = [row, *_goes_with(row)]
    reversals = _take_back(actor, lot, gone, why, at=at, source=source)
    settle(actor=actor, lots={lot.pk: lot}, told=reversals, at=at, source=source)
    keep_estimated(workshop=actor.workshop, lots={lot.pk: lot})
    logger.info("movement taken back: workshop=%s lot=%s movement=%s", actor.workshop.pk, lot.pk, row.pk)
    return reversals[0]


@transaction.atomic
def take_back_count(*, actor: Actor, count: Count, reason: str, at: datetime, source: str = PAGE) -> Count:
    """Take back a count that never happened, with what was held against it since; return the row that says so, or it.

    One with a difference is taken back by its movement (:func:`reverse`); one without has none, so a row
    of its own takes it back. Refused: what a stock list says, what was found at a pour, and what restates
    a count.
    """
    lot = lock_lot(workshop=actor.workshop, lot=count.lot)
    row = Count.objects.within(actor.workshop).with_what_took_them_back().get(pk=count.pk)
    _check_count_reversible(row)
    if row.movement is not None:
        reverse(actor=actor, movement=row.movement, reason=reason, at=at, source=source)
        return row
    why = clean_reason(reason, ask="Say why it is taken back.")
    gone = list(Movement.objects.within(actor.workshop).filter(count_of__restates=row).in_force())
    reversals = _take_back(actor, lot, gone, why, at=at, source=source)
    said = write_taken_back(actor=actor, count=row, reason=why, at=at)
    settle(actor=actor, lots={lot.pk: lot}, told=reversals, gone=[row], at=at, source=source)
    keep_estimated(workshop=actor.workshop, lots={lot.pk: lot})
    logger.info("count taken back: workshop=%s lot=%s count=%s", actor.workshop.pk, lot.pk, row.pk)
    return said


def _check_count_reversible(row: Count) -> None:
    if row.takes_back_id is not None:
        raise Conflict("is_reversal", "This row takes another one back: count the lot anew instead.", field="count")
    if row.restates_id is not None:
        raise Conflict("follows_count", FOLLOWS_COUNT, field="count")
    if row.for_use_id is not None:
        raise Conflict("follows_use", FOLLOWS_USE, field="count")
    if row.by_list:
        said = "A stock list says so of a lot it brought: take back the lot’s receipt, and it goes with it."
        raise Conflict("follows_list", said, field="count")
    if row.is_taken_back:
        raise Conflict("reversed", "This count was taken back already.", field="count")


def _take_back(actor: Actor, lot: Lot, gone: list[Movement], why: str, *, at: datetime, source: str) -> list[Movement]:
    """Write the reversals of rows of a locked lot."""
    postings = [Posting(lot, Movement.Kind.REVERSAL, -one.amount, one.moment, why, one) for one in gone]
    return write_rows(actor=actor, postings=postings, at=at, source=source)


def _check_reversible(row: Movement) -> None:
    if row.kind == Movement.Kind.REVERSAL:
        raise Conflict("is_reversal", "This row takes another one back: enter the movement anew instead.", field="movement")
    if hasattr(row, "corrected_by"):
        raise Conflict("reversed", "This movement was taken back already.", field="movement")
    follows = row.count_of if hasattr(row, "count_of") else None
    if follows is not None and follows.restates_id is not None:
        raise Conflict("follows_count", FOLLOWS_COUNT, field="movement")
    if follows is not None and follows.for_use_id is not None:
        raise Conflict("follows_use", FOLLOWS_USE, field="movement")


def _goes_with(row: Movement) -> list[Movement]:
    """Return what is taken back with a movement: what was found for it, and what restates that or the count."""
    count = row.found if hasattr(row, "found") else row.count_of if hasattr(row, "count_of") else None
    if count is None:
        return []
    rows = Movement.objects.within(row.workshop).filter(Q(count_of=count) | Q(count_of__restates=count))
    return list(rows.exclude(pk=row.pk).in_force().order_by("pk"))
