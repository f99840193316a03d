"""Files as people and spreadsheet programs write them."""

import re
import zipfile
from collections.abc import Sequence
from itertools import count
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from curehouse.common import tables

_SHEET = "xl/worksheets/sheet1.xml"
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_IN_CELL = re.compile(r't="inlineStr"><is>(.*?)</is>')
_TEXTS = (
    '<Override PartName="/xl/sharedStrings.xml" '
    'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/>'
)


def written(folder: Path, content: bytes | str, name: str = "table.csv") -> Path:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def xlsx(folder: Path, rows: Sequence[Sequence[Any]], *, name: str = "table.xlsx", title: str = "Sheet") -> Path:
    book = Workbook()
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(row)
    path = folder / name
    book.save(path)
    return path


def with_texts_beside(path: Path) -> Path:
    """Move a spreadsheet's texts out of its cells into a part of their own, where most programs keep them."""
    with zipfile.ZipFile(path) as packed:
        parts = {part.filename: packed.read(part).decode() for part in packed.infolist()}
    texts, places = _IN_CELL.findall(parts[_SHEET]), count()
    parts[_SHEET] = _IN_CELL.sub(lambda _found: f't="s"><v>{next(places)}</v>', parts[_SHEET])
    parts["xl/sharedStrings.xml"] = f'<sst xmlns="{_MAIN}">{"".join(f"<si>{text}</si>" for text in texts)}</sst>'
    parts["[Content_Types].xml"] = parts["[Content_Types].xml"].replace("</Types>", f"{_TEXTS}</Types>")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    return path


def read(path: Path, **told: Any) -> list[tuple[Any, ...]]:
    return [row.cells for row in tables.rows(path, tables.look(path, **told))]
