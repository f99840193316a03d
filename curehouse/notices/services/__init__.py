"""The only writers of notices, deliveries and subscriptions."""

from curehouse.notices.services.delivering import begin_attempt, end_attempt, revive_without_mail
from curehouse.notices.services.telling import close, see_to, subscribe, tell, tell_morning, withdraw

__all__ = [
    "begin_attempt",
    "close",
    "end_attempt",
    "revive_without_mail",
    "see_to",
    "subscribe",
    "tell",
    "tell_morning",
    "withdraw",
]
