"""Deliver one notice to one person: claim, look again, send outside any transaction, note the end.

A worker sends one letter at a time, so that a mail server that hangs never takes its last thread
from the verdicts. What finds the way taken stays due, and is nudged when the way is free.
"""

import threading
from datetime import datetime

from curehouse.common.errors import Invalid
from curehouse.notices.channels.email import send_letter
from curehouse.notices.channels.mailbox import current_mailbox, mail_is_set_up
from curehouse.notices.channels.outcome import End, Outcome
from curehouse.notices.letters import Letter, write_letter
from curehouse.notices.models import Delivery
from curehouse.notices.services import begin_attempt, end_attempt

_one_letter_at_a_time = threading.Lock()


def deliver_in_turn(*, workshop_id: int, delivery_id: int, at: datetime) -> bool:
    """Deliver unless a letter of this worker is on its way; return whether it was this one's turn."""
    if not _one_letter_at_a_time.acquire(blocking=False):
        return False
    try:
        deliver(workshop_id=workshop_id, delivery_id=delivery_id, at=at)
    finally:
        _one_letter_at_a_time.release()
    return True


def deliver(*, workshop_id: int, delivery_id: int, at: datetime) -> Delivery | None:
    """Try once; return the delivery as it stands after, or None where there was nothing to send."""
    delivery = begin_attempt(workshop_id=workshop_id, delivery_id=delivery_id, mail_is_set_up=mail_is_set_up(), at=at)
    if delivery is None:
        return None
    return end_attempt(delivery=delivery, outcome=_send(write_letter(delivery), at=at), at=at)


def _send(letter: Letter, *, at: datetime) -> Outcome:
    try:
        mailbox = current_mailbox()
    except Invalid as error:
        return Outcome(End.TRY_AGAIN, error.message, is_for_all=True)
    if mailbox is None:
        return Outcome(End.TRY_AGAIN, "The mail set-up was taken away a moment ago.", is_for_all=True)
    return send_letter(mailbox, letter, at=at)
