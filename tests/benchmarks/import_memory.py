"""What bringing a file in costs in memory: ``python -m tests.benchmarks.import_memory [KIND ...]``.

The most that Python holds (``tracemalloc``) while a CSV file of 7,680 rows, too long to be held, is checked and brought
in by the worker's two steps, and while one ten times as long is; each in a house and a process of its
own. Ends with 1 if the limit is passed.
"""

import json
import os
import subprocess
import sys
import tracemalloc

# Loading it makes a house in a folder of its own.
from tests.benchmarks import import_rows as bench
from tests.benchmarks.import_lists import write_list

MOST_TIMES = 1.25
BATCHES = 240
ROWS = 7_680
TIMES = 10
KINDS = ("batches", "suppliers", "materials", "stock", "uses")


def given_of(kind: str, rows: int, world: bench.World) -> bench.FileGiven:
    """Write a list of so many rows, or a cure log."""
    if kind == "batches":
        given, _weighings = bench.write_log(world, max(2, rows * BATCHES // ROWS), 4, 8, is_curing=False)
        return given
    path = write_list(bench.FOLDER, kind, rows, world.now.date())
    return bench.FileGiven(path.name, path)


def held_mb(kind: str, rows: int) -> dict[str, float]:
    """Bring a file of so many rows in; return the most that is held, by step, and how many rows it has."""
    bench.call_command("migrate", verbosity=0)
    bench.logging.disable(bench.logging.INFO)
    world = bench.World(now=bench.timezone.now())
    found: dict[str, float] = {}
    # The first is short: what is loaded but once is no file's.
    for number in (2, rows):
        given = given_of(kind, number, world)
        tracemalloc.start()
        brought = bench.lay_out(actor=world.actor, kind=kind, given=given, at=world.now)
        options = bench.options_of(brought.options)
        bench.check_as(actor=world.actor, brought=brought, options=options, at=world.now)
        checked = bench.carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now)
        check_mb = tracemalloc.get_traced_memory()[1] / 2**20
        tracemalloc.reset_peak()
        bench.begin_bringing(brought=checked, at=world.now)
        done = bench.carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now)
        bring_mb = tracemalloc.get_traced_memory()[1] / 2**20
        tracemalloc.stop()
        if done is None or done.state != bench.Import.State.BROUGHT or done.outcome["rows_read"] < number:
            sys.exit(f"{kind}: {done and done.said or done and done.outcome}")
        found = {"rows": done.outcome["rows_read"], "check": check_mb, "bring": bring_mb}
    return found


def apart(kind: str, rows: int) -> dict[str, float]:
    """Return :func:`held_mb` of a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.import_memory", kind, str(rows)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, env=os.environ)
    return json.loads(done.stdout)


def main() -> int:
    """Measure, print, and return 1 if the limit is passed."""
    asked = sys.argv[1:]
    if len(asked) == 2 and asked[1].isdigit():
        print(json.dumps(held_mb(asked[0], int(asked[1]))))
        return 0
    worst = 0.0
    for kind in asked or KINDS:
        short, long = apart(kind, ROWS), apart(kind, ROWS * TIMES)
        for step in ("check", "bring"):
            times = long[step] / short[step]
            worst = max(worst, times)
            print(
                f"{kind:9} {step:6} {short['rows']:,.0f} rows {short[step]:5.2f} MB   "
                f"{long['rows']:,.0f} rows {long[step]:5.2f} MB   {times:.2f} x (limit {MOST_TIMES:g} x)"
            )
    return int(worst > MOST_TIMES)


if __name__ == "__main__":
    try:
        code = main()
    finally:
        bench.shutil.rmtree(bench.FOLDER, ignore_errors=True)
    sys.exit(code)
