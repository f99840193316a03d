"""Files as people and spreadsheet programs write them."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from curehouse.common import tables


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


def read(path: Path, **told: Any) -> list[tuple[Any, ...]]:
    return [row.cells for row in tables.rows(path, tables.look(path, **told))]
