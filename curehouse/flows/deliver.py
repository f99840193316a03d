"""Deliver one notice to one person: claim, look again, send outside any transaction, note the end."""

from datetime import datetime

from curehouse.common.errors import Invalid
from curehouse.notices.channels.email import send_letter
from curehouse.notices.channels.mailbox import current_mailbox, mail_is_set_up
from curehouse.notices.channels.outcome import End, Outcome
from curehouse.notices.letters import Letter, write_letter
from curehouse.notices.models import Delivery
from curehouse.notices.services import begin_attempt, end_attempt


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
        return Outcome(End.TRY_AGAIN, error.message)
    if mailbox is None:
        return Outcome(End.TRY_AGAIN, "The mail set-up was taken away a moment ago.")
    return send_letter(mailbox, letter, at=at)
