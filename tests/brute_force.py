"""The measured rule once more, by the plainest code: what the house says is held against this.

Written apart from :mod:`curehouse.core.cure`; the only thing shared is the words of the states.
"""

import csv
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from curehouse.core.cure.rule import State

DATA = Path(__file__).parent / "data" / "cure_batches.csv"


@dataclass
class Row:
    bar: str
    day: float
    weight_g: float
    doubtful: bool = False


def load() -> dict[str, tuple[float, list[Row]]]:
    rows: dict[str, list[Row]] = defaultdict(list)
    shares: dict[str, float] = {}
    with DATA.open(newline="") as file:
        for line in csv.DictReader(file):
            rows[line["batch"]].append(Row(line["bar"], float(line["day"]), float(line["weight_g"])))
            shares[line["batch"]] = float(line["water_fraction"])
    return {name: (shares[name], sorted(rows[name], key=lambda r: (r.day, r.bar))) for name in rows}


def brute_weekly(days: np.ndarray, grams: np.ndarray) -> float:
    """Weekly loss in % as of the last weighing, nan where there is none."""
    now, back = days[-1], days[-1] - 7
    exact = np.isclose(days, back, atol=1e-6)
    if exact.any():
        return 100 * (grams[exact][0] - grams[-1]) / grams[-1]
    if back < days[0]:
        if now - days[0] < 5:
            return np.nan
        return 100 * (grams[0] - grams[-1]) * 7 / (now - days[0]) / grams[-1]
    gap = days[days > back].min() - days[days < back].max()
    if gap > 10:
        return np.nan
    return 100 * (np.interp(back, days, grams) - grams[-1]) / grams[-1]


def brute(rows: list[Row], trusted: set[int], share: float, newest: float) -> tuple:
    """Return (weekly, total, left, state) with a passed check, by the plainest code."""
    weekly, total, left = [], [], []
    for bar in {row.bar for row in rows}:
        good = [
            (row.day, row.weight_g)
            for index, row in enumerate(rows)
            if row.bar == bar and (not row.doubtful or index in trusted)
        ]
        if not good or good[-1][0] < newest - 10:
            continue
        days, grams = np.array(good).T
        weekly.append(brute_weekly(days, grams))
        total.append(100 * (1 - grams[-1] / grams[0]))
        left.append(100 * (1 - (grams[0] - grams[-1]) / (share * grams[0])))
    known = [value for value in weekly if not np.isnan(value)]
    median_weekly = np.median(known) if known else None
    over = median_weekly is not None and median_weekly > 0.75 + 1e-9
    whole_days = int(newest + 1e-6)
    if whole_days > 56 and over:
        state = State.TOO_SOFT
    elif whole_days >= 28 and known and not over:
        state = State.READY
    else:
        state = State.CURING
    medians = [np.median(values) if values else None for values in (total, left)]
    return median_weekly, *medians, state


def brute_all(rows: list[Row], share: float) -> tuple:
    newest = max(row.day for row in rows)
    marked = [index for index, row in enumerate(rows) if row.doubtful]
    *figures, without = brute(rows, set(), share, newest)
    trials = [set(marked), *({index} for index in marked)]
    others = [brute(rows, trial, share, newest)[-1] for trial in trials]
    # A whole round that gains over 2 % (a tare forgotten that nobody asked about) is never called ready.
    held = without is State.READY and figures[0] < -2
    state = State.LOOK_AGAIN if held or any(other is not without for other in others) else without
    return *figures, state
