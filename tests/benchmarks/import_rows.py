"""Lists of 5,000 rows brought in as the page does it, beside their parsing and a bare bulk_create, side by side.

    python -m tests.benchmarks.import_rows [KIND ...] [--rounds 7] [--rows 5000] [--curing]
    python -m tests.benchmarks.import_rows batches [--batches 160] [--bars 4] [--weeks 8]

KIND is ``batches`` (a cure log), ``stock`` or ``uses`` (of 500 lots that came in with a stock list as of 200 days ago:
half of the uses are older, and so leave what is on hand); all of them unless it is said.

Each arm works on a fresh copy of one SQLite file, with the table's triggers and an fsync at the
commit; arms take turns, so that a busy computer is busy for all of them.

* ``bare``: the file parsed, and the finished rows that the import writes (of a cure log its formulas, batches,
  sample bars, weighings, cures; of lists materials, suppliers, lots, rulings, movements, counts, and the keys
  by which rows are known again) written by ``bulk_create``, in one transaction.
* ``page``: the file laid out already; checked and then brought in by the two steps of the worker,
  each from the import's row on, with everything that is held against the house.

Aim: the page takes at most 4 times bare (aimed at 2). The script ends with 1 if that is missed. With
``--curing`` the batches still cure, so every weighing is asked about and every batch assessed: shown only.
"""

import argparse
import csv
import gc
import logging
import os
import random
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from datetime import timedelta
from pathlib import Path
from statistics import median

FOLDER = Path(tempfile.mkdtemp(prefix="curehouse-bench-"))
os.environ |= {"CUREHOUSE_DATA": str(FOLDER), "DJANGO_SETTINGS_MODULE": "curehouse.settings"}
for _name in ("DATABASE_URL", "REDIS_URL"):
    os.environ.pop(_name, None)

import django  # noqa: E402  (the folder comes first)

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection, models, transaction  # noqa: E402
from django.utils import timezone  # noqa: E402

from curehouse.common.tables import look, rows  # noqa: E402
from curehouse.curing.models import Cure, Reading, SampleBar  # noqa: E402
from curehouse.flows.bring_in.door import FileGiven, carry_on, check_as, lay_out  # noqa: E402
from curehouse.flows.bring_in.options import Options, options_of  # noqa: E402
from curehouse.intake.models import BroughtRow, Import  # noqa: E402
from curehouse.intake.services import begin_bringing  # noqa: E402
from curehouse.making.models import Batch, Formula  # noqa: E402
from inventory.models import Count, Lot, LotRuling, Material, Movement, Supplier  # noqa: E402
from tests.benchmarks.import_lists import write_list  # noqa: E402
from tests.world import World  # noqa: E402

MOST_TIMES_BARE = 4
DATABASE = FOLDER / "curehouse.sqlite3"
Rows = dict[type[models.Model], list[models.Model]]
_STOCK: tuple[type[models.Model], ...] = (Material, Supplier, Lot, LotRuling, Movement, Count, BroughtRow)
# What is written of a kind, and what there is one of for each row of the file.
WRITTEN: dict[str, tuple[type[models.Model], ...]] = {
    "batches": (Formula, Batch, SampleBar, Reading, Cure),
    "stock": _STOCK,
    "uses": _STOCK,
}
COUNTED: dict[str, tuple[type[models.Model], dict[str, str]]] = {
    "batches": (Reading, {}),
    "stock": (Lot, {}),
    "uses": (Movement, {"kind": "use"}),
}
LISTED_LOTS, LISTED_DAYS_AGO = 500, 200


def write_log(world: World, batches: int, bars: int, weeks: int, *, is_curing: bool) -> tuple[FileGiven, int]:
    """Write a cure log; return it and how many weighings it has."""
    chance, path = random.Random(20260310), FOLDER / "log.csv"
    last = world.now.date() - timedelta(days=1 if is_curing else 60)
    first = last - timedelta(days=7 * (weeks - 1))
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(("batch", "formula", "bar", "water_fraction", "cut_date", "date", "weight_g"))
        for number in range(batches):
            starts = [118 + chance.gauss(0, 4) for _ in range(bars)]
            for week in range(weeks):
                day = first + timedelta(days=7 * week)
                for bar, start in enumerate(starts):
                    weight = f"{start * (0.88 + 0.12 * 0.65**week) + chance.gauss(0, 0.05):.1f}"
                    writer.writerow((f"N{number}", f"Formula {number % 10}", f"b{bar}", "0.31", first, day, weight))
    return FileGiven(path.name, path), batches * bars * weeks


def bring(world: World, brought: Import) -> None:
    """Check and bring in what is laid out, as the page and the worker do."""
    check_as(actor=world.actor, brought=brought, options=options_of(brought.options), at=world.now)
    checked = carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now)
    begin_bringing(brought=checked, at=world.now)
    carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now)


def bare(given: FileGiven, written: Rows) -> None:
    """Parse the file, and write the finished rows."""
    for _row in rows(given.path, look(given.path)):
        pass
    with transaction.atomic():
        for model, found in written.items():
            model.unscoped.bulk_create(found)


def rows_here(kind: str) -> int:
    """Return how many rows of such a file are here."""
    model, which = COUNTED[kind]
    return model.unscoped.filter(**which).count()


def timed(run: Callable[[], None], kind: str, rows: int) -> float:
    """Return the seconds *run* takes on a fresh copy of the house."""
    for leftover in FOLDER.glob("curehouse.sqlite3*"):
        leftover.unlink()
    shutil.copy(FOLDER / "furnished", DATABASE)
    connection.ensure_connection()
    gc.collect()
    began = time.perf_counter()
    run()
    seconds = time.perf_counter() - began
    found = rows_here(kind)
    connection.close()
    if found != rows:
        sys.exit(f"{found} of {rows} rows were written")
    return seconds


def finished_rows(world: World, brought: Import) -> Rows:
    """Bring the file in once and return what was written, to be written again as it is."""
    written = WRITTEN[brought.kind]
    before = {model: set(model.unscoped.values_list("pk", flat=True)) for model in written}
    bring(world, brought)
    found: Rows = {model: [row for row in model.unscoped.order_by("pk") if row.pk not in before[model]] for model in written}
    for row in found.get(Cure, []):
        row.assessment_id = None
    connection.close()
    return found


def write_given(world: World, kind: str, told: argparse.Namespace) -> tuple[FileGiven, int]:
    """Write the file, and furnish the house with what it needs; return it and how many rows it has."""
    if kind == "batches":
        return write_log(world, told.batches, told.bars, told.weeks, is_curing=told.curing)
    if kind == "uses":
        stock = write_list(FOLDER, "stock long here", LISTED_LOTS, world.now.date())
        day = world.now.date() - timedelta(days=LISTED_DAYS_AGO)
        given, as_of = FileGiven(stock.name, stock), Options(as_of=day.isoformat())
        bring(world, lay_out(actor=world.actor, kind="stock", given=given, at=world.now, told=as_of))
    path = write_list(FOLDER, "uses of stock" if kind == "uses" else kind, told.rows, world.now.date())
    return FileGiven(path.name, path), told.rows


def compared(kind: str, told: argparse.Namespace) -> float:
    """Print how long both ways take, and return how many times as long the page takes."""
    connection.close()
    for leftover in FOLDER.glob("curehouse.sqlite3*"):
        leftover.unlink()
    call_command("migrate", verbosity=0)
    world = World(now=timezone.now())
    given, rows = write_given(world, kind, told)
    brought = lay_out(actor=world.actor, kind=kind, given=given, at=world.now)
    connection.close()
    shutil.copy(DATABASE, FOLDER / "furnished")
    written = finished_rows(world, brought)
    arms = {"bare": lambda: bare(given, written), "page": lambda: bring(world, brought)}
    seconds: dict[str, list[float]] = {name: [] for name in arms}
    for number in range(told.rounds + 1):
        for name, run in arms.items():
            took = timed(run, kind, rows)
            if number:
                seconds[name].append(took)
    for name, took in seconds.items():
        print(f"{name:6} median {1000 * median(took):7.1f} ms   (all: {' '.join(f'{1000 * one:.0f}' for one in sorted(took))})")
    times = median(seconds["page"]) / median(seconds["bare"])
    print(f"{kind}, {rows} rows: the page takes {times:.2f} times bare (at most {MOST_TIMES_BARE})", flush=True)
    return times


def main(argv: Sequence[str] | None = None) -> int:
    """Run the comparison and print it."""
    parser = argparse.ArgumentParser(description="An import beside its parsing and a bare bulk_create.")
    parser.add_argument("kinds", nargs="*", metavar="KIND", help=", ".join(WRITTEN))
    for name, usual in (("rounds", 7), ("rows", 5000), ("batches", 160), ("bars", 4), ("weeks", 8)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    parser.add_argument("--curing", action="store_true")
    told = parser.parse_args(argv)
    logging.disable(logging.INFO)
    worst = max(compared(kind, told) for kind in told.kinds or WRITTEN)
    return int(worst > MOST_TIMES_BARE and not told.curing)


if __name__ == "__main__":
    try:
        code = main()
    finally:
        connection.close()
        shutil.rmtree(FOLDER, ignore_errors=True)
    sys.exit(code)
