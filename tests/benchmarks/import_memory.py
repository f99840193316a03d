"""What bringing a cure log in costs in memory: ``python -m tests.benchmarks.import_memory``.

The most that Python holds (``tracemalloc``) while a CSV file of 5,120 weighings of 160 batches is checked
and brought in by the worker's two steps, and while one ten times as long is; each in a house and a
process of its own. Ends with 1 if the limit is passed.
"""

import json
import os
import subprocess
import sys
import tracemalloc

# Loading it makes a house in a folder of its own.
from tests.benchmarks import import_rows as bench

MOST_TIMES = 1.25
BATCHES = 160
TIMES = 10


def held_mb(batches: int) -> dict[str, float]:
    """Bring a log of so many batches in; return the most that is held, by step, and how many weighings it has."""
    bench.call_command("migrate", verbosity=0)
    bench.logging.disable(bench.logging.INFO)
    world = bench.World(now=bench.timezone.now())
    found: dict[str, float] = {}
    # The first is short: what is loaded but once is no file's.
    for number in (2, batches):
        given, weighings = bench.write_log(world, number, 4, 8, is_curing=False)
        tracemalloc.start()
        brought = bench.lay_out(actor=world.actor, kind="batches", given=given, at=world.now)
        options = bench.options_of(brought.options)
        bench.check_as(actor=world.actor, brought=brought, options=options, at=world.now)
        checked = bench.carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now)
        check_mb = tracemalloc.get_traced_memory()[1] / 2**20
        tracemalloc.reset_peak()
        bench.begin_bringing(brought=checked, at=world.now)
        bench.carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now)
        found = {"rows": weighings, "check": check_mb, "bring": tracemalloc.get_traced_memory()[1] / 2**20}
        tracemalloc.stop()
    return found


def apart(batches: int) -> dict[str, float]:
    """Return :func:`held_mb` of a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.import_memory", str(batches)]
    done = subprocess.run(command, check=True, capture_output=True, text=True, env=os.environ)
    return json.loads(done.stdout)


def main() -> int:
    """Measure, print, and return 1 if the limit is passed."""
    if len(sys.argv) > 1:
        print(json.dumps(held_mb(int(sys.argv[1]))))
        return 0
    short, long = apart(BATCHES), apart(BATCHES * TIMES)
    times = {}
    for step in ("check", "bring"):
        times[step] = long[step] / short[step]
        print(
            f"{step:6} {short['rows']:,.0f} rows {short[step]:5.2f} MB   {long['rows']:,.0f} rows {long[step]:5.2f} MB   "
            f"{times[step]:.2f} x (limit {MOST_TIMES:g} x)"
        )
    return int(max(times.values()) > MOST_TIMES)


if __name__ == "__main__":
    try:
        code = main()
    finally:
        bench.shutil.rmtree(bench.FOLDER, ignore_errors=True)
    sys.exit(code)
