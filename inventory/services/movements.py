"""What comes to a lot and leaves it: the verbs of the ledger.

Recording never blocks what happened: a use of more than is booked counts the rest in first, and a
lot that is not in order is used all the same, with a reason. What is dated before a count leaves what
was counted as it is (``recounts.py``).
"""

import logging
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict
from curehouse.common.time import local_day
from curehouse.workshops.actors import Actor
from inventory.models import Count, Irregular, Lot, Movement
from inventory.services.entries import clean_amount, clean_moment, clean_reason, clean_text, show_amount
from inventory.services.posting import Posting, lock_lot
from inventory.services.recounts import count_after, counts_of, enter, restated

logger = logging.getLogger(__name__)

PAGE = Movement.Source.PAGE
FOUND = "found at the pour"


@dataclass(frozen=True, slots=True)
class Used:
    """A use as booked: what was counted in first, and why the lot was not in order, if it was not."""

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
    """Book more of the same lot that came in: a rest of the delivery, another sack of the same lot number."""
    row = lock_lot(workshop=actor.workshop, lot=lot)
    posting = Posting(
        row,
        Movement.Kind.RECEIVE,
        clean_amount(amount, row.material),
        clean_moment(moment, row, actor.workshop, at=at),
        clean_text(reason, field="reason", what="The reason", longest=400),
    )
    return _entered(actor, [posting], at=at, source=source)[0]


def _entered(actor: Actor, postings: list[Posting], *, at: datetime, source: str) -> list[Movement]:
    counts = counts_of(actor.workshop, [one.lot for one in postings])
    rows, _again = enter(actor=actor, postings=postings, counts=counts, at=at, source=source)
    return rows


@transaction.atomic
def use(
    *, actor: Actor, lot: Lot, amount: Decimal, moment: datetime, at: datetime, reason: str = "", source: str = PAGE
) -> Used:
    """Book what was used of *lot*; more than is booked counts the rest in first, "found at the pour".

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
    booked, counts = row.on_hand, counts_of(actor.workshop, [row])
    postings = [Posting(row, Movement.Kind.USE, -grams_or_pieces, moment, reason)]
    was_counted = count_after(counts.get(row.pk, ()), moment, written_at=at) is not None
    if grams_or_pieces > booked and not was_counted:
        postings.insert(0, Posting(row, Movement.Kind.COUNT, grams_or_pieces - booked, moment, FOUND))
    (*found, movement), _again = enter(actor=actor, postings=postings, counts=counts, at=at, source=source)
    if not found:
        return Used(movement, None, irregular)
    count = _write_count(
        actor, row, counted=grams_or_pieces, expected=booked, reason=FOUND, movement=found[0], for_use=movement, at=at
    )
    return Used(movement, count, irregular)


def _write_count(
    actor: Actor,
    lot: Lot,
    *,
    counted: Decimal,
    expected: Decimal,
    reason: str,
    at: datetime,
    movement: Movement | None = None,
    for_use: Movement | None = None,
    moment: datetime | None = None,
) -> Count:
    return Count.unscoped.create(
        workshop=actor.workshop,
        lot=lot,
        counted=counted,
        expected=expected,
        moment=movement.moment if movement else moment,
        reason=reason,
        movement=movement,
        for_use=for_use,
        written_at=at,
        **actor.signature,
    )


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
    return _entered(actor, [posting], at=at, source=source)[0]


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
    return _entered(actor, [posting], at=at, source=source)[0]


@transaction.atomic
def count(
    *, actor: Actor, lot: Lot, counted: Decimal, moment: datetime, at: datetime, reason: str = "", source: str = PAGE
) -> Counted:
    """Book what a person found of *lot* at *moment*; a difference is corrected and wants a reason.

    What was booked after that moment is left out of what is expected, so a count may be entered late;
    a later count that stands already says what is on hand.
    """
    row = lock_lot(workshop=actor.workshop, lot=lot)
    found = clean_amount(counted, row.material, field="counted", what="The count", zero=True)
    moment = clean_moment(moment, row, actor.workshop, at=at)
    later = Movement.objects.within(actor.workshop).filter(lot=row, moment__gt=moment).total()
    expected = row.on_hand - later
    if found == expected:
        said = clean_text(reason, field="reason", what="The reason", longest=400)
        return Counted(_write_count(actor, row, counted=found, expected=expected, reason=said, at=at, moment=moment), None)
    booked, unit = show_amount(expected, row.material, actor.workshop.unit), actor.workshop.unit
    why = clean_reason(reason, ask=f"{booked} are booked and {show_amount(found, row.material, unit)} counted: say why.")
    counts = counts_of(actor.workshop, [row])
    posting = Posting(row, Movement.Kind.COUNT, found - expected, moment, why)
    if row.on_hand + posting.amount < 0 and not restated([posting], counts, at=at):
        raise Conflict(
            "count_overtaken",
            f"{row}: more has been used since that count than it leaves. Count the lot again as it stands now.",
            field="counted",
        )
    (moved,), _again = enter(actor=actor, postings=[posting], counts=counts, at=at, source=source)
    return Counted(_write_count(actor, row, counted=found, expected=expected, reason=why, movement=moved, at=at), moved)


@transaction.atomic
def reverse(*, actor: Actor, movement: Movement, reason: str, at: datetime, source: str = PAGE) -> Movement:
    """Take back a movement that never happened, as of its own moment; return the reversal.

    With a use goes what was found at the pour for it, and with a count what was held against it since.
    What a later count found stays on hand. Refused: a reversal itself, a movement that was taken back
    already, one that follows from a count, and one whose amount has been used since.
    """
    lot = lock_lot(workshop=actor.workshop, lot=movement.lot)
    row = Movement.objects.within(actor.workshop).with_corrections().get(pk=movement.pk)
    _check_reversible(row)
    why = clean_reason(reason, ask="Say why it is taken back.")
    gone = [row, *_goes_with(row)]
    postings = [Posting(lot, Movement.Kind.REVERSAL, -one.amount, one.moment, why, one) for one in gone]
    counts = {lot.pk: [one for one in counts_of(actor.workshop, [lot]).get(lot.pk, []) if one.movement_id != row.pk]}
    left = lot.on_hand + sum(one.amount for one in postings) - sum(one.change for one in restated(postings, counts, at=at))
    if left < 0:
        unit = actor.workshop.unit
        raise Conflict(
            "used_since",
            f"{lot} holds {show_amount(lot.on_hand, lot.material, unit)}, less than the "
            f"{show_amount(lot.on_hand - left, lot.material, unit)} to take back: take back first what was used of it.",
            field="movement",
        )
    reversals, _again = enter(actor=actor, postings=postings, counts=counts, at=at, source=source)
    logger.info("movement taken back: workshop=%s lot=%s movement=%s", actor.workshop.pk, lot.pk, row.pk)
    return reversals[0]


def _check_reversible(row: Movement) -> None:
    if row.kind == Movement.Kind.REVERSAL:
        raise Conflict("is_reversal", "This row takes another one back: enter the movement anew instead.", field="movement")
    if hasattr(row, "corrected_by"):
        raise Conflict("reversed", "This movement was taken back already.", field="movement")
    if hasattr(row, "count_of") and row.count_of.restates_id is not None:
        raise Conflict(
            "follows_count",
            "This row follows from a count: take back the count, or what was entered late before it.",
            field="movement",
        )


def _goes_with(row: Movement) -> list[Movement]:
    """Return what is taken back with a movement: what was found for a use, what restates a count."""
    if hasattr(row, "count_of"):
        return list(Movement.objects.within(row.workshop).filter(count_of__restates=row.count_of).in_force())
    found = row.found.movement if hasattr(row, "found") else None
    return [] if found is None or hasattr(found, "corrected_by") else [found]
