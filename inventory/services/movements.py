"""What comes to a lot and leaves it: the verbs of the ledger.

Recording never blocks what happened: a use of more than is booked counts the rest in first, and a
lot that is not in order is used all the same, with a reason.
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
from inventory.services.posting import lock_lot, post

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
    return post(
        actor=actor,
        lot=row,
        kind=Movement.Kind.RECEIVE,
        amount=clean_amount(amount, row.material),
        moment=clean_moment(moment, row, actor.workshop, at=at),
        at=at,
        source=source,
        reason=clean_text(reason, field="reason", what="The reason", longest=400),
    )


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
    booked, found = row.on_hand, None
    if grams_or_pieces > booked:
        found = post(
            actor=actor, lot=row, kind=Movement.Kind.COUNT, amount=grams_or_pieces - booked, moment=moment, at=at,
            source=source, reason=FOUND,
        )  # fmt: skip
    movement = post(
        actor=actor, lot=row, kind=Movement.Kind.USE, amount=-grams_or_pieces, moment=moment, at=at,
        source=source, reason=reason,
    )  # fmt: skip
    count = None
    if found is not None:
        count = _write_count(
            actor, row, counted=grams_or_pieces, expected=booked, reason=FOUND, movement=found, for_use=movement, at=at
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
    return post(
        actor=actor,
        lot=row,
        kind=Movement.Kind.WRITE_OFF,
        amount=-clean_amount(amount, row.material),
        moment=clean_moment(moment, row, actor.workshop, at=at),
        at=at,
        source=source,
        reason=clean_reason(reason, ask="Say why it is written off: spilt, rancid, expired…"),
    )


@transaction.atomic
def give_back(
    *, actor: Actor, lot: Lot, amount: Decimal, reason: str, moment: datetime, at: datetime, source: str = PAGE
) -> Movement:
    """Book what went back to the supplier, and why."""
    row = lock_lot(workshop=actor.workshop, lot=lot)
    return post(
        actor=actor,
        lot=row,
        kind=Movement.Kind.GIVE_BACK,
        amount=-clean_amount(amount, row.material),
        moment=clean_moment(moment, row, actor.workshop, at=at),
        at=at,
        source=source,
        reason=clean_reason(reason, ask="Say why it goes back to the supplier."),
    )


@transaction.atomic
def count(
    *, actor: Actor, lot: Lot, counted: Decimal, moment: datetime, at: datetime, reason: str = "", source: str = PAGE
) -> Counted:
    """Book what a person found of *lot* at *moment*; a difference is corrected and wants a reason.

    What was booked after that moment is left out of what is expected, so a count may be entered late.
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
    if row.on_hand + found - expected < 0:
        raise Conflict(
            "count_overtaken",
            f"{row}: more has been used since that count than it leaves. Count the lot again as it stands now.",
            field="counted",
        )
    moved = post(
        actor=actor, lot=row, kind=Movement.Kind.COUNT, amount=found - expected, moment=moment, at=at,
        source=source, reason=why,
    )  # fmt: skip
    return Counted(_write_count(actor, row, counted=found, expected=expected, reason=why, movement=moved, at=at), moved)


@transaction.atomic
def reverse(*, actor: Actor, movement: Movement, reason: str, at: datetime, source: str = PAGE) -> Movement:
    """Take back a movement that never happened, as of its own moment; return the reversal.

    With a use goes what was found at the pour for it. Refused: a reversal itself, a movement that was
    taken back already, and one whose amount has been used since.
    """
    lot = lock_lot(workshop=actor.workshop, lot=movement.lot)
    row = Movement.objects.within(actor.workshop).with_corrections().get(pk=movement.pk)
    if row.kind == Movement.Kind.REVERSAL:
        raise Conflict("is_reversal", "This row takes another one back: enter the movement anew instead.", field="movement")
    if hasattr(row, "corrected_by"):
        raise Conflict("reversed", "This movement was taken back already.", field="movement")
    why = clean_reason(reason, ask="Say why it is taken back.")
    if lot.on_hand < row.amount:
        unit = actor.workshop.unit
        raise Conflict(
            "used_since",
            f"{lot} holds {show_amount(lot.on_hand, lot.material, unit)}, less than the "
            f"{show_amount(row.amount, lot.material, unit)} to take back: take back first what was used of it.",
            field="movement",
        )
    reversal = _take_back(actor, lot, row, why, source, at)
    found = row.found.movement if hasattr(row, "found") else None
    if found is not None and not hasattr(found, "corrected_by"):
        _take_back(actor, lot, found, why, source, at)
    logger.info("movement taken back: workshop=%s lot=%s movement=%s", actor.workshop.pk, lot.pk, row.pk)
    return reversal


def _take_back(actor: Actor, lot: Lot, movement: Movement, why: str, source: str, at: datetime) -> Movement:
    return post(
        actor=actor, lot=lot, kind=Movement.Kind.REVERSAL, amount=-movement.amount, moment=movement.moment, at=at,
        source=source, reason=why, corrects=movement,
    )  # fmt: skip
