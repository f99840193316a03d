"""The weekly loss on a published irregular record, against scipy's interpolation.

Data set `wtloss` of the R package MASS: 52 weights over 246 days (a person's,
in kg: a general check of irregular series).
"""

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import interp1d

from curehouse.core.cure.series import Weighing, loss_over_last_seven_days

RECORD = Path(__file__).parents[2] / "reference" / "mass_wtloss.csv"


@pytest.fixture(scope="module")
def record() -> list[tuple[float, float]]:
    with RECORD.open(newline="") as file:
        return [(float(row["Days"]), float(row["Weight"])) for row in csv.DictReader(file)]


def independent_loss_pct(days: np.ndarray, weights: np.ndarray, newest: int) -> float | None:
    """Loss over the last seven days as of one weighing; None where the rule gives none."""
    now, back = days[newest], days[newest] - 7
    if back < days[0]:
        span = now - days[0]
        if span < 5:
            return None
        return 100 * (weights[0] - weights[newest]) * 7 / span / weights[newest]
    exact = np.any(np.isclose(days, back, atol=1e-9))
    right = int(np.searchsorted(days, back))
    if not exact and days[right] - days[right - 1] > 10:
        return None
    then = float(interp1d(days, weights)(back))
    return 100 * (then - weights[newest]) / weights[newest]


def test_the_record_is_the_published_one(record):
    assert len(record) == 52
    assert (record[0], record[-1]) == ((0, 184.35), (246, 112.6))


def test_weekly_loss_equals_scipy_as_of_every_weighing_of_the_record(record):
    days = np.unique([day for day, _ in record])
    weights = np.array([np.mean([w for d, w in record if d == day]) for day in days])
    assert len(days) < len(record), "two weights of one day are part of the record"
    found = []
    for newest, day in enumerate(days):
        mine = loss_over_last_seven_days(Weighing(d, w) for d, w in record if d <= day)
        theirs = independent_loss_pct(days, weights, newest)
        found.append(theirs)
        if theirs is None:
            assert mine is None, f"day {day}"
        else:
            assert mine.percent == pytest.approx(theirs, abs=1e-9), f"day {day}"
    assert sum(loss is not None for loss in found) > 30
    assert any(loss is None for loss in found[3:]), "a gap of over 10 days is part of the record"


def test_weekly_loss_equals_scipy_on_the_record_cut_up_at_random(record):
    rng = np.random.default_rng(20)
    all_days = np.unique([day for day, _ in record])
    means = {day: np.mean([w for d, w in record if d == day]) for day in all_days}
    for _ in range(200):
        days = np.sort(rng.choice(all_days, size=rng.integers(2, len(all_days)), replace=False))
        weights = np.array([means[day] for day in days])
        mine = loss_over_last_seven_days(map(Weighing, days.tolist(), weights.tolist()))
        theirs = independent_loss_pct(days, weights, len(days) - 1)
        assert (mine is None) == (theirs is None)
        if theirs is not None:
            assert mine.percent == pytest.approx(theirs, abs=1e-9)
