"""A large file is on its way in, and the worker is killed in the middle of writing it.

Nothing of it is here then, and the next worker brings in all of it, once.
"""

import csv
import json
from datetime import date, timedelta
from pathlib import Path

from tests.house import PATIENCE_SECONDS, RunningHouse, wait_until

BATCHES, BARS, WEEKS = 200, 5, 15
PREPARE = """
from pathlib import Path
from django.utils import timezone
from curehouse.flows.bring_in.door import FileGiven, carry_on, check_as, lay_out
from curehouse.flows.bring_in.options import options_of
from curehouse.flows.set_up import set_up
from curehouse.intake.services import begin_bringing
from curehouse.workshops.actors import Actor
from tests.world import set_up_entry
at = timezone.now()
owner, workshop = set_up(entry=set_up_entry(time_zone="UTC"), at=at)
actor = Actor(workshop=workshop, user=owner)
laid = lay_out(actor=actor, kind="batches", given=FileGiven("log.csv", Path(LOG)), at=at)
check_as(actor=actor, brought=laid, options=options_of(laid.options), at=at)
"""
BRING = """
from django.utils import timezone
from curehouse.intake.models import Import
from curehouse.intake.services import begin_bringing
begin_bringing(brought=Import.unscoped.get(), at=timezone.now())
"""
# The lease of a dead worker ends by itself, ten minutes later.
LEASE_ENDS = """
from curehouse.intake.models import Import
Import.unscoped.update(claimed_until=None)
"""
HERE = """
import json
from curehouse.curing.balance import differences
from curehouse.curing.models import Cure, Reading, SampleBar
from curehouse.intake.models import Import
from curehouse.making.models import Batch, Formula
found = {model.__name__: model.unscoped.count() for model in (Formula, Batch, SampleBar, Reading, Cure)}
print("HERE " + json.dumps([Import.unscoped.get().state, found, [str(one) for one in differences()]]))
"""


def write_log(path: Path) -> None:
    first = date(2023, 1, 2)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(("batch", "formula", "bar", "water_fraction", "cut_date", "date", "weight_g"))
        for number in range(BATCHES):
            for week in range(WEEKS):
                for bar in range(BARS):
                    day = first + timedelta(days=7 * week)
                    writer.writerow((f"N{number}", "Fern", f"b{bar}", "0.31", first, day, f"{125 - week * 0.9 + bar:.1f}"))


def here(house: RunningHouse) -> tuple[str, dict[str, int], list[str]]:
    done = house.manage("shell", "-c", HERE)
    line = next((line for line in done.stdout.splitlines() if line.startswith("HERE ")), None)
    assert line, done.stdout
    state, found, differences = json.loads(line.removeprefix("HERE "))
    return state, found, differences


def test_a_worker_killed_while_it_writes_leaves_nothing_and_the_next_one_brings_in_all_of_it(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    write_log(log)
    none = dict.fromkeys(("Formula", "Batch", "SampleBar", "Reading", "Cure"), 0)
    with RunningHouse(tmp_path / "house", env={"CUREHOUSE_TICK_SECONDS": "1"}) as house:
        done = house.manage("shell", "-c", f"LOG = {str(log)!r}\n{PREPARE}")
        assert done.returncode == 0, done.stdout
        wait_until(lambda: here(house)[0] == "checked", seconds=PATIENCE_SECONDS, what="the file to be checked")
        assert here(house)[1] == none
        progress = house.data / "progress" / "import-1.json"
        done = house.manage("shell", "-c", BRING)
        assert done.returncode == 0, done.stdout

        def is_writing() -> bool:
            return progress.exists() and "writing" in progress.read_text("utf-8")

        wait_until(is_writing, seconds=PATIENCE_SECONDS, what="the worker to write")
        worker = house.child("worker")
        for process in [worker, *worker.children(recursive=True)]:
            process.kill()
        assert here(house) == ("bringing", none, [])
        assert house.manage("shell", "-c", LEASE_ENDS).returncode == 0
        wait_until(lambda: here(house)[0] == "brought", seconds=PATIENCE_SECONDS, what="the next worker to bring it in")
        state, found, differences = here(house)
    assert (state, differences) == ("brought", [])
    bars = BATCHES * BARS
    assert found == {"Formula": 1, "Batch": BATCHES, "SampleBar": bars, "Reading": bars * WEEKS, "Cure": BATCHES}
