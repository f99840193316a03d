"""What a table is made of."""

import re
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import NamedTuple

from openpyxl.utils import get_column_letter

# OWASP, "CSV Injection": a cell that begins like this is run by spreadsheet programs, full-width forms too.
# A sign may as well begin a number, a telephone number or a list: then it is followed by no call.
_LIKE_FORMULA = re.compile(r"[=@\t\r\n＝＠]|[+\-＋－][^\s].*[(|!]", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A cell that holds no value: what is seen in it, and why it cannot be taken."""

    shown: str
    why: str

    def __str__(self) -> str:
        return self.shown


@dataclass(frozen=True, slots=True)
class Figure:
    """A number that its spreadsheet shows with words, as it is shown: ``5 kg``, ``$ 3.5``; 0.05 as ``5 %``.

    ``written`` is all of what is shown, zeros and dashes of a code included: ``L-0007``; empty where that is not known.
    """

    number: Decimal
    before: str = ""
    behind: str = ""
    written: str = ""

    def __str__(self) -> str:
        return self.written or " ".join(one for one in (self.before, f"{self.number.normalize():f}", self.behind) if one)


Cell = str | bool | Decimal | Figure | date | datetime | Unreadable | None


class Row(NamedTuple):
    """A row with its number as a spreadsheet shows it, counted from 1; its cells from column A."""

    number: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """How a file is read: its kind (``csv`` or ``xlsx``), where its header stands, what its columns are called.

    ``headers`` are distinct and none is empty, so that each column can be named on a screen.
    """

    kind: str
    header_row: int
    headers: tuple[str, ...]
    encoding: str = ""
    delimiter: str = ""
    sheet: str = ""
    sheets: tuple[str, ...] = ()
    has_formulas: bool = False
    # No row names the columns, and the first looks as if none did.
    begins_with_data: bool = False


def cell_name(row_number: int, column: int) -> str:
    """Return the name of a cell as spreadsheets give it; *column* is counted from 0: ``C17``."""
    return f"{get_column_letter(column + 1)}{row_number}"


def looks_like_formula(text: str) -> bool:
    """Return whether a spreadsheet would run *text*; a number with its sign and a dash before words are none."""
    return bool(_LIKE_FORMULA.match(text))


def distinct_headers(cells: tuple[Cell, ...], width: int) -> tuple[str, ...]:
    """Return a name for each of *width* columns: what stands in the header, numbered where it stands there twice."""
    names: list[str] = []
    for index in range(width):
        cell = cells[index] if index < len(cells) else None
        text = " ".join(str(cell).split()) if cell is not None else ""
        base = text[:120] or f"Column {get_column_letter(index + 1)}"
        name, again = base, 2
        while name in names:
            name, again = f"{base} ({again})", again + 1
        names.append(name)
    return tuple(names)
