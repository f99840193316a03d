"""Tables as text with separators, in whatever dialect a spreadsheet wrote them."""

import codecs
import csv
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from curehouse.common.errors import Invalid
from curehouse.common.tables.cells import Cell, Row, Unreadable
from curehouse.common.tables.limits import MOST_CHARACTERS, MOST_COLUMNS, MOST_ROWS, too_many_columns, too_many_rows

DELIMITERS = (",", ";", "\t", "|")
# By the names people know them by; Python's own.
ENCODINGS = {
    "utf-8": "utf-8-sig", "utf-16": "utf-16", "windows-1252": "cp1252", "windows-1250": "cp1250", "iso-8859-2": "iso8859-2",
    "windows-1251": "cp1251", "windows-1253": "cp1253", "windows-1254": "cp1254", "iso-8859-15": "iso8859-15",
    "mac-roman": "mac_roman",
}  # fmt: skip
_LOOKED_AT = 50
_CHUNK_BYTES = 2**16
# A cell longer than this ends the reading: a quotation mark that is never closed takes in the rest of the file.
_LONGEST_FIELD = 2**17


def _not_text() -> Invalid:
    return Invalid("not_a_table", "The file is not a table: choose a CSV file or an XLSX file.", field="file")


def encoding_of(path: Path) -> str:
    """Return the name of the encoding, a key of :data:`ENCODINGS`, having read the whole file once."""
    with path.open("rb") as file:
        beginning = file.read(4)
        if beginning.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        file.seek(0)
        decoder = codecs.getincrementaldecoder("utf-8")()
        is_utf8 = True
        while chunk := file.read(_CHUNK_BYTES):
            if b"\0" in chunk:
                raise _not_text()
            if is_utf8:
                try:
                    decoder.decode(chunk)
                except UnicodeDecodeError:
                    is_utf8 = False
        if is_utf8:
            try:
                decoder.decode(b"", final=True)
            except UnicodeDecodeError:
                is_utf8 = False
    return "utf-8" if is_utf8 else "windows-1252"


def _skip_sep(file: Iterator[str]) -> str:
    """Return the delimiter that a first line ``sep=;`` names, or nothing, with *file* behind it."""
    first = next(file, "")
    told = first.strip().removeprefix("\ufeff")
    return told[4:] if told.lower().startswith("sep=") and told[4:] in DELIMITERS else ""


def delimiter_of(path: Path, encoding: str) -> str:
    """Return what separates the cells: what the file says, or what cuts its first records most evenly."""
    with path.open(encoding=ENCODINGS[encoding], newline="", errors="replace") as file:
        told = _skip_sep(file)
    if told:
        return told
    best, best_score = ",", 0.0
    for delimiter in DELIMITERS:
        with path.open(encoding=ENCODINGS[encoding], newline="", errors="replace") as file:
            try:
                widths = [len(record) for record in islice(csv.reader(file, delimiter=delimiter), _LOOKED_AT) if record]
            except csv.Error:
                continue
        usual = max(set(widths), key=widths.count, default=1)
        score = widths.count(usual) / len(widths) * min(usual, 20) if widths and usual > 1 else 0.0
        if score > best_score:
            best, best_score = delimiter, score
    return best


def csv_rows(path: Path, *, encoding: str, delimiter: str) -> Iterator[Row]:
    """Yield the rows that hold something; a record of several lines is one row."""
    csv.field_size_limit(_LONGEST_FIELD)
    number = found = 0
    with path.open(encoding=ENCODINGS[encoding], newline="") as file:
        reader = csv.reader(file, delimiter=delimiter)
        is_begun = False
        while True:
            try:
                if not is_begun and not _skip_sep(file):
                    file.seek(0)
                is_begun = True
                record = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                raise Invalid(
                    "not_a_table",
                    f"The table cannot be read after row {number}: a quotation mark may be open there. Mend it.",
                    field="file",
                ) from error
            except UnicodeError as error:
                raise Invalid(
                    "encoding",
                    f"The text is not {encoding} after row {number}: choose another encoding, or save the file as XLSX.",
                    field="file",
                ) from error
            number += 1
            cells = tuple(_cell(text) for text in record)
            if any(cell is not None for cell in cells[MOST_COLUMNS:]):
                raise too_many_columns()
            if all(cell is None for cell in cells):
                continue
            found += 1
            if found > MOST_ROWS:
                raise too_many_rows()
            yield Row(number, cells[:MOST_COLUMNS])


def _cell(text: str) -> Cell:
    text = text.strip().strip("\ufeff")
    if len(text) > MOST_CHARACTERS:
        return Unreadable(f"{text[:40]}…", f"has {len(text):,} characters: keep it to {MOST_CHARACTERS:,}")
    if "\0" in text:
        return Unreadable(text.replace("\0", "�")[:80], "holds characters that cannot be shown: type it again")
    return text or None
