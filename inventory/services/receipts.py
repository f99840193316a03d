"""The day of receipt of a lot, entered wrongly: its receipt is taken back and booked anew as of the right day."""

from datetime import date, datetime, time

from curehouse.common.errors import Invalid
from curehouse.common.time import local_day, local_moment
from curehouse.workshops.actors import Actor
from inventory.models import Count, Lot, Movement
from inventory.services.posting import Posting, post_many
from inventory.services.recounts import write_listed, write_restating

_Kind = Movement.Kind


def _receipt_of(actor: Actor, lot: Lot) -> Movement | None:
    """Return the receipt that is dated by the lot's day of receipt, or None where it was taken back."""
    receipts = Movement.objects.within(actor.workshop).filter(lot=lot, kind=_Kind.RECEIVE).in_force()
    zone = actor.workshop.time_zone
    return next((row for row in receipts.in_order() if local_day(row.moment, zone) == lot.received_on), None)


def _check_first(actor: Actor, lot: Lot, receipt: Movement | None, day: date) -> None:
    rows = Movement.objects.within(actor.workshop).filter(lot=lot).in_force().exclude(pk=receipt and receipt.pk)
    counts = Count.objects.within(actor.workshop).filter(lot=lot).standing()
    moments = [one.moment for one in (rows.in_order().first(), counts.first()) if one is not None]
    first = min((local_day(moment, actor.workshop.time_zone) for moment in moments), default=day)
    if day > first:
        said = f"{lot} was here on {first} already, when it was used or counted: its day of receipt is not later."
        raise Invalid("after_first_movement", said, field="received_on")


def move_receipt(*, actor: Actor, lot: Lot, day: date, why: str, at: datetime) -> None:
    """Book the receipt of a locked lot anew as of *day*; what a stock list said goes with it, and what it took up."""
    receipt = _receipt_of(actor, lot)
    _check_first(actor, lot, receipt, day)
    if receipt is None:
        return
    listed = receipt.count_of if hasattr(receipt, "count_of") else None
    restating = Movement.objects.within(actor.workshop).filter(count_of__restates=listed).in_force()
    taken_up = [] if listed is None else list(restating)
    old = [receipt, *taken_up]
    postings = [Posting(lot, _Kind.REVERSAL, -one.amount, one.moment, why, one) for one in old]
    moment = local_moment(day, time.min, actor.workshop.time_zone)
    postings.append(Posting(lot, _Kind.RECEIVE, receipt.amount, moment, receipt.reason))
    postings += [Posting(lot, _Kind.COUNT, one.amount, one.moment, one.reason) for one in taken_up]
    rows = post_many(actor=actor, postings=postings, at=at, source=receipt.source)[len(old) :]
    if listed is not None:
        (again,) = write_listed(actor=actor, receipts=rows[:1], listed_at=listed.moment, at=at)
        write_restating(actor=actor, counts=[again] * len(taken_up), corrections=rows[1:], at=at)
