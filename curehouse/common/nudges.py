"""Telling the worker that something has become due.

The database is the truth: a nudge only makes it happen now instead of at the next tick. So a
broker that is down is logged and never fails the request that had the news.
"""

import logging
from functools import partial

from celery import current_app
from django.db import transaction
from kombu.exceptions import OperationalError

logger = logging.getLogger(__name__)


def nudge(task_name: str, *ids: int) -> None:
    """Send *task_name* with *ids* once the running transaction has committed."""
    transaction.on_commit(partial(_send, task_name, ids))


def _send(task_name: str, ids: tuple[int, ...]) -> None:
    try:
        current_app.send_task(task_name, args=ids, expires=600, retry=False)
    except (OperationalError, OSError):
        logger.warning("nudge lost, the tick will find it: task=%s ids=%s", task_name, ids)
