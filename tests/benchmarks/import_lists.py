"""Lists of the storeroom as long as one likes, for what is measured of bringing files in."""

import csv
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from pathlib import Path

HEADERS = {
    "suppliers": ("supplier", "contact", "note"),
    "materials": ("material", "kind", "allergen"),
    "stock": ("supplier", "material", "kind", "amount", "lot", "received", "best before", "price", "status"),
    "stock long here": ("supplier", "material", "kind", "amount", "lot", "received", "best before", "price", "status"),
    "uses": ("batch", "material", "kind", "lot", "amount", "date", "note"),
    "uses of stock": ("batch", "material", "kind", "lot", "amount", "date", "note"),
}


def rows_of(kind: str, rows: int, today: date) -> Iterator[Sequence[object]]:
    """Yield the rows of a list: materials and suppliers come again in stock and its use, lots in its use.

    ``uses`` are of lots that are gone, ``uses of stock`` of the first 500 lots of ``stock long here``, over
    400 days.
    """
    for n in range(rows):
        day, oil = today - timedelta(days=1 + n % 1_000), f"Oil {n % 200}"
        if kind == "suppliers":
            yield f"Mill {n}", f"mill{n}@example.org, Long Lane {n}", f"customer number {n}"
        elif kind == "materials":
            yield f"Oil {n}", "fat", f"oil {n % 9}"
        elif kind in ("stock", "stock long here"):
            best = today + timedelta(days=90 + n % 700)
            day = day if kind == "stock" else today - timedelta(days=401)
            yield f"Mill {n % 40}", oil, "fat", f"{1 + n % 25}.5 kg", f"L-{n}", day, best, f"{5 + n % 7}.20", "released"
        elif kind == "uses":
            yield "", oil, "fat", f"G-{n // 10}", f"{100 + n % 900} g", day, f"pour {n}"
        else:
            lot, when = n % 500, today - timedelta(days=n * 400 // rows)
            yield "", f"Oil {lot % 200}", "fat", f"L-{lot}", f"{100 + n % 900} g", when, f"pour {n}"


def write_list(folder: Path, kind: str, rows: int, today: date) -> Path:
    """Write a list of so many rows as CSV."""
    path = folder / f"{kind.replace(' ', '-')}.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(HEADERS[kind])
        writer.writerows(rows_of(kind, rows, today))
    return path
