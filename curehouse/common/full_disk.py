"""Whether an error means that there is no room left, and how the house says so."""

import errno
import shutil
import sqlite3

import psycopg
from django.conf import settings

from curehouse.common.errors import DomainError

_NO_ROOM = {errno.ENOSPC, errno.EDQUOT}
# With so little left SQLite may fail on one of its helper files and not say why.
_HARDLY_ANY_BYTES = 1 << 20
_PRIMARY_CODE = 0xFF


class NoRoom(DomainError):
    """The disk with the data is full, so nothing of a request could be kept."""

    status = 507

    def __init__(self) -> None:
        super().__init__(
            "no_room",
            "The disk of this house is full, so this was not kept: let somebody make room on it, then send it again.",
        )


def no_room(error: BaseException) -> NoRoom | None:
    """Return what to say if *error* was caused by a full disk, or None."""
    one: BaseException | None = error
    while one is not None:
        if _says_no_room(one):
            return NoRoom()
        one = one.__cause__ or one.__context__
    return None


def _says_no_room(error: BaseException) -> bool:
    if isinstance(error, OSError):
        return error.errno in _NO_ROOM
    if isinstance(error, sqlite3.Error):
        code = getattr(error, "sqlite_errorcode", 0) & _PRIMARY_CODE
        could_be = code in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN)
        return code == sqlite3.SQLITE_FULL or (could_be and _hardly_any_left())
    return isinstance(error, psycopg.errors.DiskFull)


def _hardly_any_left() -> bool:
    try:
        return shutil.disk_usage(settings.DATA_FOLDER).free < _HARDLY_ANY_BYTES
    except OSError:
        return False
