"""The day of receipt of a lot, entered wrongly: its receipt is taken back and booked anew as of the right day."""

from datetime import date, datetime, time

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.time import local_day, local_moment
from curehouse.workshops.actors import Actor
from inventory.models import Count, Lot, Movement
from inventory.services.posting import Posting, write_rows
from inventory.services.recounts import write_listed
from inventory.services.settling import settle

_Kind = Movement.Kind


def _receipt_of(actor: Actor, lot: Lot) -> Movement | None:
    """Return the receipt by which the lot came, or None where it was taken back and nothing else of it came.

    It was told of with its lot; its day is not what finds it, for days begin elsewhere in another time zone.
    """
    receipts = Movement.objects.within(actor.workshop).filter(lot=lot, kind=_Kind.RECEIVE).in_force().in_order()
    first = receipts.filter(written_at=lot.written_at).first()
    if first is None and receipts.exists():
        said = (
            f"The receipt of {lot} was taken back, and more of it came later: its day of receipt stays. "
            "Take back what came later too, and write the lot anew as of the right day."
        )
        raise Conflict("receipt_taken_back", said, field="received_on")
    return first


def _check_first(actor: Actor, lot: Lot, receipt: Movement | None, day: date) -> None:
    rows = Movement.objects.within(actor.workshop).filter(lot=lot).in_force().exclude(pk=receipt and receipt.pk)
    counts = Count.objects.within(actor.workshop).filter(lot=lot).standing()
    moments = [one.moment for one in (rows.in_order().first(), counts.first()) if one is not None]
    first = min((local_day(moment, actor.workshop.time_zone) for moment in moments), default=day)
    if day > first:
        said = f"{lot} was here on {first} already, when it was used or counted: its day of receipt is not later."
        raise Invalid("after_first_movement", said, field="received_on")


def move_receipt(*, actor: Actor, lot: Lot, day: date, why: str, at: datetime) -> None:
    """Book the receipt of a locked lot anew as of *day*; what a stock list said goes with it.

    Both keep when the house was told of them: of one moment, what was told later is later.
    """
    receipt = _receipt_of(actor, lot)
    _check_first(actor, lot, receipt, day)
    if receipt is None:
        return
    listed = receipt.count_of if hasattr(receipt, "count_of") else None
    restating = Movement.objects.within(actor.workshop).filter(count_of__restates=listed).in_force()
    old = [receipt, *(() if listed is None else restating)]
    postings = [Posting(lot, _Kind.REVERSAL, -one.amount, one.moment, why, one) for one in old]
    moment = local_moment(day, time.min, actor.workshop.time_zone)
    postings.append(Posting(lot, _Kind.RECEIVE, receipt.amount, moment, receipt.reason, told_at=receipt.written_at))
    rows = write_rows(actor=actor, postings=postings, at=at, source=receipt.source)
    if listed is not None:
        write_listed(actor=actor, receipts=rows[-1:], listed_at=listed.moment, at=listed.written_at)
    settle(actor=actor, lots={lot.pk: lot}, told=rows, at=at, source=receipt.source)
