"""Which mail server this house uses now: EMAIL_URL, or what `manage.py mail_setup` has kept.

It is read whenever something is sent, so that a change needs no restart.
"""

import json
import os
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from curehouse.common.errors import Invalid
from curehouse.notices.channels.server import MailServer, mail_server

FILE_NAME = "mail.json"


@dataclass(frozen=True, slots=True)
class Mailbox:
    """A mail server and the address the house writes from (empty: the reader's own)."""

    server: MailServer
    sender: str


def mailbox_file() -> Path:
    """Return where the set-up is kept."""
    return Path(settings.DATA_FOLDER) / FILE_NAME


def mail_is_set_up() -> bool:
    """Return whether this house has a way to send mail (it may still fail)."""
    return bool(settings.EMAIL_URL) or mailbox_file().exists()


def current_mailbox() -> Mailbox | None:
    """Return the mailbox in use, or None; raises :class:`Invalid` if what was kept can't be read."""
    if settings.EMAIL_URL:
        return make_mailbox(url=settings.EMAIL_URL, sender=settings.EMAIL_FROM)
    try:
        kept = json.loads(mailbox_file().read_text(encoding="utf-8"))
        return make_mailbox(url=kept["url"], sender=kept["from"])
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise Invalid("mail_kept", "The mail set-up can't be read: run manage.py mail_setup again.") from error


def make_mailbox(*, url: str, sender: str) -> Mailbox:
    """Return the mailbox for *url*; without *sender* it is the sign-in name, if that is an address."""
    server = mail_server(url)
    if sender:
        check_address(sender, field="from", what="The sender's address")
    elif _is_address(server.user):
        sender = server.user
    return Mailbox(server=server, sender=sender)


def check_address(text: str, *, field: str, what: str) -> str:
    """Return *text* if it is a mail address."""
    if not _is_address(text):
        raise Invalid("email", f"{what} does not look complete: type it like ann@example.org.", field=field)
    return text


def keep_mailbox(*, url: str, sender: str) -> None:
    """Keep a set-up in the data folder, readable by its owner only and never half-written."""
    draft = mailbox_file().with_name(f"{FILE_NAME}.{os.getpid()}")
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        json.dump({"url": url, "from": sender}, file)
        file.flush()
        os.fsync(file.fileno())
    draft.replace(mailbox_file())


def forget_mailbox() -> bool:
    """Remove the kept set-up; return whether there was one."""
    was_kept = mailbox_file().exists()
    mailbox_file().unlink(missing_ok=True)
    return was_kept


def _is_address(text: str) -> bool:
    try:
        validate_email(text)
    except ValidationError:
        return False
    return True
