"""What reading a table costs in memory: ``python -m tests.benchmarks.table_memory``.

The peak of what Python holds (``tracemalloc``) while a table is looked at and read row by row: of a
CSV file and one ten times as long, and of the same rows as XLSX. Ends with 1 if a limit is passed.
"""

import csv
import sys
import tempfile
import tracemalloc
from collections import deque
from collections.abc import Callable, Iterator
from pathlib import Path

from openpyxl import Workbook

from curehouse.common.tables import look, rows
from tests.common.tables.files import with_texts_beside

ROWS = 2_000
TIMES = 10
# A CSV file takes as much whatever its length.
MOST_TIMES = 1.1
# A spreadsheet keeps its texts beside its cells, and they are all held: a quarter of a kilobyte for each.
XLSX_MB = 32.0


def table(length: int) -> Iterator[tuple[str, str, str, float]]:
    """Yield a header and *length* rows, no two with the same text."""
    yield ("batch", "formula", "date", 0.0)
    for number in range(length):
        yield (f"batch {number}", f"Goat & oat {number}", f"2024-{number % 12 + 1:02d}-09", 100 + number % 997 / 10)


def as_csv(path: Path, length: int) -> None:
    """Write the table as CSV."""
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(table(length))


def as_xlsx(path: Path, length: int) -> None:
    """Write the table as XLSX with its texts beside its cells, as most programs do."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet()
    for row in table(length):
        sheet.append(row)
    book.save(path)
    with_texts_beside(path)


def peak_mb(path: Path) -> float:
    """Return the most that is held while the table is read to its end."""
    tracemalloc.start()
    deque(rows(path, look(path)), maxlen=0)
    _now, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most / 2**20


def measured(write: Callable[[Path, int], None], folder: Path, length: int) -> float:
    """Write a table and return what reading it holds at most."""
    path = folder / f"{write.__name__}-{length}"
    write(path, length)
    return peak_mb(path)


def main() -> int:
    """Measure, print, and return 1 if a limit is passed."""
    with tempfile.TemporaryDirectory(prefix="curehouse-tables-") as name:
        folder = Path(name)
        for write in (as_csv, as_xlsx):  # What is loaded but once is no file's.
            measured(write, folder, 10)
        short, long = (measured(as_csv, folder, length) for length in (ROWS, ROWS * TIMES))
        packed = measured(as_xlsx, folder, ROWS * TIMES)
    print(f"CSV   {ROWS:>7,} rows  {short:6.2f} MB")
    print(f"CSV   {ROWS * TIMES:>7,} rows  {long:6.2f} MB   {long / short:.2f} x (limit {MOST_TIMES:g} x)")
    print(f"XLSX  {ROWS * TIMES:>7,} rows  {packed:6.2f} MB   (limit {XLSX_MB:g} MB)")
    return int(long > MOST_TIMES * short or packed > XLSX_MB)


if __name__ == "__main__":
    sys.exit(main())
