"""Tables as XLSX, the open standard ECMA-376; what is packed is weighed before it is unpacked."""

import errno
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import BinaryIO, TypeVar
from xml.etree.ElementTree import ParseError

from defusedxml import DefusedXmlException
from openpyxl import load_workbook
from openpyxl.cell.read_only import EmptyCell, ReadOnlyCell
from openpyxl.utils.cell import range_boundaries
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.workbook import Workbook
from openpyxl.worksheet.formula import ArrayFormula, DataTableFormula

from curehouse.common.errors import Invalid
from curehouse.common.tables.cells import Cell, Row, Unreadable
from curehouse.common.tables.limits import (
    LAST_ROW,
    MOST_CHARACTERS,
    MOST_COLUMNS,
    MOST_PACKED_TO,
    MOST_PARTS,
    MOST_ROWS,
    MOST_SHEETS,
    MOST_UNPACKED_BYTES,
    too_many_columns,
    too_many_rows,
)
from curehouse.common.tables.number_formats import as_shown

_UNREADABLE = (
    zipfile.BadZipFile, InvalidFileException, ParseError, DefusedXmlException, zlib.error, struct.error,
    KeyError, IndexError, ValueError, TypeError, AttributeError, EOFError, OverflowError, NotImplementedError,
    RuntimeError, AssertionError,
)  # fmt: skip
_T = TypeVar("_T")
_NO_WORDS = ""
_UNPACKED_SMALL_BYTES = 2**20
# The standard knows no others; what else a packed folder may be packed with has faults of its own.
_PACKED_BY = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


def _damaged() -> Invalid:
    return Invalid(
        "not_a_table",
        "The spreadsheet cannot be read: open it in your spreadsheet program and save it anew as XLSX or CSV.",
        field="file",
    )


@contextmanager
def _damage_said() -> Iterator[None]:
    try:
        yield
    except _UNREADABLE as error:
        raise _damaged() from error
    except OSError as error:
        # No workbook in it (which has no number), or a part said to lie before the file's first byte.
        # Whatever else a disk says is not the file's fault.
        if error.errno not in (None, errno.EINVAL):
            raise
        raise _damaged() from error


def weigh(path: Path | BinaryIO) -> None:
    """Refuse a file, kept or at hand, that unpacks to more than a spreadsheet would.

    A part that says less than it holds is cut off at what it says, and found damaged.
    """
    with _damage_said(), zipfile.ZipFile(path) as packed:
        parts = packed.infolist()
    if any(part.flag_bits & 1 for part in parts):
        raise Invalid("locked", "The spreadsheet is locked with a password: save a copy without one.", field="file")
    if any(part.compress_type not in _PACKED_BY for part in parts):
        raise _damaged()
    unpacked = sum(part.file_size for part in parts)
    swells = any(
        part.file_size > _UNPACKED_SMALL_BYTES and part.file_size > MOST_PACKED_TO * max(part.compress_size, 1)
        for part in parts
    )
    if len(parts) > MOST_PARTS or unpacked > MOST_UNPACKED_BYTES or swells:
        raise Invalid(
            "too_large",
            "The spreadsheet unpacks to far more than a table holds: save only the sheet that is needed, as XLSX or CSV.",
            field="file",
        )


@contextmanager
def _opened(path: Path, *, values: bool) -> Iterator[Workbook]:
    # Opened here: by a path it would go by the ending of its name, and kept files have none.
    with path.open("rb") as file:
        with _damage_said():
            book = load_workbook(file, read_only=True, data_only=values, keep_links=False)
        try:
            yield book
        finally:
            book.close()


def sheets_of(path: Path) -> tuple[str, ...]:
    """Return the names of the sheets that hold rows, those that are shown first."""
    with _opened(path, values=True) as book, _damage_said():
        sheets = [sheet for sheet in book.worksheets[:MOST_SHEETS] if hasattr(sheet, "iter_rows")]
        shown = sorted(sheets, key=lambda sheet: sheet.sheet_state != "visible")
        return tuple(sheet.title for sheet in shown)


@dataclass(frozen=True, slots=True)
class _Formula:
    """A formula as it is written, and which columns (counted from 0) it fills down to which row."""

    text: str
    columns: range
    down_to: int


def _formula(cell: ReadOnlyCell | EmptyCell) -> _Formula | None:
    value = cell.value
    if isinstance(value, (ArrayFormula, DataTableFormula)):
        first, _top, last, bottom = range_boundaries(value.ref)
        return _Formula(str(getattr(value, "text", None) or "="), range(first - 1, min(last, MOST_COLUMNS)), int(bottom))
    return _Formula(value, range(0), 0) if isinstance(value, str) and value.startswith("=") else None


def has_formulas(path: Path, sheet: str) -> bool:
    """Return whether any cell of *sheet* is a formula."""
    return any(cell is not None for row in _raw(path, sheet, _formula, values=False) for cell in row)


def _raw(path: Path, sheet: str, made: Callable[[ReadOnlyCell | EmptyCell], _T], *, values: bool) -> Iterator[tuple[_T, ...]]:
    """Yield the rows of a sheet with what is *made* of each cell, in which a damaged file may be found out."""
    with _opened(path, values=values) as book, _damage_said():
        page = book[sheet]
        # What a sheet says of its own size may be anything.
        page.reset_dimensions()
        # A row may say that it is the thousand millionth: all before it would be made up and walked through.
        for number, cells in enumerate(page.iter_rows(), start=1):
            if number > LAST_ROW:
                raise _damaged()
            yield tuple(map(made, cells))


def xlsx_rows(path: Path, *, sheet: str, with_formulas: bool) -> Iterator[Row]:
    """Yield the rows that hold something; *with_formulas* looks for formulas whose result was not saved."""
    found = 0
    beside = _raw(path, sheet, _formula, values=False) if with_formulas else iter(())
    unsaved = _Unsaved()
    for number, whole in enumerate(_raw(path, sheet, _result if with_formulas else _cell, values=True), start=1):
        if len(whole) > MOST_COLUMNS and any(cell is not None for cell in whole[MOST_COLUMNS:]):
            raise too_many_columns()
        cells = whole[:MOST_COLUMNS]
        if with_formulas:
            cells = unsaved.marked(number, cells, next(beside, ()))
        if all(cell is None for cell in cells):
            continue
        found += 1
        if found > MOST_ROWS:
            raise too_many_rows()
        yield Row(number, cells)


class _Unsaved:
    """Finds the cells of formulas whose result was not saved; one formula may fill a range of cells."""

    def __init__(self) -> None:
        # By column: down to which row such a formula reaches.
        self._down_to: dict[int, int] = {}

    def marked(self, number: int, cells: Sequence[Cell], formulas: Sequence[_Formula | None]) -> tuple[Cell, ...]:
        """Return the cells of a row with those marked that lack their result."""
        found = {index: one.text for index, one in enumerate(formulas[:MOST_COLUMNS]) if one is not None}
        for one in formulas[:MOST_COLUMNS]:
            if one is not None:
                self._down_to |= {column: max(self._down_to.get(column, 0), one.down_to) for column in one.columns}
        found |= {index: found.get(index, "=") for index, row in self._down_to.items() if number <= row}
        marked = [*cells, *[None] * (max(found, default=-1) + 1 - len(cells))]
        for index, text in found.items():
            if marked[index] is None:
                why = "is a formula whose result was not saved: open the file in your spreadsheet program and save it"
                marked[index] = Unreadable(text[:80], why)
        return tuple(None if cell == _NO_WORDS else cell for cell in marked)


def _result(cell: ReadOnlyCell | EmptyCell) -> Cell:
    """Return the value of a cell; of a formula that came to no words, none: its result was saved."""
    return _NO_WORDS if cell.value is None and cell.data_type == "str" else _cell(cell)


def _cell(cell: ReadOnlyCell | EmptyCell) -> Cell:
    value = cell.value
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int):
        return as_shown(Decimal(value), cell.number_format)
    if isinstance(value, float):
        return as_shown(Decimal(repr(value)), cell.number_format)
    if isinstance(value, datetime):
        return value.date() if value.time() == time.min else value.replace(tzinfo=None)
    if isinstance(value, (date, str)):
        return _text(value) if isinstance(value, str) else value
    if isinstance(value, (time, timedelta)):
        return str(value)
    return Unreadable(str(value)[:80], "is no text, number or date: type it again")


def _text(value: str) -> Cell:
    text = value.strip()
    if len(text) > MOST_CHARACTERS:
        return Unreadable(f"{text[:40]}…", f"has {len(text):,} characters: keep it to {MOST_CHARACTERS:,}")
    if text.startswith("#") and text.endswith(("!", "?", "/0!", "N/A")) and " " not in text:
        return Unreadable(text, "is an error of the spreadsheet: mend its formula")
    return text or None
