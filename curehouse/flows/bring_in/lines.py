"""The rows of a list, each a thing of its own: read cell by cell, from the file alone."""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from curehouse.common.errors import Invalid
from curehouse.common.tables import Cell, Row
from curehouse.flows.bring_in.cells import CellFault, Cells, decimal_shown
from curehouse.flows.bring_in.columns import Column
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


@dataclass(slots=True)
class LinesRead:
    """A list as the file has it; a row with a cell that cannot be taken is among the findings only."""

    lines: list[Line]
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
    lines = [Line(table, row) for row in table.rows()]
    shown = (cell for line in lines for cell in table.cells_of(line.row, figures))
    cells = Cells(work.options, work.options.decimal or decimal_shown(shown))
    whole = [line for line in lines if _is_read(line, cells, readers, needed)]
    return LinesRead(whole, findings, len(lines), cells)


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
