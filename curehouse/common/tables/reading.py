"""Looking at a file, and reading its rows."""

import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from curehouse.common.active_text import LOOKED_AT_BYTES, begins_as_active
from curehouse.common.errors import Invalid
from curehouse.common.tables import csv_files, xlsx_files
from curehouse.common.tables.cells import Layout, Row, distinct_headers
from curehouse.common.tables.limits import MOST_BYTES, MOST_ROWS, too_large

_LOOKED_AT = 60
# A figure with a word or sign beside it, or a day with or without its time.
_DATA = re.compile(
    r"[€$£¥]?\s*[+\-−]?[\d.,][\d.,'’\s]*(?:%|[€$£¥]|[^\W\d_]{1,4}\.?)?"
    r"|\d{1,4}([./-])\d{1,2}\1\d{1,4}(?:[T,\s]\s*\d{1,2}:\d{2}(?::\d{2})?)?"
)
_HEADER_WITHIN = 25
_PACKED = b"PK\x03\x04"
# What people choose by mistake, by its first bytes.
_OTHERS = {
    b"\xd0\xcf\x11\xe0": "The file is an old or locked spreadsheet (XLS, or one with a password): save a copy as XLSX or CSV.",
    b"%PDF": "The file is a PDF: choose the spreadsheet itself, as CSV or XLSX.",
}

_WEB_PAGE = (
    "The file is a web page or markup, whatever it is called: open it in a spreadsheet program and save it as XLSX or CSV."
)


def look(
    path: Path,
    *,
    sheet: str = "",
    delimiter: str = "",
    encoding: str = "",
    header_row: int | None = None,
) -> Layout:
    """Return how the table at *path* is to be read; what is not said is found out; *header_row* 0: no row names the columns.

    Raises :class:`Invalid` for what is no table, is empty, or is too large, and for a sheet,
    delimiter, encoding or header row that is not there.
    """
    size_bytes = path.stat().st_size
    if size_bytes > MOST_BYTES:
        raise too_large(size_bytes)
    with path.open("rb") as file:
        beginning = file.read(4)
    if not beginning:
        raise Invalid("empty", "The file is empty: choose it again.", field="file")
    for first_bytes, remedy in _OTHERS.items():
        if beginning.startswith(first_bytes):
            raise Invalid("not_a_table", remedy, field="file")
    found = (
        _look_at_xlsx(path, sheet)
        if beginning.startswith(_PACKED)
        else _look_at_csv(path, delimiter=delimiter, encoding=encoding)
    )
    return _with_headers(path, found, header_row)


def _look_at_csv(path: Path, *, delimiter: str, encoding: str) -> Layout:
    if delimiter and delimiter not in csv_files.DELIMITERS:
        raise Invalid("delimiter", "Cells are separated by comma, semicolon, tab or bar: choose one.", field="delimiter")
    if encoding and encoding not in csv_files.ENCODINGS:
        raise Invalid("encoding", f"The text is in one of {', '.join(csv_files.ENCODINGS)}: choose one.", field="encoding")
    written_in = csv_files.encoding_of(path)
    with path.open(encoding=csv_files.ENCODINGS[written_in], newline="", errors="replace") as file:
        if begins_as_active(file.read(LOOKED_AT_BYTES)):
            raise Invalid("not_a_table", _WEB_PAGE, field="file")
    written_in = encoding or written_in
    return Layout("csv", 0, (), encoding=written_in, delimiter=delimiter or csv_files.delimiter_of(path, written_in))


def _look_at_xlsx(path: Path, sheet: str) -> Layout:
    xlsx_files.weigh(path)
    sheets = xlsx_files.sheets_of(path)
    if sheet and sheet not in sheets:
        raise Invalid("sheet", f"There is no sheet called {sheet}: choose one of {', '.join(sheets)}.", field="sheet")
    filled = sheet or next((name for name in sheets if any(xlsx_files.xlsx_rows(path, sheet=name, with_formulas=False))), "")
    if not filled:
        raise Invalid("empty", "No sheet of the file holds anything: choose another file.", field="file")
    formulas = xlsx_files.has_formulas(path, filled)
    return Layout("xlsx", 0, (), sheet=filled, sheets=sheets, has_formulas=formulas)


def _with_headers(path: Path, layout: Layout, header_row: int | None) -> Layout:
    if header_row is not None and not 0 <= header_row <= MOST_ROWS:
        raise Invalid(
            "header_row", "The header stands in row 1 or further down: say in which, or 0 for none.", field="header_row"
        )
    first = list(islice(_all_rows(path, layout), _LOOKED_AT if header_row is None else header_row + _LOOKED_AT))
    if not first:
        raise Invalid("empty", "The table is empty: choose another file.", field="file")
    if header_row is None:
        head = _header_of(first)
    elif header_row == 0:
        head = Row(0, ())
    else:
        head = next((row for row in first if row.number == header_row), None)
        if head is None:
            raise Invalid(
                "header_row", f"Row {header_row} is empty: say in which row the columns are named.", field="header_row"
            )
    width = max(len(row.cells) for row in first if row.number >= head.number)
    return Layout(
        kind=layout.kind,
        header_row=head.number,
        headers=distinct_headers(head.cells, width),
        encoding=layout.encoding,
        delimiter=layout.delimiter,
        sheet=layout.sheet,
        sheets=layout.sheets,
        has_formulas=layout.has_formulas,
        begins_with_data=head.number == 0 and any(_is_data(row) for row in first[:1]),
    )


def _header_of(first: list[Row]) -> Row:
    """Return the row that names the columns: the first that is nearly as wide as the table, if it is all words.

    Where that holds data there is none: what stands above a later row of words would be lost.
    """
    usual = max(sum(cell is not None for cell in row.cells) for row in first)
    for row in first[:_HEADER_WITHIN]:
        if 2 * sum(cell is not None for cell in row.cells) > usual:
            return Row(0, ()) if _is_data(row) else row
    return Row(0, ()) if _is_data(first[0]) else first[0]


def _is_data(row: Row) -> bool:
    """Whether a row holds what no heading is: a number, a sum, a day."""
    return any(cell is not None and not (isinstance(cell, str) and not _DATA.fullmatch(cell)) for cell in row.cells)


def _all_rows(path: Path, layout: Layout) -> Iterator[Row]:
    if layout.kind == "csv":
        return csv_files.csv_rows(path, encoding=layout.encoding, delimiter=layout.delimiter)
    return xlsx_files.xlsx_rows(path, sheet=layout.sheet, with_formulas=layout.has_formulas)


def rows(path: Path, layout: Layout) -> Iterator[Row]:
    """Yield the rows below the header that hold something, each with its number."""
    return (row for row in _all_rows(path, layout) if row.number > layout.header_row)
