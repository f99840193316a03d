"""What a notice says when it leaves the house: plain sentences and a way back in."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.conf import settings
from django.utils.crypto import salted_hmac

from curehouse.common.time import day_words
from curehouse.notices.kinds import STOCK, Kind
from curehouse.notices.models import Delivery, Notice

LONGEST_TITLE = 200
MOST_STOCK_LINES = 10
_STOCK_ORDER = (Kind.RUN_AT_RISK, Kind.EXPIRED, Kind.EXPIRING)
# Half an address leads nowhere.
_NO_ADDRESS = "Open Curehouse where you always do: it stands on Today."
_SENTENCE_END = re.compile(r"(?<=[.!?])\s")


@dataclass(frozen=True, slots=True)
class Letter:
    """A notice as one person gets it; ``ident`` is the same whenever the same notice goes to them."""

    ident: str
    recipient: str
    sender_name: str
    subject: str
    text: str


def one_line(text: str) -> str:
    """Return *text* without line breaks and control characters: a name must not add a header."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def digest_title(*, workshop_name: str, day: date, notices: Sequence[Notice]) -> str:
    """Return the title of the morning digest; what the storeroom wants is one thing."""
    stock = _of_stock(notices)
    many = len(notices) - len(stock) + bool(stock)
    things = "one thing" if many == 1 else f"{many} things"
    return one_line(f"{workshop_name}, {day_words(day, today=day)}: {things} to see to")[:LONGEST_TITLE]


def digest_body(notices: Sequence[Notice]) -> str:
    """Return the titles of *notices*, each with its first sentence and where it leads; the storeroom's as one list."""
    stock = _of_stock(notices)
    parts = [_digest_lines(one) for one in notices if one not in stock]
    if stock:
        parts.append(_digest_lines(stock[0]) if len(stock) == 1 else _stock_lines(stock))
    return "\n\n".join("\n  ".join(lines) for lines in parts)


def _of_stock(notices: Sequence[Notice]) -> list[Notice]:
    return in_stock_order(one for one in notices if one.kind in STOCK)


def in_stock_order(notices: Iterable[Notice]) -> list[Notice]:
    """Return the storeroom's notices: runs that lack something, what has expired, what expires soon."""
    return sorted(notices, key=lambda one: (_STOCK_ORDER.index(one.kind), one.pk))


def _stock_lines(notices: Sequence[Notice]) -> list[str]:
    listed = [f"{one_line(one.title)}: {_first_sentence(one.body)}" for one in notices[:MOST_STOCK_LINES]]
    more = len(notices) - len(listed)
    rest = [f"and {more} more."] if more else []
    address = _address("/storeroom/")
    return [f"• The storeroom: {stock_words(notices)}", *listed, *rest, *([address] if address else [])]


def stock_words(notices: Iterable[Notice]) -> str:
    """Return how many runs lack something, lots have expired, and lots are to be used up."""
    many = Counter(one.kind for one in notices)
    counted = [
        _counted(many[Kind.RUN_AT_RISK], "run lacks something", "runs lack something"),
        _counted(many[Kind.EXPIRED], "lot has expired", "lots have expired"),
        _counted(many[Kind.EXPIRING], "lot to use up in time", "lots to use up in time"),
    ]
    return ", ".join(words for words in counted if words)


def _counted(many: int, one: str, several: str) -> str:
    return f"{many} {one if many == 1 else several}" if many else ""


def _digest_lines(notice: Notice) -> list[str]:
    address = _address(notice.path)
    return [f"• {one_line(notice.title)}", _first_sentence(notice.body), *([address] if address else [])]


def write_letter(delivery: Delivery) -> Letter:
    """Return the mail for *delivery*; notice, user and workshop are read from it."""
    notice, workshop = delivery.notice, one_line(delivery.workshop.name)
    if notice.kind == Kind.MORNING:
        says, foot = notice.body, "This is the morning's list; Today shows it as it stands now."
    else:
        says, foot = f"{notice.body}\n\n{_address(notice.path) or _NO_ADDRESS}", "The same stands on Today until it is seen to."
    return Letter(
        ident=_ident(delivery),
        recipient=delivery.user.email,
        sender_name=workshop,
        subject=one_line(notice.title),
        # A page ties figures to their units; in plain text that is for the reader's own window to do.
        text=f"{says}\n\n-- \nCurehouse, for {workshop}. {foot}\n".replace("\u00a0", " "),
    )


def _ident(delivery: Delivery) -> str:
    """Return what the Message-ID is made of.

    Keyed with the house's secret: two houses number their batches alike, and mail servers drop a
    second message with an id they have seen.
    """
    about = f"{delivery.workshop_id}|{delivery.notice.key}|{delivery.user_id}"
    return salted_hmac("curehouse.notices.letters", about, algorithm="sha256").hexdigest()[:32]


def _first_sentence(text: str) -> str:
    return one_line(_SENTENCE_END.split(text.strip(), maxsplit=1)[0])


def _address(path: str) -> str:
    """Return the whole address of *path*, or nothing where the house does not know its own."""
    return f"{settings.PUBLIC_URL.rstrip('/')}{path}" if settings.PUBLIC_URL else ""
