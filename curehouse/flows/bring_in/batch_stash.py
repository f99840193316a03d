"""The rows of a cure log, laid aside on disk by their batch: a long file takes no more memory than a short one."""

import sqlite3
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import lru_cache
from typing import NamedTuple

from curehouse.common.tables import Row
from curehouse.flows.bring_in.laid_aside import ROWS_AT_ONCE, nameless_file, packed, room_or_words, unpacked

_MARKS_REMEMBERED = 1_000
_TABLES = """
    CREATE TABLE batch (id INTEGER PRIMARY KEY, mark TEXT NOT NULL UNIQUE, cut_at TEXT);
    CREATE TABLE line (
        batch INTEGER, place INTEGER, beside INTEGER, number INTEGER, cells BLOB, PRIMARY KEY (batch, place)
    ) WITHOUT ROWID;
"""
_ROWS_OF_EACH = "SELECT batch.id, count(*) FROM batch JOIN line ON line.batch = batch.id"
_Line = tuple[int, int, int, int, bytes]


def _finder(file: sqlite3.Connection) -> Callable[[str], int]:
    """Return what finds a batch by its mark, and writes it where it is new; the last ones are remembered."""

    @lru_cache(_MARKS_REMEMBERED)
    def batch_of(mark: str) -> int:
        file.execute("INSERT OR IGNORE INTO batch (mark) VALUES (?)", (mark,))
        return int(file.execute("SELECT id FROM batch WHERE mark = ?", (mark,)).fetchone()[0])

    return batch_of


class Laid(NamedTuple):
    """A row that was laid aside, and whether it stands in the second table."""

    row: Row
    is_beside: bool


class Stash:
    """Rows by batch, in a nameless file that goes with the object."""

    def __init__(self) -> None:
        self._file = nameless_file(self, _TABLES)
        self._batch_of = _finder(self._file)
        self._waiting: list[_Line] = []
        self._at_once = ROWS_AT_ONCE
        self.rows = 0

    def lay(self, mark: str, row: Row, *, is_beside: bool) -> None:
        """Lay a row aside with the others of the batch that has this mark."""
        cells = packed(row.cells)
        with room_or_words():
            batch = self._batch_of(mark.casefold())
        self._waiting.append((batch, self.rows, int(is_beside), row.number, cells))
        self.rows += 1
        if len(self._waiting) >= self._at_once:
            self._write()

    def _write(self) -> None:
        with room_or_words():
            self._file.execute("BEGIN")
            self._file.executemany("INSERT INTO line VALUES (?, ?, ?, ?, ?)", self._waiting)
            self._file.execute("COMMIT")
        self._waiting.clear()

    def note_cut(self, mark: str, cut_at: datetime) -> None:
        """Note when a batch was cut: it is then among those :meth:`by_cut`."""
        moment = cut_at.astimezone(UTC).isoformat()
        with room_or_words():
            self._file.execute("UPDATE batch SET cut_at = ? WHERE mark = ?", (moment, mark.casefold()))

    def by_appearance(self) -> Iterator[list[list[Laid]]]:
        """Yield the rows of some batches at a time, each batch's in the order of the file, the first named first."""
        return self._parts(f"{_ROWS_OF_EACH} GROUP BY batch.id ORDER BY batch.id")

    def by_cut(self) -> Iterator[list[list[Laid]]]:
        """Yield the same of the batches whose cut was noted, the first cut first."""
        return self._parts(f"{_ROWS_OF_EACH} WHERE cut_at IS NOT NULL GROUP BY batch.id ORDER BY cut_at, batch.id")

    def _parts(self, asked: str) -> Iterator[list[list[Laid]]]:
        self._write()
        part: list[int] = []
        rows = 0
        for batch, count in self._file.execute(asked):
            part.append(batch)
            rows += count
            if rows >= self._at_once:
                yield [self._rows_of(one) for one in part]
                part, rows = [], 0
        if part:
            yield [self._rows_of(one) for one in part]

    def _rows_of(self, batch: int) -> list[Laid]:
        asked = "SELECT beside, number, cells FROM line WHERE batch = ? ORDER BY place"
        return [
            Laid(Row(number, unpacked(cells)), bool(beside)) for beside, number, cells in self._file.execute(asked, (batch,))
        ]
