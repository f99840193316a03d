"""The one recipe for locking: once a transaction, in key order, before the check.

Rows are locked by ascending primary key, so two transactions that want the same rows wait for
each other instead of deadlocking. On SQLite every write transaction already holds the only
write lock (transaction_mode IMMEDIATE) and the call just reads.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from threading import Lock
from typing import TypeVar

from django.db import connection, models, transaction

from curehouse.common.steps import in_steps

Row = TypeVar("Row", bound=models.Model)

_under_way: set[str] = set()
_under_way_lock = Lock()


class Underway(Exception):
    """Another is at the same thing at this moment."""


def lock_rows(queryset: models.QuerySet[Row], keys: Iterable[int]) -> dict[int, Row]:
    """Lock the rows of *queryset* with these primary keys; return them fresh, by key.

    A key that is not in the queryset is missing from the answer. Raises
    ``TransactionManagementError`` outside a transaction.
    """
    wanted = sorted(set(keys))
    if not connection.in_atomic_block:
        raise transaction.TransactionManagementError("lock_rows needs a transaction.")
    locked: dict[int, Row] = {}
    for part in in_steps(wanted):
        rows = queryset.filter(pk__in=part).order_by("pk")
        if connection.features.has_select_for_update:
            # NO KEY: a row that merely points at a locked one does not wait; keys never change.
            rows = rows.select_for_update(of=("self",), no_key=True)
        locked |= {row.pk: row for row in rows}
    return locked


def lock_alone(purpose: str) -> None:
    """Let one transaction at a time past this point: for what has no row yet that could be locked."""
    if not connection.in_atomic_block:
        raise transaction.TransactionManagementError("lock_alone needs a transaction.")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtext(%s))", [purpose])


@contextmanager
def alone(purpose: str) -> Iterator[None]:
    """Open a transaction, or raise :class:`Underway` at once where another is in one for the same *purpose*.

    On SQLite that is known within this process, which is the one that serves requests there; from
    any other the caller waits for the one write lock, and then sees what was done.
    """
    if connection.vendor == "postgresql":
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_try_advisory_xact_lock(hashtextextended(%s, 0))", [purpose])
                if not cursor.fetchone()[0]:
                    raise Underway(purpose)
            yield
        return
    with _under_way_lock:
        if purpose in _under_way:
            raise Underway(purpose)
        _under_way.add(purpose)
    try:
        with transaction.atomic():
            yield
    finally:
        with _under_way_lock:
            _under_way.discard(purpose)
