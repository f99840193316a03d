"""How the constants of the cure forecast are settled: ``python -m tests.benchmarks.settle_constants [FOLDER ...]``.

Nothing here looks at what came of any cure of FOLDER: of its sets (see `cure_sets`) only ``history.csv`` is read, with
the dates of the cuts and the room's log, as a house would have them. What came is known only of the sets made here, by
three families of cures (`cures_made`, `cures_aired`, `cures_twofold`) with seeds of their own. Printed is

- what each history teaches where next to nothing is held beforehand, and their middle: the cold start;
- errors on sets made here by what spells the damp is made of, and how strong it is taken to be before any is seen;
- by what factor ranges had to be wider on sets made here, by how often they should hold, after many finished batches and
  after none to speak of; how far such houses lie apart; and how often ranges hold by what replaying a history says of it;
- what a log of the room is worth: errors without one, with the rooms' own, without its temperatures, and with that of
  another place, after many finished batches and after four.
"""

import argparse
import contextlib
import csv
import os
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path
from unittest.mock import patch

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "curehouse.settings")

import django  # noqa: E402  (the settings come first)

django.setup()

import numpy as np  # noqa: E402

from curehouse.commands.management.commands import forecast_cure as files  # noqa: E402
from curehouse.core.cure.forecast import calibrating  # noqa: E402
from curehouse.core.cure.forecast import prior as cold  # noqa: E402
from curehouse.core.cure.forecast.batches import ForecastRule, WeighedBatch  # noqa: E402
from curehouse.core.cure.forecast.beside import Beside  # noqa: E402
from curehouse.core.cure.forecast.definitions import days_wanted, ready_days  # noqa: E402
from curehouse.core.cure.forecast.draws import drawn  # noqa: E402
from curehouse.core.cure.forecast.humidity import Rooms  # noqa: E402
from curehouse.core.cure.forecast.learning import learn  # noqa: E402
from curehouse.core.cure.forecast.packing import packed  # noqa: E402
from curehouse.core.cure.forecast.prior import COVARIATES, CURVE, Prior, cold_prior  # noqa: E402
from curehouse.core.cure.forecast.widening import Held, Houses, factors, found, joined  # noqa: E402
from tests.benchmarks.cure_scores import forecast  # noqa: E402
from tests.benchmarks.cure_sets import CureSet, Floats, Scores, scored  # noqa: E402
from tests.benchmarks.cures_aired import aired  # noqa: E402
from tests.benchmarks.cures_made import made  # noqa: E402
from tests.benchmarks.cures_twofold import twofold  # noqa: E402

SEEDS = (101, 102)
LEVELS = (0.80, 0.82, 0.83, 0.84, 0.85, 0.86)
BOUNDS = (0.75, 0.90)
NAMES = ("log F", "log tau", "log n")
FEW_WEIGHINGS, ALL_WEIGHINGS = (1, 3), (1, 2, 3, 4)
DAMPS = ((0.0015, (2.0, 0.3)), (0.0022, (2.0, 0.3)), (0.0022, (2.0, 1.0)), (0.0022, (1.0, 1.0)), (0.0028, (2.0, 1.0)))
LONG = 40
ERRORS = ("ready_error", "weight_error_g")


def history(cures: CureSet) -> list[WeighedBatch]:
    return files._batches(cures.folder / "history.csv", files._cuts(cures.folder / "batches.csv"))


def rooms(cures: CureSet) -> Rooms:
    return files._rooms(cures.folder / "room.csv", {batch.room for batch in history(cures)})


def vague() -> Prior:
    """Return a prior by which water may do anything, and the level may lie anywhere near."""
    usual = cold_prior()
    mean = usual.coefficient_array().copy()
    mean[:, 1] = 0.0
    cov = np.asarray(usual.coefficient_cov).reshape(CURVE, COVARIATES, CURVE, COVARIATES).copy()
    for a in range(CURVE):
        cov[a, 0, a, 0] *= 9.0
        cov[a, 1, a, 1] = 100.0
    return replace(usual, coefficients=tuple(mean.ravel().tolist()), coefficient_cov=tuple(cov.ravel().tolist()))


def cold_start(sets: list[CureSet]) -> None:
    """Print level, slope by the water share and make of the damp of each history, and their middle."""
    print(f"\ncold start: what histories of {LONG} batches or more teach")
    levels, slopes = [], []
    for cures in sets:
        finished = history(cures)
        if len(finished) < LONG:
            continue
        prior = learn(finished, step_g=cures.params["scale_resolution_g"], start=vague())
        cov = np.asarray(prior.coefficient_cov).reshape(CURVE, prior.width(), CURVE, prior.width())
        table = prior.coefficient_array()
        levels.append(table[:, 0])
        slopes.append([[table[a, 1], cov[a, 1, a, 1]] for a in range(CURVE)])
        shown = "  ".join(
            f"{name} {table[a, 0]:.2f}, by water {table[a, 1]:+.1f}±{np.sqrt(cov[a, 1, a, 1]):.1f}"
            for a, name in enumerate(NAMES)
        )
        print(f"{cures.folder.name:>10}: {shown}")
    for a, name in enumerate(NAMES):
        level = np.array(levels)[:, a]
        mean, sd, between = pooled(*np.array(slopes)[:, a].T)
        print(
            f"{name}: middle {np.median(level):.2f}, between histories ±{level.std():.2f}; "
            f"by water {mean:+.2f}±{sd:.2f}, between ±{between:.2f}"
        )


def pooled(found: Floats, var: Floats) -> tuple[float, float, float]:
    """Return the mean of what several found, its standard error, and their spread (DerSimonian and Laird, 1986)."""
    weight = 1 / var
    mean = (weight * found).sum() / weight.sum()
    beyond = (weight * (found - mean) ** 2).sum() - len(found) + 1
    between = max(float(beyond), 0.0) / (weight.sum() - (weight**2).sum() / weight.sum())
    weight = 1 / (var + between)
    return float((weight * found).sum() / weight.sum()), float(weight.sum() ** -0.5), float(np.sqrt(between))


def damp(folder: Path) -> None:
    """Print errors by the make and the strength of the damp, where much is known of a house and where little is."""
    print("\nspread of the damp before any is seen, long and quick spells: ready day, days / holds, weight, g / holds")
    for sd, mix in DAMPS:
        shown = []
        for make, finished in product((made, aired), (100, 4)):
            place = folder / f"damp-{sd}-{mix}-{finished}"
            cures = make(place, make.__name__, seed=SEEDS[0] + 2, finished=finished, current=120)
            with patch.multiple(cold, _COLD_ROOM_SD=sd, _COLD_MIX=mix):
                got = scored(cures, 3, forecast(cures, 3, room=False))
            shown.append(f"{got.ready_error:.2f} / {got.ready_cover:.2f}, {got.weight_error_g:.3f} / {got.weight_cover:.2f}")
        print(f"{sd:.4f}, {mix[0]:g} and {mix[1]:g}: {'   '.join(shown)}", flush=True)


def widths(sets: list[CureSet]) -> None:
    """Print what factors sets want, how far they lie apart, and how often ranges hold by what a history says of it."""
    houses = [house for cures in sets for house in _houses(cures)]
    for number, (name, what) in enumerate((("ready day", calibrating.READY), ("weights", calibrating.WEIGHT))):
        print(f"\nranges of the {name}: factors that replaying finds for 80 of 100 to hold, and that were needed")
        for house, told in houses:
            shown = [np.exp(found(joined(held), 0.8, what)[0]) for held in told[number]]
            print(f"{house:>24}: {shown[0]:.2f}, {shown[1]:.2f}")
        for level in LEVELS:
            needed = np.array([found(joined(came), level, what) for _, told in houses for came in told[number][1:]])
            mean, error, between = pooled(needed[:, 0], needed[:, 1] ** 2)
            here = replace(what, usual=float(np.exp(mean)), spread=max(between, 1e-3))
            held = np.array([_holds(told[number], level, here) for _, told in houses])
            inside = np.mean((held >= BOUNDS[0]) & (held <= BOUNDS[1]))
            print(
                f"level {level:.2f}: usual {np.exp(mean):.3f} (log ±{error:.3f}), houses ±{between:.3f}; ranges to come hold "
                f"{held.mean():.3f} ±{held.std():.3f}, within {BOUNDS[0]:.2f} and {BOUNDS[1]:.2f}: {inside:.2f}, "
                f"80 or more: {np.mean(held >= 0.8):.2f}",
                flush=True,
            )


def _holds(told: tuple[list[Held], list[Held]], level: float, houses: Houses) -> list[float]:
    """Return how often ranges hold after each number of weighings, as wide as the history wants them."""
    history, came = told
    return [one.share(float(np.log(by))) for one, by in zip(came, factors(history, level, houses), strict=True)]


def _houses(cures: CureSet) -> Iterator[tuple[str, list[tuple[list[Held], list[Held]]]]]:
    """Yield what the history replayed says of the ready day and of weights, and what came, without a log and with it."""
    finished, step_g = history(cures), cures.params["scale_resolution_g"]
    rule = ForecastRule(soft_water_of_bar_pct=cures.params["soft_left_pct"])
    for logs in (None, rooms(cures)):
        prior = learn(finished, step_g=step_g, room=logs)
        again = calibrating.replayed(finished, cold_prior(), rule, step_g=step_g, room=logs)
        came = [_come(cures, k, prior, rule, logs) for k in ALL_WEIGHINGS]
        told = [
            ([kind(one) for one in again], [kind(one) for one in came])
            for kind in (calibrating.ready_held, calibrating.weight_held)
        ]
        yield f"{cures.folder.name}{'' if logs is None else ', log'}", told
    print(f"({cures.folder.name} done)", file=sys.stderr, flush=True)


def _come(cures: CureSet, k: int, prior: Prior, rule: ForecastRule, logs: Rooms | None) -> list[calibrating.Replayed]:
    """Return what is foretold of batches to come beside what really came of them."""
    batches = files._batches(cures.folder / f"current_k{k}.csv", files._cuts(cures.folder / "batches.csv"))
    step_g, final = cures.params["scale_resolution_g"], float(cures.params["final_day"])
    wanted, knots = days_wanted(rule, np.array([final]))
    beside = Beside([*history(cures), *batches], batches, prior, step_g=step_g, room=logs)
    out = []
    for group, _places in packed(batches, prior, logs, chunk=LONG):
        spells = beside.spells(group)
        draws = drawn(group, prior, wanted, step_g=step_g, draws=150, room=logs, spells=spells)
        ready = ready_days(draws, group.water, wanted, knots, rule)
        for n, batch in enumerate(group.batches):
            truth, labels = cures.truth[batch.key], group.labels[n]
            seen = calibrating.Seen(batch.key, 0, k + 1, round(batch.last_day), int(final), labels, batch.cut_day, batch.room)
            weight_g = draws.weight_g[n][..., np.searchsorted(wanted, final)]
            read_g = np.array([truth.weight_g[label] for label in labels])
            out.append(calibrating.Replayed(ready[n], np.array([float(truth.ready_day)]), weight_g, read_g, 0.0, seen))
    return out


def worth_of_a_log(folder: Path, seeds: tuple[int, ...]) -> None:
    """Print errors on sets of air-dried cures, without a log and with several."""
    print("\nwhat a log is worth: error of the ready day in days / of the weight in g after one and three weighings")
    for finished in (100, 4):
        told: dict[str, list[list[Scores]]] = {}
        for seed in seeds:
            own, other = (
                aired(folder, f"{log}{finished}-{seed}", seed=seed, finished=finished, current=120, log=log)
                for log in ("own", "other")
            )
            each = {"none": (own, False), "own": (own, True), "another place's": (other, True)}
            for log, (cures, room) in each.items():
                told.setdefault(log, []).append(_scores(cures, room=room))
            _forget_temperatures(own.folder / "room.csv")
            told.setdefault("own, no temperature", []).append(_scores(own, room=True))
        for log, scores in told.items():
            days, grams = (np.mean([[getattr(k, name) for k in one] for one in scores], axis=0) for name in ERRORS)
            shown = "   ".join(f"{day:.2f} / {gram:.3f}" for day, gram in zip(days, grams, strict=True))
            print(f"{finished:>4} finished, log {log:<20} {shown}")


def _scores(cures: CureSet, *, room: bool) -> list[Scores]:
    return [scored(cures, k, forecast(cures, k, room=room)) for k in FEW_WEIGHINGS]


def _forget_temperatures(path: Path) -> None:
    with path.open(encoding="utf-8") as file:
        rows = [{**row, "temperature_c": ""} for row in csv.DictReader(file)]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)


def sets_of(folder: Path, seeds: tuple[int, ...], **size: int) -> Iterator[CureSet]:
    for seed, make in product(seeds, (made, aired, twofold)):
        yield make(folder, f"{make.__name__}{seed}{'-few' if size else ''}", seed=seed, **size)


def main() -> int:
    """Print what the constants rest on."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path, help="sets of cures of which the histories are read")
    parser.add_argument("--only", choices=("cold", "damp", "levels", "log"))
    said = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="curehouse-settle-") as name, contextlib.suppress(KeyboardInterrupt):
        here = list(sets_of(Path(name), SEEDS)) if said.only in (None, "cold", "levels") else []
        if said.only in (None, "cold"):
            cold_start([*(CureSet(folder) for folder in said.folders), *here])
        if said.only in (None, "damp"):
            damp(Path(name))
        if said.only in (None, "levels"):
            widths(here)
            widths(list(sets_of(Path(name), SEEDS[:1], finished=4)))
        if said.only in (None, "log"):
            worth_of_a_log(Path(name), SEEDS)
    return 0


if __name__ == "__main__":
    sys.exit(main())
