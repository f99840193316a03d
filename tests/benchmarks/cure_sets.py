"""A set of simulated cures on disk: what a forecast may see, and what came of it; scores of a forecast against that.

A set's folder holds ``history.csv``, ``current_k1.csv`` to ``current_k4.csv``, ``batches.csv``, ``room.csv`` and
``params.json``; beside it lies ``_truth/SET`` with ``truth_curves.csv.gz`` (noise-free weights by the day) and
``faults_truth.csv``. A batch is ready on the first whole day from the least age on at which the median over its sample
bars of the week's loss over the weight is within the limit; it is too soft if that comes after the latest day, or if
the recorded water still in the bar on that day is more than the limit.
"""

import csv
import gzip
import json
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
HORIZON, WEEK = 126, 7
FALSE_ALARMS = 0.05


@dataclass(frozen=True)
class CureSet:
    """A set by its folder."""

    folder: Path

    def history(self) -> dict[str, Any]:
        return weighings(self.folder / "history.csv")

    def current(self, k: int) -> dict[str, Any]:
        return weighings(self.folder / f"current_k{k}.csv")

    @cached_property
    def params(self) -> dict[str, float]:
        return dict(json.loads((self.folder / "params.json").read_text(encoding="utf-8")))

    @cached_property
    def truth(self) -> dict[str, "Came"]:
        curves: dict[str, dict[str, Floats]] = defaultdict(dict)
        water = {}
        path = self.folder.parent / "_truth" / self.folder.name / "truth_curves.csv.gz"
        with gzip.open(path, "rt", encoding="utf-8") as file:
            for row in csv.DictReader(file):
                curves[row["batch"]][row["bar"]] = np.array([float(row[f"d{day}"]) for day in range(HORIZON + 1)])
                water[row["batch"]] = float(row["water_fraction"])
        return {batch: self._came(water[batch], bars) for batch, bars in curves.items()}

    @cached_property
    def faults(self) -> set[tuple[str, str, int]]:
        path = self.folder.parent / "_truth" / self.folder.name / "faults_truth.csv"
        with path.open(encoding="utf-8") as file:
            return {(row["batch"], row["bar"], int(float(row["day"]))) for row in csv.DictReader(file) if int(row["is_fault"])}

    def _came(self, water: float, bars: dict[str, Floats]) -> "Came":
        weights = np.array(list(bars.values()))
        least, latest = int(self.params["min_days"]), int(self.params["soft_ready_after_day"])
        loss = np.median(100 * (weights[:, :-WEEK] - weights[:, WEEK:]) / weights[:, WEEK:], axis=0)
        dry = np.flatnonzero(loss[least - WEEK :] <= self.params["ready_threshold_pct_per_week"])
        ready = least + int(dry[0]) if len(dry) else HORIZON
        final = int(self.params["final_day"])
        lost = 1 - float(np.median(weights[:, final] / weights[:, 0]))
        left_pct = 100 * (water - lost) / (1 - lost)
        soft = ready > latest or left_pct > self.params["soft_left_pct"]
        return Came(ready, soft, {bar: float(curve[final]) for bar, curve in bars.items()})


@dataclass(frozen=True)
class Came:
    """What came of a batch: its ready day, whether it stayed too soft, its bars' weights on the final day."""

    ready_day: int
    soft: bool
    weight_g: dict[str, float]


def weighings(path: Path) -> dict[str, Any]:
    """Return formula, water share and weights by bar and day, of each batch of a file."""
    out: dict[str, Any] = {}
    with path.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            batch = out.setdefault(
                row["batch"], {"formula": row["formula"], "water": float(row["water_fraction"]), "bars": defaultdict(dict)}
            )
            batch["bars"][row["bar"]][float(row["day"])] = float(row["weight_g"])
    return out


@dataclass(frozen=True)
class Scores:
    """Scores of one forecast; errors in days and grams, with the standard error of the mean between batches."""

    ready_error: float
    ready_error_se: float
    ready_cover: float
    weight_error_g: float
    weight_error_se: float
    weight_cover: float
    soft_recall: float
    fault_recall: float
    fault_precision: float


def scored(cures: CureSet, k: int, told: dict[str, Any]) -> Scores:
    """Hold a forecast, as ``forecast_cure`` writes it, against what came."""
    pairs = [(told[key], cures.truth[key]) for key in cures.current(k)]
    ready = np.array([[one["ready_day_p10"], one["ready_day_p50"], one["ready_day_p90"]] for one, _ in pairs])
    came = np.array([truth.ready_day for _, truth in pairs])
    off = np.abs(ready[:, 1] - came)
    bars = [
        (n, one["bars"][bar], weight_g)
        for n, (one, truth) in enumerate(pairs)
        for bar, weight_g in truth.weight_g.items()
        if bar in one["bars"]
    ]
    errors = np.array([abs(said["p50"] - weight_g) for _, said, weight_g in bars])
    by_batch = np.bincount([n for n, _, _ in bars], weights=errors - errors.mean(), minlength=len(pairs))
    said_faults = {(batch, bar, int(day)) for batch in told for batch, bar, day in told[batch].get("faults", [])}
    seen = {(b, bar, int(day)) for b, one in cures.current(k).items() for bar, days in one["bars"].items() for day in days}
    faults = cures.faults & seen
    return Scores(
        ready_error=float(off.mean()),
        ready_error_se=float(off.std(ddof=1) / np.sqrt(len(off))),
        ready_cover=float(((ready[:, 0] <= came) & (came <= ready[:, 2])).mean()),
        weight_error_g=float(errors.mean()),
        weight_error_se=float(np.sqrt(np.square(by_batch).sum()) / len(errors)),
        weight_cover=float(np.mean([said["p10"] <= weight_g <= said["p90"] for _, said, weight_g in bars])),
        soft_recall=_recall([one["soft_probability"] for one, _ in pairs], [truth.soft for _, truth in pairs]),
        fault_recall=len(said_faults & faults) / max(len(faults), 1),
        fault_precision=len(said_faults & faults) / max(len(said_faults), 1),
    )


def _recall(said: list[float], soft: list[bool]) -> float:
    """Return the share of soft batches said to be likelier so than all but 5 % of the others."""
    others = sorted((one for one, is_soft in zip(said, soft, strict=True) if not is_soft), reverse=True)
    if len(others) == len(said):
        return float("nan")
    limit = others[int(FALSE_ALARMS * len(others))]
    return float(np.mean([one > limit for one, is_soft in zip(said, soft, strict=True) if is_soft]))
