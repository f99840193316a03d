"""How an attempt to send ended."""

from dataclasses import dataclass
from enum import StrEnum


class End(StrEnum):
    """The four ways an attempt can end."""

    SENT = "sent"
    TRY_AGAIN = "try_again"
    REFUSED = "refused"
    UNSURE = "unsure"


@dataclass(frozen=True, slots=True)
class Outcome:
    """An end, with the reason in words and what a person can do about it.

    ``is_for_all``: what failed was the server, the way to it or the set-up, not this one letter.
    """

    end: End
    reason: str = ""
    is_for_all: bool = False
