"""Is the folder's database whole? Asked of SQLite itself before anything writes to it."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from curehouse.commands.house.refusal import Refused

DATABASE = "curehouse.sqlite3"


def check_sound(folder: Path) -> None:
    """Raise Refused if *folder* holds a database that SQLite can't read from end to end."""
    path = folder / DATABASE
    if os.environ.get("DATABASE_URL") or not path.exists():
        return
    fault = fault_in(path)
    if fault is not None:
        raise Refused(
            f"the database {path} is damaged ({fault}); keep a copy of the folder and restore a"
            " backup into an empty one: start --data NEW --restore FILE."
        )


def fault_in(path: Path, *, thorough: bool = False) -> str | None:
    """Return what SQLite finds wrong with the database at *path*, or None.

    *thorough* also compares every index with its table, which takes longer on a big one.
    """
    pragma = "integrity_check" if thorough else "quick_check"
    try:
        with closing(sqlite3.connect(path, timeout=20)) as connection:
            verdict = str(connection.execute(f"PRAGMA {pragma}(1)").fetchone()[0])
    except sqlite3.DatabaseError as error:
        verdict = str(error)
    return None if verdict == "ok" else " ".join(verdict.split())
