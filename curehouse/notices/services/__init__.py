"""The only writers of notices, deliveries and subscriptions."""

from curehouse.notices.services.delivering import begin_attempt, end_attempt, revive_without_mail
from curehouse.notices.services.telling import (
    bring_back,
    close,
    end_episode,
    restate,
    see_to,
    see_to_all,
    subscribe,
    tell,
    tell_morning,
    withdraw,
)

__all__ = [
    "begin_attempt",
    "bring_back",
    "close",
    "end_attempt",
    "end_episode",
    "restate",
    "revive_without_mail",
    "see_to",
    "see_to_all",
    "subscribe",
    "tell",
    "tell_morning",
    "withdraw",
]
