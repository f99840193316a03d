"""What a long file says, laid aside on disk: a long one takes no more memory than a short one.

Everything here lies in nameless files of SQLite, which go with their objects, and raises
:class:`NoRoom` where the disk of temporary files is full. What is unpacked was packed by the very
same object, so nothing foreign is ever unpacked.
"""

import pickle
import sqlite3
import weakref
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from typing import Any, Generic, TypeVar, cast

from curehouse.common.full_disk import no_room

T = TypeVar("T")
# So many rows are read, settled and written at a time.
ROWS_AT_ONCE = 1_000
# What a shorter file says is held: to lay it aside would cost more than it saves.
ROWS_HELD = 6_000
_AS_ADDED = "SELECT what FROM thing ORDER BY id"
_SORTED = "SELECT what FROM thing ORDER BY by, id"


@contextmanager
def room_or_words() -> Iterator[None]:
    """Say in words that there is no room left."""
    try:
        yield
    except sqlite3.Error as error:
        raise no_room(error) or error from error


def nameless_file(owner: object, tables: str) -> sqlite3.Connection:
    """Return a file with these tables that goes with its owner."""
    # Whichever thread lets go of the owner last closes the file.
    file = sqlite3.connect("", isolation_level=None, check_same_thread=False)
    weakref.finalize(owner, file.close)
    # Nothing here outlasts the process, so nothing need be safe from a power cut.
    file.executescript(f"PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; {tables}")
    return file


def packed(thing: object) -> bytes:
    """Return a thing as it is laid aside."""
    return pickle.dumps(thing, pickle.HIGHEST_PROTOCOL)


def unpacked(blob: bytes) -> Any:
    """Return what :func:`packed` made a thing into."""
    return pickle.loads(blob)  # noqa: S301


class Spool(Generic[T]):
    """Things in the order in which they were added, or sorted; read as often as wanted."""

    def __init__(self) -> None:
        self._held: list[tuple[str, T]] = []
        self._file: sqlite3.Connection | None = None
        self._asked = _AS_ADDED
        self._count = 0

    def __len__(self) -> int:
        return self._count

    def add(self, thing: T, *, by: str = "") -> None:
        """Add a thing; what is read comes sorted by *by*, and what has the same as it was added."""
        if by:
            self._asked = _SORTED
        self._held.append((by, thing))
        self._count += 1
        if self._count > ROWS_HELD and len(self._held) >= ROWS_AT_ONCE:
            self._lay_aside()

    def _lay_aside(self) -> None:
        rows = [(by, packed(thing)) for by, thing in self._held]
        with room_or_words():
            if self._file is None:
                self._file = nameless_file(self, "CREATE TABLE thing (id INTEGER PRIMARY KEY, by TEXT, what BLOB)")
            self._file.execute("BEGIN")
            self._file.executemany("INSERT INTO thing (by, what) VALUES (?, ?)", rows)
            self._file.execute("COMMIT")
        self._held.clear()

    def __iter__(self) -> Iterator[T]:
        if self._file is None:
            self._held.sort(key=lambda held: held[0])
            return (thing for _by, thing in self._held)
        if self._held:
            self._lay_aside()
        return self._read(self._file)

    def _read(self, file: sqlite3.Connection) -> Iterator[T]:
        with room_or_words():
            for (blob,) in file.execute(self._asked):
                yield unpacked(blob)

    def parts(self) -> Iterator[list[T]]:
        """Yield some at a time."""
        yield from in_parts(iter(self))


class Kept(Generic[T]):
    """A mapping from words to things, in the order in which its keys came."""

    def __init__(self) -> None:
        self._file = nameless_file(self, "CREATE TABLE thing (id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, what BLOB)")
        self._count = 0

    def __len__(self) -> int:
        return self._count

    def __getitem__(self, key: str) -> T:
        """Return what stands under *key*."""
        with room_or_words():
            row = self._file.execute("SELECT what FROM thing WHERE key = ?", (key,)).fetchone()
        if row is None:
            raise KeyError(key)
        return cast("T", unpacked(row[0]))

    def setdefault(self, key: str, thing: T) -> T:
        """Return what stands under *key*; *thing*, which is kept, where nothing did."""
        with room_or_words():
            added = self._file.execute("INSERT OR IGNORE INTO thing (key, what) VALUES (?, ?)", (key, packed(thing))).rowcount
        if added:
            self._count += 1
            return thing
        return self[key]

    def change(self, key: str, thing: T) -> None:
        """Put a thing in the place of what stands under *key*."""
        with room_or_words():
            self._file.execute("UPDATE thing SET what = ? WHERE key = ?", (packed(thing), key))

    def parts(self) -> Iterator[list[tuple[str, T]]]:
        """Yield keys with what stands under them, some at a time."""
        with room_or_words():
            rows = self._file.execute("SELECT key, what FROM thing ORDER BY id")
            yield from in_parts((key, unpacked(blob)) for key, blob in rows)


def in_parts(things: Iterator[T]) -> Iterator[list[T]]:
    """Yield things some at a time."""
    while part := list(islice(things, ROWS_AT_ONCE)):
        yield part
