"""Tables as XLSX, the open standard ECMA-376; what is packed is weighed before it is unpacked."""

import errno
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any, BinaryIO
from xml.etree.ElementTree import ParseError

from defusedxml import DefusedXmlException
from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.workbook import Workbook

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

_UNREADABLE = (
    zipfile.BadZipFile, InvalidFileException, ParseError, DefusedXmlException, zlib.error, struct.error,
    KeyError, IndexError, ValueError, TypeError, AttributeError, EOFError, OverflowError, NotImplementedError,
    RuntimeError, AssertionError,
)  # fmt: skip
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


def has_formulas(path: Path, sheet: str) -> bool:
    """Return whether any cell of *sheet* is a formula."""
    return any(isinstance(cell, str) and cell.startswith("=") for row in _raw(path, sheet, values=False) for cell in row)


def _raw(path: Path, sheet: str, *, values: bool) -> Iterator[tuple[Any, ...]]:
    with _opened(path, values=values) as book, _damage_said():
        page = book[sheet]
        # What a sheet says of its own size may be anything.
        page.reset_dimensions()
        # A row may say that it is the thousand millionth: all before it would be made up and walked through.
        for number, values in enumerate(page.iter_rows(values_only=True), start=1):
            if number > LAST_ROW:
                raise _damaged()
            yield values


def xlsx_rows(path: Path, *, sheet: str, with_formulas: bool) -> Iterator[Row]:
    """Yield the rows that hold something; *with_formulas* looks for formulas whose result was not saved."""
    found = 0
    beside: Iterator[tuple[Any, ...]] = _raw(path, sheet, values=False) if with_formulas else iter(())
    for number, values in enumerate(_raw(path, sheet, values=True), start=1):
        formulas = next(beside, ()) if with_formulas else ()
        if len(values) > MOST_COLUMNS and any(value is not None for value in values[MOST_COLUMNS:]):
            raise too_many_columns()
        cells = tuple(
            _cell(value, formulas[index] if index < len(formulas) else None)
            for index, value in enumerate(values[:MOST_COLUMNS])
        )
        if all(cell is None for cell in cells):
            continue
        found += 1
        if found > MOST_ROWS:
            raise too_many_rows()
        yield Row(number, cells)


def _cell(value: Any, formula: Any) -> Cell:
    if value is None:
        if isinstance(formula, str) and formula.startswith("="):
            why = "is a formula whose result was not saved: open the file in your spreadsheet program and save it"
            return Unreadable(formula[:80], why)
        return None
    if isinstance(value, bool):
        return value
    if isinstance(value, int):
        return Decimal(value)
    if isinstance(value, float):
        return Decimal(repr(value))
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
