"""A cure log of 5,000 rows brought in as the page does it, beside its parsing and a bare bulk_create, side by side.

    python -m tests.benchmarks.import_rows [--rounds 7] [--batches 160] [--bars 4] [--weeks 8] [--curing]

Each arm works on a fresh copy of one SQLite file, with the table's triggers and an fsync at the
commit; arms take turns, so that a busy computer is busy for all of them.

* ``bare``: the file parsed, and the finished rows that the import writes (formulas, batches, sample
  bars, weighings, cures) written by ``bulk_create``, in one transaction.
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
from curehouse.flows.bring_in.options import options_of  # noqa: E402
from curehouse.intake.models import Import  # noqa: E402
from curehouse.intake.services import begin_bringing  # noqa: E402
from curehouse.making.models import Batch, Formula  # noqa: E402
from tests.world import World  # noqa: E402

MOST_TIMES_BARE = 4
DATABASE = FOLDER / "curehouse.sqlite3"
WRITTEN: tuple[type[models.Model], ...] = (Formula, Batch, SampleBar, Reading, Cure)
Rows = dict[type[models.Model], list[models.Model]]


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


def timed(run: Callable[[], None], weighings: int) -> float:
    """Return the seconds *run* takes on a fresh copy of the house."""
    for leftover in FOLDER.glob("curehouse.sqlite3*"):
        leftover.unlink()
    shutil.copy(FOLDER / "furnished", DATABASE)
    connection.ensure_connection()
    gc.collect()
    began = time.perf_counter()
    run()
    seconds = time.perf_counter() - began
    found = Reading.unscoped.count()
    connection.close()
    if found != weighings:
        sys.exit(f"{found} of {weighings} weighings were written")
    return seconds


def finished_rows(world: World, brought: Import) -> Rows:
    """Bring the log in once and return what was written, to be written again as it is."""
    before = {model: set(model.unscoped.values_list("pk", flat=True)) for model in WRITTEN}
    bring(world, brought)
    found: Rows = {model: [row for row in model.unscoped.order_by("pk") if row.pk not in before[model]] for model in WRITTEN}
    for row in found[Cure]:
        row.assessment_id = None
    connection.close()
    return found


def main(argv: Sequence[str] | None = None) -> int:
    """Run the comparison and print it."""
    parser = argparse.ArgumentParser(description="An import beside its parsing and a bare bulk_create.")
    for name, usual in (("rounds", 7), ("batches", 160), ("bars", 4), ("weeks", 8)):
        parser.add_argument(f"--{name}", type=int, default=usual)
    parser.add_argument("--curing", action="store_true")
    options = parser.parse_args(argv)
    call_command("migrate", verbosity=0)
    logging.disable(logging.INFO)
    world = World(now=timezone.now())
    given, weighings = write_log(world, options.batches, options.bars, options.weeks, is_curing=options.curing)
    brought = lay_out(actor=world.actor, kind="batches", given=given, at=world.now)
    connection.close()
    shutil.copy(DATABASE, FOLDER / "furnished")
    written = finished_rows(world, brought)
    arms = {"bare": lambda: bare(given, written), "page": lambda: bring(world, brought)}
    seconds: dict[str, list[float]] = {name: [] for name in arms}
    for number in range(options.rounds + 1):
        for name, run in arms.items():
            took = timed(run, weighings)
            if number:
                seconds[name].append(took)
    for name, took in seconds.items():
        print(f"{name:6} median {1000 * median(took):7.1f} ms   (all: {' '.join(f'{1000 * one:.0f}' for one in sorted(took))})")
    times = median(seconds["page"]) / median(seconds["bare"])
    print(
        f"{weighings} weighings of {options.batches} batches: the page takes {times:.2f} times bare (at most {MOST_TIMES_BARE})"
    )
    return int(times > MOST_TIMES_BARE and not options.curing)


if __name__ == "__main__":
    try:
        code = main()
    finally:
        connection.close()
        shutil.rmtree(FOLDER, ignore_errors=True)
    sys.exit(code)
