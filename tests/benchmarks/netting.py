"""Runs held against a storeroom, right and fast: ``python -m tests.benchmarks.netting [FOLDER]``.

FOLDER holds cases with exact answers, ``cases.json`` and ``expected.json``; they are answered by ``manage.py
check_runs``, and every field is compared. Without it that part is left out, and it is said so. Then, side by side in
this process: 10,000 requirements served first expired first by ``allocation.allocate``, one after another, and a run
that is checked beside them with everything that is to be said of it, by both outlooks. Ends with 1 if an answer
differs or a limit is passed.
"""

import argparse
import contextlib
import io
import json
import os
import random
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "curehouse.settings")

import django  # noqa: E402  (the settings come first)

django.setup()

from django.core.management import call_command  # noqa: E402

from curehouse.core.stock.allocation import LotOnHand, allocate  # noqa: E402
from curehouse.core.stock.netting import check_run, net_runs  # noqa: E402
from curehouse.core.stock.storeroom import Arrival, DeliveryDays, Lot, OpenOrder, Outlook, Run, Storeroom  # noqa: E402

MOST_SECONDS = 0.2
TODAY, TIMES = 1000, 7


def in_no_order(field: str, value: Any) -> Any:
    """Return a field so that lists which stand in no order compare."""
    if field == "shortages":
        return sorted(value, key=lambda one: one["material"])
    if field == "allocation_on_earliest" and value:
        return {material: sorted(lots, key=lambda one: one["lot"]) for material, lots in value.items()}
    return value


def right(folder: Path) -> bool:
    """Print how many cases are right, field by field."""
    exact = json.loads((folder / "expected.json").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory(prefix="curehouse-netting-") as name, contextlib.redirect_stdout(io.StringIO()):
        out = Path(name) / "answers.json"
        call_command("check_runs", folder / "cases.json", out=out)
        answers = json.loads(out.read_text(encoding="utf-8"))
    fields = sorted({field for one in exact.values() for field in one})
    whole = 0
    for case, one in exact.items():
        wrong = [field for field in fields if in_no_order(field, answers[case][field]) != in_no_order(field, one[field])]
        whole += not wrong
        if wrong:
            print(f"{case}: {', '.join(wrong)}")
    print(f"{whole} of {len(exact)} cases right in all of {', '.join(fields)}")
    return whole == len(exact)


def made(materials: int, runs: int, lots: int) -> tuple[list[Run], Storeroom]:
    """Return *runs* that need every one of *materials*, and *lots* and a tenth as many orders of each."""
    dice = random.Random(3)
    names = [f"m{number}" for number in range(materials)]
    planned = [Run(f"R{n}", TODAY + dice.randint(0, 119), {name: dice.uniform(50, 900) for name in names}) for n in range(runs)]
    stock, orders = [], []
    for name in names:
        each = 500 * runs / lots
        for n in range(lots):
            came = TODAY - dice.randint(0, 60)
            stock.append(Lot(f"{name}-{n}", name, dice.uniform(0.2, 1.6) * each, came, TODAY + dice.randint(5, 300)))
        for n in range(max(lots // 10, 1)):
            likely = TODAY + dice.randint(0, 60)
            orders.append(
                OpenOrder(f"{name}-P{n}", name, 4 * each, Arrival(likely, likely + 200), Arrival(likely + 6, likely + 206))
            )
    return planned, Storeroom(stock, orders, {name: DeliveryDays(7, 12) for name in names})


def fastest(what: Callable[[], object]) -> float:
    """Return the least seconds of the processor of a few times."""
    best = float("inf")
    for _time in range(TIMES):
        began = time.process_time()
        what()
        best = min(best, time.process_time() - began)
    return best


def one_by_one(planned: list[Run], room: Storeroom) -> None:
    """Serve every requirement by ``allocate``, each from all lots of its material."""
    lots: dict[str, dict[int, LotOnHand]] = {}
    for key, lot in enumerate(room.lots):
        last_day = int(lot.last_day)
        lots.setdefault(lot.material, {})[key] = LotOnHand(key, lot.amount_g, lot.received_day, last_day)
    for run in sorted(planned, key=lambda one: one.day):
        for material, grams in run.needs.items():
            own = lots[material]
            for take in allocate(list(own.values()), grams, run.day).takes:
                lot = own[take.key]
                own[take.key] = LotOnHand(lot.key, lot.on_hand - take.amount, lot.received_day, lot.last_day)


def fast() -> bool:
    """Print how long 10,000 requirements take."""
    within = True
    for materials, runs, lots in ((100, 100, 20), (10, 1000, 200)):
        planned, room = made(materials, runs, lots)
        new = Run("new", TODAY + 10, {f"m{number}": 700 for number in range(materials)})
        alone = fastest(lambda planned=planned, room=room: one_by_one(planned, room))
        served = fastest(lambda planned=planned, room=room: net_runs(planned, room, TODAY, Outlook.LIKELY))
        checked = fastest(lambda new=new, planned=planned, room=room: check_run(new, planned, room, TODAY))
        within &= served <= MOST_SECONDS and checked <= MOST_SECONDS
        print(
            f"{materials} materials, {lots} lots of each, {runs} runs: served {served:.3f} s, "
            f"a run checked beside them {checked:.3f} s ({len(check_run(new, planned, room, TODAY).materials)} materials, "
            f"both outlooks); lot by lot {alone:.3f} s, {alone / served:.0f} × (limit {MOST_SECONDS} s)"
        )
    return within


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path)
    folder = parser.parse_args().folder
    good = True
    if folder is None:
        print("cases: left out, for no folder of cases with exact answers was named")
    else:
        good = right(folder)
    return 0 if fast() and good else 1


if __name__ == "__main__":
    sys.exit(main())
