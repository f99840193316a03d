"""The rows of a list, each a thing of its own: read cell by cell, from the file alone."""

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from curehouse.common.errors import Invalid
from curehouse.common.tables import Cell, Row
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.figures import decimal_shown
from curehouse.flows.bring_in.laid_aside import Kept, Spool, in_parts
from curehouse.flows.bring_in.outcome import Findings
from curehouse.flows.bring_in.table import Table, open_table
from curehouse.flows.bring_in.work import Work

TWICE = "Some rows stand in the file twice; they count once."


@dataclass(slots=True)
class Line:
    """A row with what was read of it, by the key of the column."""

    table: Table
    row: Row
    facts: dict[str, Any] = field(default_factory=dict)

    def cell(self, key: str) -> Cell:
        """Return what stands under *key*."""
        return self.table.cell(self.row, key)

    def refuse(self, key: str, why: str) -> None:
        """Refuse the row because of what stands under *key*."""
        self.table.refuse(self.row, key, why)


Read = Callable[[Cells, Line], Any]


@dataclass(frozen=True, slots=True)
class Needed:
    """What is said where a column is not named, and where its cell is empty."""

    column: str
    cell: str


class Lines:
    """The lines of a table, laid aside; each time they are gone through they are made anew."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self._laid: Spool[tuple[int, Sequence[Cell], dict[str, Any]]] = Spool()

    def __len__(self) -> int:
        return len(self._laid)

    def lay(self, line: Line, *, by: str = "") -> None:
        """Lay a line aside; where *by* says so, they come sorted."""
        self._laid.add((line.row.number, line.row.cells, line.facts), by=by)

    def __iter__(self) -> Iterator[Line]:
        return (Line(self.table, Row(number, cells), facts) for number, cells, facts in self._laid)

    def parts(self) -> Iterator[list[Line]]:
        """Yield some at a time."""
        return in_parts(iter(self))

    def together(self, key: str) -> Iterator[list[Line]]:
        """Yield the lines that say the same word under *key*, each time those of one word: the first said first."""
        places: Kept[int] = Kept()
        arranged = Lines(self.table)
        for line in self:
            arranged.lay(line, by=f"{places.setdefault(line.facts[key].casefold(), len(places)):09}")
        for _word, lines in groupby(arranged, key=lambda line: line.facts[key].casefold()):
            yield list(lines)


@dataclass(slots=True)
class LinesRead:
    """A list as the file has it; a row with a cell that cannot be taken is among the findings only."""

    lines: Lines
    findings: Findings
    rows_read: int
    cells: Cells


def read_lines(
    work: Work,
    columns: Sequence[Column],
    readers: Mapping[str, Read],
    *,
    needed: Mapping[str, Needed],
    figures: Sequence[str] = (),
) -> LinesRead:
    """Read a list; *figures* are the columns by which the decimal mark is known."""
    findings = Findings()
    work.progress("reading", 0, 1)
    table = open_table(work.path, work.options.table, columns, findings, unless_said=work.options.unit)
    for key, words in needed.items():
        if not table.has(key):
            raise Invalid("columns", words.column, field="columns")
    # The decimal mark is known once every figure was seen: rows are laid aside on the way, and the file is read once.
    raw, whole = Lines(table), Lines(table)
    shown = decimal_shown(_figures_on_the_way(table, figures, raw))
    cells = Cells(work.options, work.options.decimal or shown)
    for line in raw:
        if _is_read(line, cells, readers, needed):
            whole.lay(line)
    return LinesRead(whole, findings, len(raw), cells)


def _figures_on_the_way(table: Table, figures: Sequence[str], raw: Lines) -> Iterator[Cell]:
    for row in table.rows():
        raw.lay(Line(table, row))
        yield from table.cells_of(row, figures)


def _is_read(line: Line, cells: Cells, readers: Mapping[str, Read], needed: Mapping[str, Needed]) -> bool:
    whole = True
    for key, read in readers.items():
        if line.cell(key) is None:
            if key in needed:
                line.refuse(key, needed[key].cell)
                whole = False
            continue
        try:
            line.facts[key] = read(cells, line)
        except CellFault as fault:
            line.refuse(key, str(fault))
            whole = False
    return whole


def text_of(key: str, *, longest: int = 120, many_lines: bool = False) -> Read:
    """Return what reads words."""
    return lambda cells, line: cells.text(line.cell(key), longest=longest, many_lines=many_lines)


def choice_of(key: str, words: Mapping[str, str], wrong: str) -> Read:
    """Return what reads one of *words* (in small letters) as what it stands for; *wrong* says what to type instead."""

    def read(cells: Cells, line: Line) -> str:
        word = cells.text(line.cell(key), longest=60).casefold()
        if word not in words:
            raise CellFault(wrong)
        return words[word]

    return read


def row_key(*parts: str) -> str:
    """Return the key by which a row is known again."""
    return hashlib.sha256("\n".join(part.casefold() for part in parts).encode()).hexdigest()


def many(number: int, one: str) -> str:
    """Return how many there are of a thing: ``1 lot``, ``2 lots``."""
    return f"{number:,} {one}{'' if number == 1 else 's'}"
