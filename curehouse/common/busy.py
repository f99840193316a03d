"""Whether an error means that the database was too busy to write, and how the house says so."""

import sqlite3

import psycopg

from curehouse.common.errors import DomainError, TooMany
from curehouse.common.full_disk import NoRoom, no_room

RETRY_AFTER_SECONDS = 5
_PRIMARY_CODE = 0xFF
_WAITED_IN_VAIN = (
    psycopg.errors.LockNotAvailable,
    psycopg.errors.DeadlockDetected,
    psycopg.errors.SerializationFailure,
    psycopg.errors.QueryCanceled,
)


class Busy(DomainError):
    """Others were writing for so long that nothing of a request could be kept."""

    status = 503

    def __init__(self) -> None:
        super().__init__(
            "busy", "The house is busy writing, so this was not kept: send it again in a few seconds, it is then done once."
        )


def busy(error: BaseException) -> Busy | None:
    """Return what to say if *error* was caused by waiting in vain for others to finish writing, or None."""
    one: BaseException | None = error
    while one is not None:
        locked = isinstance(one, sqlite3.Error) and (getattr(one, "sqlite_errorcode", 0) & _PRIMARY_CODE) in (
            sqlite3.SQLITE_BUSY,
            sqlite3.SQLITE_LOCKED,
        )
        if locked or isinstance(one, _WAITED_IN_VAIN):
            return Busy()
        one = one.__cause__ or one.__context__
    return None


def not_kept(error: BaseException) -> NoRoom | Busy | None:
    """Return what to say if it is neither our mistake nor the user's that nothing was kept, or None."""
    return no_room(error) or busy(error)


def waiting_headers(error: DomainError) -> dict[str, str]:
    """Return the headers that say when to send a request again (RFC 9110, section 10.2.3)."""
    if isinstance(error, TooMany):
        return {"Retry-After": str(error.data["wait_seconds"])}
    return {"Retry-After": str(RETRY_AFTER_SECONDS)} if isinstance(error, Busy) else {}
