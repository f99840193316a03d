"""Cures made here by a family of their own, written as a set on disk.

A bar dries from two stores, a thin rind and a core, each by a slab's series (Crank, The Mathematics of Diffusion, 1975,
eq. 4.18), under air whose dampness is a season, slow spells and quick ones, soaked up with a delay. Batches of a
formula differ; some take more water than recorded; some lie differently and dry by another clock. Weighed every five to
nine days by a coarse scale, some weeks missed, some bars taken away, and one weighing in thirty wrong.
"""

import csv
import gzip
import json
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from tests.benchmarks.cure_sets import HORIZON, CureSet, Floats

DAYS = np.arange(HORIZON + 1.0)
FIRST = date(2021, 1, 4)
STEP_G = 0.5
FAULTY = 1 / 30


def made(folder: Path, name: str, *, seed: int, finished: int = 120, current: int = 200, formulas: int = 8) -> CureSet:
    """Write a set and its truth beneath a folder."""
    rng = np.random.default_rng(seed)
    place, truth = folder / name, folder / "_truth" / name
    place.mkdir(parents=True)
    truth.mkdir(parents=True)
    count = finished + current
    starts = np.sort(rng.integers(40, 40 + 4 * count, count))
    air = _air(rng, int(starts[-1]) + HORIZON + 10)
    usual = [(rng.normal(0.70, 0.05), rng.lognormal(np.log(60), 0.25), rng.uniform(0.17, 0.24)) for _ in range(formulas)]
    rows, curves, faults, cuts = [], [], [], []
    for number, start in enumerate(starts):
        key, formula = f"{name}-{number:04d}", int(rng.integers(formulas))
        cuts.append((key, FIRST + timedelta(days=int(start)), ""))
        water, bars = _batch(rng, usual[formula], air, int(start))
        last = 10 if number < finished else 4
        readings = weighed(rng, bars, last)
        for bar, curve in enumerate(bars):
            curves.append((key, f"b{bar}", f"{water:.4f}", *(f"{w:.3f}" for w in curve)))
        for bar, day, session, weight_g, faulty in readings:
            rows.append((number < finished, session, (key, f"F{formula}", f"b{bar}", f"{water:.4f}", day, f"{weight_g:.1f}")))
            faults.append((key, f"b{bar}", day, int(faulty)))
    air_c = np.full(len(air), 20.0)
    written(place, truth, rows, curves, faults, cuts, {"": (air, air_c)})
    return CureSet(place)


def _air(rng: np.random.Generator, days: int) -> Floats:
    """Return relative humidity in % by day."""
    season = 52 + 7 * np.cos(2 * np.pi * (np.arange(days) - 200) / 365.25)
    slow, quick = np.zeros(days), np.zeros(days)
    for day in range(1, days):
        slow[day] = 0.97 * slow[day - 1] + rng.normal(0, 1.0)
        quick[day] = 0.7 * quick[day - 1] + rng.normal(0, 4.0)
    out: Floats = np.clip(season + slow + quick, 20, 90)
    return out


def _batch(rng: np.random.Generator, usual: tuple[float, float, float], air: Floats, start: int) -> tuple[float, list[Floats]]:
    share, clock, water = usual
    recorded = float(np.clip(water + rng.normal(0, 0.012), 0.12, 0.3))
    real = recorded * (np.exp(rng.normal(0, 0.25)) if rng.random() < 0.06 else np.exp(rng.normal(0, 0.03)))
    clock *= np.exp(rng.normal(0, 0.2)) * (np.exp(rng.normal(0, 0.5)) if rng.random() < 0.08 else 1.0)
    share *= np.exp(rng.normal(0, 0.05))
    damp = _soaked(air, start) * 0.006
    rind = rng.uniform(0.1, 0.3)
    size_g = rng.normal(110, 12)
    bars = []
    for _ in range(int(rng.integers(2, 6))):
        own = clock * np.exp(rng.normal(0, 0.07))
        gone = rind * slab(DAYS / (own / 8)) + (1 - rind) * slab(DAYS / own)
        grams = size_g * np.exp(rng.normal(0, 0.04))
        bars.append(grams * (1 - np.minimum(real * share * np.exp(rng.normal(0, 0.02)), 0.95 * real) * gone + damp))
    return recorded, bars


def slab(clock: Floats) -> Floats:
    """Return the share gone of what leaves a slab by Dt/a^2: the series of Crank's eq. 4.18."""
    odd = 2 * np.arange(40)[:, None] + 1
    out: Floats = 1 - (8 / np.pi**2) * np.sum(np.exp(-(odd**2) * np.pi**2 * clock / 4) / odd**2, axis=0)
    return np.where(clock == 0, 0.0, out)


def _soaked(air: Floats, start: int) -> Floats:
    keep, state = np.exp(-1 / 6), air[start - 30]
    path = np.empty(HORIZON + 1)
    for day in range(start - 30, start + HORIZON + 1):
        state = keep * state + (1 - keep) * air[day]
        if day >= start:
            path[day - start] = state
    return (path - path[0]) / 10


def weighed(
    rng: np.random.Generator, bars: list[Floats], last: int, *, step_g: float = STEP_G
) -> list[tuple[int, int, int, float, bool]]:
    """Return bar, day, session, weight and whether it is wrong; a bar may be taken away, a week missed."""
    out = []
    gone_after = [int(rng.integers(3, 30)) if rng.random() < 0.05 else 99 for _ in bars]
    for session in range(last + 1):
        day = 0 if session == 0 else 7 * session + int(rng.integers(-2, 3))
        if session > 1 and rng.random() < 0.06:
            continue
        drift = rng.normal(0, 0.1) + (12.0 if rng.random() < 0.01 else 0.0)
        for bar, curve in enumerate(bars):
            if session > gone_after[bar]:
                continue
            true_g = curve[day] + drift
            if rng.random() < FAULTY:
                true_g = _wrong(rng, true_g, bars, bar, day)
            weight_g = max(round((true_g + rng.normal(0, 0.1)) / step_g) * step_g, step_g)
            out.append((bar, day, session, weight_g, abs(weight_g - curve[day]) > max(1.0, 2.5 * step_g)))
    return out


def _wrong(rng: np.random.Generator, grams: float, bars: list[Floats], bar: int, day: int) -> float:
    kind = int(rng.integers(4))
    if kind == 0:
        return float(grams * 10.0 ** rng.choice([-1, 1]))
    if kind == 1:
        text = f"{grams:.1f}"
        return float(text[1] + text[0] + text[2:]) if text[0] != text[1] else grams + 9
    if kind == 2:
        return float(bars[(bar + 1) % len(bars)][day])
    return float(grams + rng.choice([-5.0, 5.0, 15.0]))


def written(
    place: Path, truth: Path, rows: list, curves: list, faults: list, cuts: list, air: dict, *, step_g: float = STEP_G
) -> None:
    """Write a set; `air` holds humidity in % and temperature in °C by the day, of each room."""
    head = ("batch", "formula", "bar", "water_fraction", "day", "weight_g")
    _csv(place / "history.csv", head, [row for old, _, row in rows if old])
    for k in range(1, 5):
        _csv(place / f"current_k{k}.csv", head, [row for old, session, row in rows if not old and session <= k])
    _csv(place / "batches.csv", ("batch", "cut_date", "room"), [(key, day.isoformat(), room) for key, day, room in cuts])
    logged = [
        ((FIRST + timedelta(days=day)).isoformat(), f"{rh:.0f}", f"{celsius:.1f}", room)
        for room, (humidity, warm) in air.items()
        for day, (rh, celsius) in enumerate(zip(humidity, warm, strict=True))
    ]
    _csv(place / "room.csv", ("date", "rh_pct", "temperature_c", "room"), logged)
    limits = {
        "ready_threshold_pct_per_week": 0.75,
        "min_days": 28,
        "soft_ready_after_day": 56,
        "soft_left_pct": _wettest(curves),
    }
    params = {**limits, "final_day": 56, "scale_resolution_g": step_g}
    (place / "params.json").write_text(json.dumps(params), encoding="utf-8")
    with gzip.open(truth / "truth_curves.csv.gz", "wt", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([("batch", "bar", "water_fraction", *(f"d{i}" for i in range(HORIZON + 1))), *curves])
    _csv(truth / "faults_truth.csv", ("batch", "bar", "day", "is_fault"), faults)


def _wettest(curves: list, day: int = 56, share: float = 0.1) -> float:
    """Return what recorded water is still in a bar, in % of its weight, that a tenth of the bars go beyond."""
    kept = np.array([[float(row[2]), float(row[3 + day]) / float(row[3])] for row in curves])
    return round(float(np.quantile(100 * (kept[:, 0] - 1 + kept[:, 1]) / kept[:, 1], 1 - share)), 1)


def _csv(path: Path, head: tuple[str, ...], rows: list) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *rows])
