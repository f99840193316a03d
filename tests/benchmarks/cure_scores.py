"""How well the cure forecast foretells, beside simple methods: ``python -m tests.benchmarks.cure_scores [FOLDER]``.

FOLDER holds sets of simulated cures, see `cure_sets`; without it only sets made here are forecast. Forecast
is by ``manage.py forecast_cure`` for one to four weekly weighings, without and with the log of the room. Printed is a
table: mean error of the ready day and of a bar's weight on the final day with the standard error of that mean, what
share of the 80 % ranges hold, what share of the batches that stay too soft is found at 5 % false alarms, and what
share of the faulty weighings is found, and is really faulty.
"""

import argparse
import contextlib
import io
import json
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "curehouse.settings")

import django  # noqa: E402  (the settings come first)

django.setup()

from django.core.management import call_command  # noqa: E402

from tests.benchmarks.cure_sets import CureSet, Scores, scored  # noqa: E402
from tests.benchmarks.cure_simple import simple  # noqa: E402
from tests.benchmarks.cures_aired import aired  # noqa: E402
from tests.benchmarks.cures_made import made  # noqa: E402

HEAD = (
    "| set | method | ready day: error, days | of its ranges hold | weight: error, g | of its ranges hold "
    "| too soft found | faults found | rightly so |\n"
    "|---|---|---|---|---|---|---|---|---|"
)
OURS = {"ours": False, "ours, room log": True}


def forecast(cures: CureSet, k: int, *, room: bool) -> dict[str, Any]:
    """Forecast through the command, files in and file out."""
    with tempfile.TemporaryDirectory(prefix="curehouse-scores-") as name, contextlib.redirect_stdout(io.StringIO()):
        out = Path(name) / "forecast.json"
        call_command(
            "forecast_cure",
            history=cures.folder / "history.csv",
            current=cures.folder / f"current_k{k}.csv",
            cuts=cures.folder / "batches.csv",
            params=cures.folder / "params.json",
            room=cures.folder / "room.csv" if room else None,
            out=out,
        )
        return dict(json.loads(out.read_text(encoding="utf-8")))


def row(cures: CureSet, method: str, found: list[Scores]) -> str:
    """Return a row of the table: one figure for each number of weighings."""
    ours = method in OURS

    def each(figure: Callable[[Scores], str], *, shown: bool = True) -> str:
        return ", ".join(figure(one) for one in found) if shown else ""

    cells = (
        cures.folder.name,
        method,
        each(lambda s: f"{s.ready_error:.1f}±{s.ready_error_se:.1f}"),
        each(lambda s: f"{s.ready_cover:.2f}", shown=ours),
        each(lambda s: f"{s.weight_error_g:.2f}±{s.weight_error_se:.2f}"),
        each(lambda s: f"{s.weight_cover:.2f}", shown=ours),
        each(lambda s: f"{s.soft_recall:.2f}"),
        each(lambda s: f"{s.fault_recall:.2f}", shown=ours),
        each(lambda s: f"{s.fault_precision:.2f}", shown=ours),
    )
    return f"| {' | '.join(cells)} |"


def table(cures: CureSet, ks: list[int], *, beside: bool) -> None:
    """Print the rows of a set."""
    for method, room in OURS.items():
        print(row(cures, method, [scored(cures, k, forecast(cures, k, room=room)) for k in ks]), flush=True)
    if beside:
        said = [simple(cures, k) for k in ks]
        for method in said[0]:
            found = [scored(cures, k, one[method]) for k, one in zip(ks, said, strict=True)]
            print(row(cures, method, found), flush=True)


def main() -> int:
    """Score the sets of the folder, and the sets made here."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path, help="sets of simulated cures with their truth")
    parser.add_argument("--sets", nargs="*", help="only these sets of the folder")
    parser.add_argument("--weighings", nargs="*", type=int, default=[1, 2, 3, 4])
    parser.add_argument("--seeds", nargs="*", type=int, default=[1], help="of the sets made here")
    parser.add_argument("--ours", action="store_true", help="leave the simple methods out")
    said = parser.parse_args()
    print(HEAD)
    if said.folder is None:
        print("no folder given: only sets made here are scored", file=sys.stderr)
    elif not (said.folder / "_truth").is_dir():
        print(f"{said.folder} holds no sets with their truth: left out", file=sys.stderr)
    else:
        for truth in sorted((said.folder / "_truth").iterdir()):
            if not said.sets or truth.name in said.sets:
                table(CureSet(said.folder / truth.name), said.weighings, beside=not said.ours)
    for seed in said.seeds:
        with tempfile.TemporaryDirectory(prefix="curehouse-cures-") as name:
            for make in (made, aired):
                table(make(Path(name), f"{make.__name__}{seed}", seed=seed), said.weighings, beside=not said.ours)
    return 0


if __name__ == "__main__":
    sys.exit(main())
