"""Cures made here by a third family, weighed as makers weigh: until a batch is dry, or some weeks more or fewer.

A bar loses its water by two exponentials, a quick one and a slow one, under air that wanders from day to day and that it
soaks up with a delay of its batch's own. The scale shows whole grams. Written as `cures_made` does.
"""

from datetime import timedelta
from pathlib import Path

import numpy as np

from tests.benchmarks.cure_sets import HORIZON, WEEK, CureSet, Floats
from tests.benchmarks.cures_made import DAYS, FIRST, weighed, written

STEP_G = 1.0
_LIMIT, _LEAST_WEEKS, _MOST_WEEKS = 0.0075, 4, 10


def twofold(folder: Path, name: str, *, seed: int, finished: int = 160, current: int = 200, formulas: int = 9) -> CureSet:
    """Write a set and its truth beneath a folder."""
    rng = np.random.default_rng([99, seed])
    place, truth = folder / name, folder / "_truth" / name
    place.mkdir(parents=True)
    truth.mkdir(parents=True)
    count = finished + current
    starts = np.sort(rng.integers(40, 40 + 4 * count, count))
    air = _air(rng, int(starts[-1]) + HORIZON + 10)
    usual = [
        (
            rng.lognormal(np.log(0.66), 0.06),
            rng.uniform(0.25, 0.45),
            *rng.lognormal(np.log([5, 28]), 0.2),
            rng.uniform(0.16, 0.25),
        )
        for _ in range(formulas)
    ]
    rows, curves, faults, cuts = [], [], [], []
    for number, start in enumerate(starts):
        key, formula = f"{name}-{number:04d}", int(rng.integers(formulas))
        cuts.append((key, FIRST + timedelta(days=int(start)), ""))
        water, bars = _batch(rng, usual[formula], air, int(start))
        for bar, curve in enumerate(bars):
            curves.append((key, f"b{bar}", f"{water:.4f}", *(f"{w:.3f}" for w in curve)))
        last = _last_week(rng, bars) if number < finished else _LEAST_WEEKS
        for bar, day, session, weight_g, faulty in weighed(rng, bars, last, step_g=STEP_G):
            row = (key, f"F{formula}", f"b{bar}", f"{water:.4f}", day, f"{weight_g:.1f}")
            rows.append((number < finished, session, row))
            faults.append((key, f"b{bar}", day, int(faulty)))
    written(place, truth, rows, curves, faults, cuts, {"": (air, np.full(len(air), 20.0))}, step_g=STEP_G)
    return CureSet(place)


def _air(rng: np.random.Generator, days: int) -> Floats:
    """Return relative humidity in % by day."""
    season = 54 + 6 * np.cos(2 * np.pi * (np.arange(days) - 200) / 365.25)
    spell = np.zeros(days)
    for day in range(1, days):
        spell[day] = 0.93 * spell[day - 1] + rng.normal(0, 3.0)
    out: Floats = np.clip(season + spell, 20, 90)
    return out


def _batch(
    rng: np.random.Generator, usual: tuple[float, float, float, float, float], air: Floats, start: int
) -> tuple[float, list[Floats]]:
    share, quick, first, second, water = usual
    recorded = float(np.clip(water + rng.normal(0, 0.012), 0.12, 0.3))
    real = recorded * np.exp(rng.normal(0, 0.03) + (rng.normal(0, 0.2) if rng.random() < 0.06 else 0.0))
    odd = rng.normal(0, 0.5) if rng.random() < 0.08 else 0.0
    first, second = first * np.exp(rng.normal(0, 0.25) + odd), second * np.exp(rng.normal(0, 0.25) + odd)
    share, quick = share * np.exp(rng.normal(0, 0.06)), quick * np.exp(rng.normal(0, 0.15))
    damp = 0.0005 * _soaked(air, start, np.exp(-1 / rng.uniform(4, 10)))
    size_g = rng.normal(115, 12)
    bars = []
    for _ in range(int(rng.integers(2, 6))):
        own = first * np.exp(rng.normal(0, 0.08)), second * np.exp(rng.normal(0, 0.08))
        gone = quick * -np.expm1(-DAYS / own[0]) + (1 - quick) * -np.expm1(-DAYS / own[1])
        lost = min(real * share * np.exp(rng.normal(0, 0.02)), 0.95 * real) * gone
        bars.append(size_g * np.exp(rng.normal(0, 0.04)) * (1 - lost + damp))
    return recorded, bars


def _soaked(air: Floats, start: int, keep: float) -> Floats:
    """Return what the air has soaked in since the cut, in points of humidity."""
    state, path = air[start - 30], np.empty(HORIZON + 1)
    for day in range(start - 30, start + HORIZON + 1):
        state = keep * state + (1 - keep) * air[day]
        if day >= start:
            path[day - start] = state
    return path - path[0]


def _last_week(rng: np.random.Generator, bars: list[Floats]) -> int:
    """Return after which week a finished batch was weighed no more: about when it was dry."""
    weights = np.array(bars)[:, : WEEK * _MOST_WEEKS + 1 : WEEK]
    dry = np.flatnonzero(np.median(weights[:, :-1] / weights[:, 1:] - 1, axis=0)[_LEAST_WEEKS - 1 :] <= _LIMIT)
    week = _LEAST_WEEKS + (int(dry[0]) if len(dry) else _MOST_WEEKS)
    return min(max(week + int(rng.integers(-1, 5)), _LEAST_WEEKS), _MOST_WEEKS)
