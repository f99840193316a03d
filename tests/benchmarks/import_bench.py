"""A whole bench of simulated cures through the page's path: as it is, as XLSX, and as a German CSV.

    python -m tests.benchmarks.import_bench FOLDER

FOLDER holds ``history.csv`` (batch, formula, bar, water_fraction, day, weight_g) and ``batches.csv``
(batch, cut_date), which lists more batches than were weighed. Checked is, and the script ends with 1
if it is not so: every weighing of the file is here with its batch, formula, bar, day and grams; all
batches are closed and nobody is told anything; those without a weighing are left out; the same again,
re-saved as XLSX and as semicolons with decimal commas, dd.mm.yyyy and German headers, adds nothing;
the balances are what the ledgers come to.
"""

import argparse
import csv
import logging
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

FOLDER = Path(tempfile.mkdtemp(prefix="curehouse-bench-"))
os.environ |= {"CUREHOUSE_DATA": str(FOLDER), "DJANGO_SETTINGS_MODULE": "curehouse.settings"}
for _name in ("DATABASE_URL", "REDIS_URL"):
    os.environ.pop(_name, None)

import django  # noqa: E402  (the folder comes first)

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.utils import timezone  # noqa: E402

from curehouse.common.time import local_day  # noqa: E402
from curehouse.curing.balance import differences  # noqa: E402
from curehouse.curing.models import Assessment, Reading  # noqa: E402
from curehouse.flows.bring_in.door import FileGiven, carry_on, check_as, lay_out  # noqa: E402
from curehouse.flows.bring_in.options import Options, options_of  # noqa: E402
from curehouse.flows.bring_in.outcome import Outcome, outcome_of  # noqa: E402
from curehouse.intake.services import begin_bringing  # noqa: E402
from curehouse.making.models import Batch  # noqa: E402
from curehouse.notices.models import Notice  # noqa: E402
from tests.flows.bring_in.logs import LogRow, german, spreadsheet  # noqa: E402
from tests.world import World  # noqa: E402


def read_bench(folder: Path) -> tuple[list[LogRow], int]:
    """Return the weighings with their cut dates, and how many batches are listed."""
    with (folder / "batches.csv").open() as file:
        cuts = {row["batch"]: date.fromisoformat(row["cut_date"]) for row in csv.DictReader(file)}
    with (folder / "history.csv").open() as file:
        found = [
            LogRow(
                row["batch"], row["formula"], row["bar"], row["water_fraction"], int(row["day"]), row["weight_g"],
                cuts[row["batch"]],
            )
            for row in csv.DictReader(file)
        ]  # fmt: skip
    return found, len(cuts)


def through_the_page(world: World, given: FileGiven, beside: FileGiven | None = None, **told: str) -> Outcome:
    """Lay out, check and, where something is new, bring in; return what came of it."""
    brought = lay_out(actor=world.actor, kind="batches", given=given, beside=beside, at=world.now, told=Options(**told))
    check_as(actor=world.actor, brought=brought, options=options_of(brought.options), at=world.now)
    done = carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now)
    outcome = outcome_of(done.outcome)
    if outcome.refused_rows or outcome.adds_nothing:
        return outcome
    begin_bringing(brought=done, at=world.now)
    done = carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now)
    return outcome_of(done.outcome)


def kept(world: World) -> set[tuple[str, str, str, date, float]]:
    """Return what the house has of weighings."""
    zone = world.workshop.time_zone
    readings = Reading.objects.within(world.workshop).select_related("bar__batch__formula")
    return {
        (one.bar.batch.known_as, one.bar.batch.formula.name, one.bar.letter, local_day(one.moment, zone), float(one.weight_g))
        for one in readings
    }


def wrong_after(world: World, rows: Sequence[LogRow]) -> list[str]:
    """Return what is not as it must be once the bench came in."""
    meant = {(row.batch, row.formula, row.bar, row.cut + timedelta(days=row.day), float(row.weight)) for row in rows}
    batches = Batch.objects.within(world.workshop)
    checks = {
        "weighings are not those of the file": kept(world) != meant,
        "batches are open": batches.exclude(state="closed").exists(),
        "batches are missing": batches.count() != len({row.batch for row in rows}),
        "somebody was told of the past": Notice.objects.within(world.workshop).exists(),
        "the past was assessed": Assessment.objects.within(world.workshop).exists(),
        "balances differ from their ledgers": bool(differences()),
    }
    return [words for words, is_wrong in checks.items() if is_wrong]


def main(argv: Sequence[str] | None = None) -> int:
    """Bring the bench in three times and print what came of it."""
    parser = argparse.ArgumentParser(description="A bench of simulated cures through the page's path.")
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args(argv).folder
    call_command("migrate", verbosity=0)
    logging.disable(logging.INFO)
    world = World(now=timezone.now())
    rows, listed = read_bench(folder)
    files = [FileGiven(name, folder / name) for name in ("history.csv", "batches.csv")]
    wrong = []
    began = time.perf_counter()
    first = through_the_page(world, *files)
    print(f"{time.perf_counter() - began:.1f} s: {dict(first.adds)}, {first.left_out_count} of {listed} listed were left out")
    wrong += [f"refused: {one}" for one in first.refusals[:5]] + wrong_after(world, rows)
    if first.left_out_count != listed - len({row.batch for row in rows}):
        wrong.append("those without a weighing were not left out")
    ways = {
        "the same": through_the_page(world, *files),
        "XLSX": through_the_page(world, spreadsheet(FOLDER, rows)),
        "German": through_the_page(world, german(FOLDER, rows), date_order="dmy"),
    }
    for name, again in ways.items():
        print(f"{name} again: {again.known['weighings']} weighings known, adds nothing: {again.adds_nothing}")
        if not again.adds_nothing or again.refused_rows:
            wrong.append(f"{name} again adds {dict(again.adds)}, refuses {[one.why for one in again.refusals[:3]]}")
    print("\n".join(wrong) or "all as it must be")
    return int(bool(wrong))


if __name__ == "__main__":
    try:
        code = main()
    finally:
        connection.close()
        shutil.rmtree(FOLDER, ignore_errors=True)
    sys.exit(code)
