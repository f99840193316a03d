"""Twelve simulated batches, assessed as of every reading, against brute force."""

import csv
from collections import Counter, defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from curehouse.core.cure.doubt import look_at
from curehouse.core.cure.measured import assess
from curehouse.core.cure.rule import BatchAtMoment, CheckOutcome, SampleSeries, State
from curehouse.core.cure.series import Weighing

DATA = Path(__file__).parents[2] / "data" / "cure_batches.csv"


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


BATCHES = load()


def brute_weekly(days: np.ndarray, grams: np.ndarray) -> float:
    """Weekly loss in % as of the last weighing, nan where there is none."""
    now, back = days[-1], days[-1] - 7
    if back < days[0]:
        if now - days[0] < 5:
            return np.nan
        return 100 * (grams[0] - grams[-1]) * 7 / (now - days[0]) / grams[-1]
    if back not in days:
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
    if newest > 56 and over:
        state = State.TOO_SOFT
    elif newest >= 28 and known and not over:
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
    state = State.LOOK_AGAIN if any(other is not without for other in others) else without
    return *figures, state


def assessed(rows: list[Row], share: float):
    bars = tuple(
        SampleSeries(
            bar,
            tuple(Weighing(r.day, r.weight_g, r.doubtful) for r in rows if r.bar == bar),
        )
        for bar in sorted({row.bar for row in rows})
    )
    day = max(row.day for row in rows)
    return assess(BatchAtMoment(int(day), day, bars, CheckOutcome.PASSED, share))


def with_doubts(rows: list[Row], share: float) -> list[Row]:
    """Mark what would have been asked about on entry."""
    seen: list[Row] = []
    for row in rows:
        series: dict[str, list[Weighing]] = defaultdict(list)
        for earlier in seen:
            series[earlier.bar].append(Weighing(earlier.day, earlier.weight_g, earlier.doubtful))
        own = series.pop(row.bar, [])
        others = [SampleSeries(label, tuple(weighings)) for label, weighings in series.items()]
        doubt = look_at(row.weight_g, own, row.day, batch=others, water_share=share)
        seen.append(Row(row.bar, row.day, row.weight_g, doubt is not None))
    return seen


def compare(rows: list[Row], share: float) -> list[State]:
    states = []
    for count in range(1, len(rows) + 1):
        known = rows[:count]
        verdict = assessed(known, share)
        weekly, total, left, state = brute_all(known, share)
        where = f"as of reading {count}"
        assert verdict.weekly_loss_pct == pytest.approx(weekly, abs=1e-9), where
        assert verdict.total_loss_pct == pytest.approx(total, abs=1e-9), where
        assert verdict.water_left_pct == pytest.approx(left, abs=1e-9), where
        assert verdict.state is state, where
        states.append(state)
    return states


@pytest.mark.parametrize("name", BATCHES)
def test_the_verdict_equals_brute_force_as_of_every_reading(name):
    share, rows = BATCHES[name]
    states = compare(rows, share)
    assert states[0] is State.CURING


@pytest.mark.parametrize("name", BATCHES)
def test_the_verdict_equals_brute_force_with_doubtful_readings_left_out(name):
    share, rows = BATCHES[name]
    compare(with_doubts(rows, share), share)


def test_the_batches_show_missing_weeks_faults_and_most_states():
    states: Counter[State] = Counter()
    doubtful = 0
    for share, rows in BATCHES.values():
        marked = with_doubts(rows, share)
        doubtful += sum(row.doubtful for row in marked)
        states.update(compare(marked, share))
    gaps = [
        later - earlier
        for _, rows in BATCHES.values()
        for earlier, later in zip(sorted({r.day for r in rows}), sorted({r.day for r in rows})[1:], strict=False)
    ]
    assert max(gaps) > 10
    assert doubtful >= 3
    assert {State.CURING, State.READY, State.LOOK_AGAIN} <= set(states)
