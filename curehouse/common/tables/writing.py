"""Tables out: CSV and XLSX that no spreadsheet runs anything of."""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import IO

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Font
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

Value = str | int | Decimal | date | datetime | bool | None
_NOT_SHOWN = "�"
# OWASP, "CSV Injection"; on the way out nothing is weighed up.
_RUN = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def _as_csv(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, datetime):
        return value.replace(tzinfo=None).isoformat(" ", "seconds")
    text = str(value)
    # An apostrophe in front keeps a spreadsheet from running the cell.
    return f"'{text}" if isinstance(value, str) and text.startswith(_RUN) else text


def csv_lines(headers: Sequence[str], rows: Iterable[Sequence[Value]]) -> Iterator[str]:
    """Yield a table as CSV by RFC 4180, line by line, with the mark by which spreadsheets know UTF-8."""
    yield "\ufeff"
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([_as_csv(name) for name in headers])
    for row in rows:
        yield buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()
        writer.writerow([_as_csv(value) for value in row])
    yield buffer.getvalue()


def _as_cell(sheet: WriteOnlyWorksheet, value: Value) -> WriteOnlyCell:
    if isinstance(value, datetime):
        return WriteOnlyCell(sheet, value.replace(tzinfo=None))
    if not isinstance(value, str):
        return WriteOnlyCell(sheet, value)
    cell = WriteOnlyCell(sheet, ILLEGAL_CHARACTERS_RE.sub(_NOT_SHOWN, value))
    # Whatever it begins with it is words, and stays words when it is edited.
    cell.data_type = "s"
    if value.startswith(_RUN):
        cell.quotePrefix = True
    return cell


def write_xlsx(target: IO[bytes], *, title: str, headers: Sequence[str], rows: Iterable[Sequence[Value]]) -> None:
    """Write a table as XLSX with real numbers and days; the header stays in sight."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(title=_sheet_title(title))
    sheet.freeze_panes = "A2"
    head = [_as_cell(sheet, name) for name in headers]
    for cell in head:
        cell.font = Font(bold=True)
    sheet.append(head)
    for row in rows:
        sheet.append([_as_cell(sheet, value) for value in row])
    book.save(target)


def _sheet_title(title: str) -> str:
    """Return *title* without what ECMA-376 keeps out of a sheet's name, in 31 characters."""
    return "".join(one for one in title if one not in "[]:*?/\\'" and one.isprintable())[:31].strip() or "list"
