"""Mail by SMTP, with one question answered exactly: can the other side have taken it?

Until the server has asked for the text (354) nothing can have been sent, and any fault means "try
again". From then on only its answer counts; if that does not come, the outcome is unsure.
"""

import re
import smtplib
import ssl
import time
from contextlib import closing
from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime

from django.core.mail.utils import DNS_NAME
from django.utils.encoding import punycode

from curehouse.notices.channels.faults import explain, refusal
from curehouse.notices.channels.mailbox import Mailbox
from curehouse.notices.channels.outcome import End, Outcome
from curehouse.notices.channels.server import MailServer, Security
from curehouse.notices.letters import Letter

# Together (20 s to begin, one step more, 25 s for the answer) well under the lease of a delivery.
STEP_SECONDS = 8.0
BEGIN_WITHIN_SECONDS = 20.0
ANSWER_SECONDS = 25.0


def send_letter(mailbox: Mailbox, letter: Letter, *, at: datetime) -> Outcome:
    """Hand *letter* to the mail server and return how that ended; raises nothing a network does."""
    sender = mailbox.sender or letter.recipient
    content = _compose(letter, sender=sender, at=at)
    begin_before = time.monotonic() + BEGIN_WITHIN_SECONDS
    is_handed_over = False
    try:
        with closing(_connect(mailbox.server)) as smtp:
            _sign_in(smtp, mailbox.server)
            refused = _announce(smtp, sender=_ascii(sender), recipient=_ascii(letter.recipient))
            if refused is not None:
                return refused
            if time.monotonic() > begin_before:
                raise TimeoutError
            is_handed_over = True
            return _hand_over(smtp, content)
    except OSError as error:  # smtplib's and ssl's errors are kinds of it
        if is_handed_over:
            return Outcome(End.UNSURE, "The connection broke before the mail server had answered.", is_for_all=True)
        return Outcome(End.TRY_AGAIN, explain(error, mailbox.server), is_for_all=True)


def _compose(letter: Letter, *, sender: str, at: datetime) -> bytes:
    message = EmailMessage(policy=SMTP)
    domain = _ascii(sender).rpartition("@")[2]
    message["From"] = Address(letter.sender_name, addr_spec=_ascii(sender))
    message["To"] = Address(addr_spec=_ascii(letter.recipient))
    message["Subject"] = letter.subject
    message["Date"] = format_datetime(at)
    message["Message-ID"] = f"<{letter.ident}@{domain}>"
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: no out-of-office answers to this
    message.set_content(letter.text, cte="quoted-printable")
    return message.as_bytes()


def _ascii(address: str) -> str:
    name, _, domain = address.rpartition("@")
    return f"{name}@{punycode(domain)}"


def _connect(server: MailServer) -> smtplib.SMTP:
    own_name = DNS_NAME.get_fqdn()
    if server.security is Security.TLS:
        context = ssl.create_default_context()
        return smtplib.SMTP_SSL(server.host, server.port, own_name, timeout=STEP_SECONDS, context=context)
    return smtplib.SMTP(server.host, server.port, own_name, timeout=STEP_SECONDS)


def _sign_in(smtp: smtplib.SMTP, server: MailServer) -> None:
    smtp.ehlo_or_helo_if_needed()
    if server.security is Security.STARTTLS:
        smtp.starttls(context=ssl.create_default_context())
        smtp.ehlo()
    if server.user:
        smtp.login(server.user, server.password)


def _announce(smtp: smtplib.SMTP, *, sender: str, recipient: str) -> Outcome | None:
    """Name sender and recipient and ask to begin; return the refusal, if the server says no."""
    for step, ask in (
        ("the sender", lambda: smtp.mail(sender)),
        ("the recipient", lambda: smtp.rcpt(recipient)),
        ("the message", lambda: smtp.docmd("DATA")),
    ):
        code, answer = ask()
        if not (200 <= code < 300 or code == 354):
            return refusal(step, code, answer)
    return None


def _hand_over(smtp: smtplib.SMTP, content: bytes) -> Outcome:
    if smtp.sock is not None:
        smtp.sock.settimeout(ANSWER_SECONDS)
    # A line that is a lone dot ends the message (RFC 5321, 4.5.2), so leading dots are doubled.
    smtp.send(re.sub(rb"(?m)^\.", b"..", content).removesuffix(b"\r\n") + b"\r\n.\r\n")
    code, answer = smtp.getreply()
    return Outcome(End.SENT) if code == 250 else refusal("the message", code, answer)
