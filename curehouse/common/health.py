"""Whether this process can do its work; asked by the supervisor, containers and people."""

import logging
from pathlib import Path

from django.db import Error, connection
from django.http import HttpRequest, JsonResponse

logger = logging.getLogger(__name__)


class DatabaseFile:
    """The file of a database that is open, which may be taken away under it.

    SQLite goes on writing into a file without a name, and answers; what it writes is lost with the
    last process that has it open.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._known = self._identity()

    def fault(self) -> str | None:
        """Return what became of the file since it was first seen, or None."""
        try:
            found = self._identity()
        except (FileNotFoundError, NotADirectoryError):
            return "was taken away"
        except OSError:
            return None  # a disk that stumbles says so where it is read and written
        return None if found == self._known else "was replaced by another file"

    def _identity(self) -> tuple[int, int]:
        found = self.path.stat()
        return found.st_dev, found.st_ino


_seen: dict[Path, DatabaseFile] = {}


def database_file() -> DatabaseFile | None:
    """Return the file this process's database is in, as it was when first asked for; None elsewhere."""
    if connection.vendor != "sqlite" or connection.is_in_memory_db():
        return None
    path = Path(connection.settings_dict["NAME"])
    if path not in _seen:
        _seen[path] = DatabaseFile(path)
    return _seen[path]


def _file_fault() -> str | None:
    try:
        file = database_file()
    except OSError as error:
        return f"can't be seen ({error.strerror})"
    return None if file is None else file.fault()


def database_answers() -> bool:
    """Whether the database answers a question right now, and what it answers from is still there."""
    fault = _file_fault()
    if fault is not None:
        logger.error("the file of the database %s", fault)
        return False
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            return bool(cursor.fetchone())
    except Error:
        logger.exception("the database does not answer")
        return False


def healthz(request: HttpRequest) -> JsonResponse:
    """Answer 200 if the database answers and 503 if not; says nothing else about the house."""
    well = database_answers()
    answer = JsonResponse(
        {"status": "ok" if well else "failing", "database": "ok" if well else "failing"},
        status=200 if well else 503,
    )
    answer["Cache-Control"] = "no-store"
    return answer
