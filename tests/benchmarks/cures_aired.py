"""Cures made here by another family, in which the air itself does the drying; written as a set on disk.

The water of a bar falls towards what bars hold in air of that humidity (Oswin's isotherm, 1946) by a law of falling
rate, the slower the drier it is: dm/dt = -k (m - held)^p, with p between 1 and 2 by formula. Warm air dries faster, as
the pressure of saturated vapour goes (Magnus). Two rooms, each with a season and spells of its own, both logged with
their temperature; `log` says what stands in the log: the rooms' own air, or that of a place that has nothing to do
with them. Weighed and written as `cures_made` does.
"""

from datetime import timedelta
from pathlib import Path

import numpy as np

from tests.benchmarks.cure_sets import HORIZON, CureSet, Floats
from tests.benchmarks.cures_made import FIRST, weighed, written

ROOMS = ("cellar", "loft")
_PARTS = 4


def aired(
    folder: Path, name: str, *, seed: int, finished: int = 120, current: int = 200, formulas: int = 6, log: str = "own"
) -> CureSet:
    """Write a set and its truth beneath a folder."""
    rng = np.random.default_rng([77, seed])
    place, truth = folder / name, folder / "_truth" / name
    place.mkdir(parents=True)
    truth.mkdir(parents=True)
    count = finished + current
    starts = np.sort(rng.integers(40, 40 + 4 * count, count))
    days = int(starts[-1]) + HORIZON + 10
    air = {
        room: _climate(rng, days, celsius, damp) for room, celsius, damp in zip(ROOMS, (16.0, 21.0), (60.0, 48.0), strict=True)
    }
    usual = [(rng.uniform(1.1, 1.9), rng.lognormal(np.log(0.05), 0.25), rng.uniform(0.16, 0.25)) for _ in range(formulas)]
    rows, curves, faults, cuts = [], [], [], []
    for number, start in enumerate(starts):
        key, formula, room = f"{name}-{number:04d}", int(rng.integers(formulas)), ROOMS[int(rng.integers(2))]
        cuts.append((key, FIRST + timedelta(days=int(start)), room))
        water, bars = _batch(rng, usual[formula], [one[start : start + HORIZON] for one in air[room]])
        for bar, curve in enumerate(bars):
            curves.append((key, f"b{bar}", f"{water:.4f}", *(f"{w:.3f}" for w in curve)))
        for bar, day, session, weight_g, faulty in weighed(rng, bars, 10 if number < finished else 4):
            rows.append((number < finished, session, (key, f"F{formula}", f"b{bar}", f"{water:.4f}", day, f"{weight_g:.1f}")))
            faults.append((key, f"b{bar}", day, int(faulty)))
    if log != "own":
        air = {room: _climate(rng, days, 18.0, 55.0) for room in ROOMS}
    written(place, truth, rows, curves, faults, cuts, air)
    return CureSet(place)


def _climate(rng: np.random.Generator, days: int, celsius: float, damp: float) -> tuple[Floats, Floats]:
    """Return relative humidity in % and temperature in °C by day."""
    year = np.cos(2 * np.pi * (np.arange(days) - 200) / 365.25)
    slow, quick, warm = np.zeros(days), np.zeros(days), np.zeros(days)
    for day in range(1, days):
        slow[day] = 0.95 * slow[day - 1] + rng.normal(0, 1.3)
        quick[day] = 0.6 * quick[day - 1] + rng.normal(0, 3.5)
        warm[day] = 0.9 * warm[day - 1] + rng.normal(0, 0.6)
    return np.clip(damp + 5 * year + slow + quick, 20, 90), celsius + 4 * year + warm


def _batch(rng: np.random.Generator, usual: tuple[float, float, float], air: list[Floats]) -> tuple[float, list[Floats]]:
    power, rate, water = usual
    recorded = float(np.clip(water + rng.normal(0, 0.012), 0.12, 0.3))
    real = recorded * np.exp(rng.normal(0, 0.03) + (rng.normal(0, 0.2) if rng.random() < 0.06 else 0.0))
    rate *= np.exp(rng.normal(0, 0.18) + (rng.normal(0, 0.5) if rng.random() < 0.08 else 0.0))
    holds = rng.normal(0.055, 0.006)
    size_g = rng.normal(110, 12)
    bars = []
    for _ in range(int(rng.integers(2, 6))):
        left = _dried(real, power, rate * np.exp(rng.normal(0, 0.07)), holds * np.exp(rng.normal(0, 0.03)), air)
        bars.append(size_g * np.exp(rng.normal(0, 0.04)) * (1 - real + left))
    return recorded, bars


def _dried(water: float, power: float, rate: float, holds: float, air: list[Floats]) -> Floats:
    """Return the water in a bar by the day, as a share of its weight at the cut."""
    out = np.empty(HORIZON + 1)
    out[0] = left = water
    for day, (humidity, celsius) in enumerate(zip(*air, strict=True), start=1):
        share = humidity / 100
        held = holds * (share / (1 - share)) ** 0.5
        # At 20 °C the pressure of saturated vapour is 23.4 hPa.
        pace = rate * 6.1094 * np.exp(17.625 * celsius / (celsius + 243.04)) / 23.4
        for _ in range(_PARTS):
            off = (left - held) / 0.1
            left -= 0.1 * pace / _PARTS * np.sign(off) * np.abs(off) ** power
        out[day] = left
    return out
