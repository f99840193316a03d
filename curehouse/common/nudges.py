"""Telling the worker that something has become due.

The database is the truth: a nudge only makes it happen now instead of at the next tick. So a
broker that is down is logged and never fails the request that had the news.
"""

import logging
from dataclasses import dataclass

from celery import current_app
from django.db import connection, transaction
from kombu.exceptions import OperationalError

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class _Nudge:
    task_name: str
    ids: tuple[int, ...]

    def __call__(self) -> None:
        try:
            current_app.send_task(self.task_name, args=self.ids, expires=600, retry=False)
        except (OperationalError, OSError):
            logger.warning("nudge lost, the tick will find it: task=%s ids=%s", self.task_name, self.ids)


def nudge(task_name: str, *ids: int) -> None:
    """Send *task_name* with *ids* once the running transaction has committed.

    Many weighings of one batch in one transaction are one piece of news.
    """
    call = _Nudge(task_name, ids)
    if not any(registered[1] == call for registered in connection.run_on_commit):
        transaction.on_commit(call)
