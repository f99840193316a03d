"""Set up mail: try it for real, keep it if the test went out, and send what waited for it."""

import secrets
from dataclasses import dataclass
from datetime import datetime

from curehouse.notices.channels.email import send_letter
from curehouse.notices.channels.mailbox import check_address, keep_mailbox, make_mailbox
from curehouse.notices.channels.outcome import End, Outcome
from curehouse.notices.letters import Letter
from curehouse.notices.services import revive_without_mail


@dataclass(frozen=True, slots=True)
class MailSetUp:
    """What came of it: the test's outcome, whether it was kept, how many notices go out now."""

    outcome: Outcome
    is_kept: bool
    revived: int
    has_readable_password: bool


def set_up_mail(*, url: str, sender: str, to: str, keep_anyway: bool, at: datetime) -> MailSetUp:
    """Send a test to *to* and keep the set-up if it went out, or anyway."""
    mailbox = make_mailbox(url=url, sender=sender)
    check_address(to, field="to", what="The address for the test")
    outcome = send_letter(mailbox, _test_letter(to), at=at)
    is_kept = outcome.end is End.SENT or keep_anyway
    revived = 0
    if is_kept:
        keep_mailbox(url=url, sender=mailbox.sender)
        revived = revive_without_mail(at=at)
    return MailSetUp(outcome, is_kept, revived, mailbox.server.has_readable_password)


def _test_letter(to: str) -> Letter:
    return Letter(
        ident=secrets.token_hex(16),
        recipient=to,
        sender_name="Curehouse",
        subject="Curehouse can send you mail",
        text="This is the test. From now on, notices of your workshop come to you by e-mail.\n",
    )
