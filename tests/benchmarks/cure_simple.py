"""Forecasts as one would make them with a notebook or a spreadsheet, to hold ours against.

mean   the formula's mean ready day and mean share lost of the past;
curve  the formula's mean curve, stretched to what the bar has lost so far;
line   a straight line through the bar's last two weighings;
fit    W0 (1 - A (1 - exp(-k t))) fitted to each bar by itself (SciPy); with two weighings, k = 0.05 a day.
"""

from collections import defaultdict
from typing import Any

import numpy as np
from scipy.optimize import curve_fit

from tests.benchmarks.cure_sets import HORIZON, WEEK, CureSet, Floats

DAYS = np.arange(HORIZON + 1.0)
RATE = 0.05


def simple(cures: CureSet, k: int) -> dict[str, dict[str, Any]]:
    """Return what each simple method foretells of a set's current batches."""
    mean_curves = _mean_curves(cures)
    out: dict[str, dict[str, Any]] = {"mean": {}, "curve": {}, "line": {}, "fit": {}}
    for key, batch in cures.current(k).items():
        lost = mean_curves.get(batch["formula"], mean_curves[""])
        curves: dict[str, dict[str, Floats]] = {name: {} for name in out}
        middle_g = float(np.median([g for weights in batch["bars"].values() for g in weights.values()]))
        for bar, weights in batch["bars"].items():
            days, grams = _plausible(weights, middle_g)
            curves["mean"][bar] = grams[0] * (1 - lost)
            curves["curve"][bar] = _stretched(days, grams, lost)
            curves["line"][bar] = _line(days, grams)
            curves["fit"][bar] = _fitted(days, grams)
        for name, bars in curves.items():
            out[name][key] = _told(cures, bars, batch["water"])
    return out


def _plausible(weights: dict[float, float], middle_g: float) -> tuple[Floats, Floats]:
    """Return days and weights without decimal slips, which anyone would leave out."""
    kept = {day: grams for day, grams in sorted(weights.items()) if 0.55 * middle_g < grams < 1.8 * middle_g}
    kept = kept or {0.0: middle_g}
    return np.array(list(kept)), np.array(list(kept.values()))


def _mean_curves(cures: CureSet) -> dict[str, Floats]:
    """Return the mean share lost by day, by formula and, under "", of all; between weighings and after by straight lines."""
    found = defaultdict(list)
    for batch in cures.history().values():
        for weights in batch["bars"].values():
            days = np.array(sorted(weights))
            lost = 1 - np.array([weights[day] for day in days]) / weights[days[0]]
            if len(days) > 3 and days[0] == 0 and np.abs(np.diff(lost)).max() < 0.2:
                late = lost[-1] + (lost[-1] - lost[-3]) / (days[-1] - days[-3]) * np.array([14.0])
                curve = np.interp(DAYS, [*days, days[-1] + 28.0], [*lost, *late])
                found[batch["formula"]].append(curve)
                found[""].append(curve)
    return {formula: np.median(curves, axis=0) for formula, curves in found.items()}


def _stretched(days: Floats, grams: Floats, lost: Floats) -> Floats:
    usual = np.interp(days[1:], DAYS, lost)
    share = float(np.sum((1 - grams[1:] / grams[0]) * usual) / np.sum(usual * usual)) if len(days) > 1 else 1.0
    out: Floats = grams[0] * (1 - np.clip(share, 0.2, 3.0) * lost)
    return out


def _line(days: Floats, grams: Floats) -> Floats:
    slope = (grams[-1] - grams[-2]) / (days[-1] - days[-2]) if len(days) > 1 else 0.0
    out: Floats = np.maximum(grams[-1] + slope * (DAYS - days[-1]), 0.5 * grams[0])
    return out


def _fitted(days: Floats, grams: Floats) -> Floats:
    def curve(day: Floats, start_g: float, share: float, rate: float = RATE) -> Floats:
        out: Floats = start_g * (1 - share * (1 - np.exp(-rate * day)))
        return out

    first = grams[0]
    try:
        if len(days) < 2:
            found = (first, 0.13)
        elif len(days) < 3:
            found, _ = curve_fit(lambda d, w, a: curve(d, w, a), days, grams, p0=(first, 0.13))
        else:
            bounds = ([0.5 * first, 0.01, 0.005], [1.5 * first, 0.4, 0.5])
            found, _ = curve_fit(curve, days, grams, p0=(first, 0.13, 0.05), bounds=bounds, method="trf")
    except (RuntimeError, TypeError):
        found = (first, 0.13)
    return curve(DAYS, *found)


def _told(cures: CureSet, bars: dict[str, Floats], water: float) -> dict[str, Any]:
    """Read off the ready day and the weights; these methods know no range."""
    weights = np.array(list(bars.values()))
    least, final = int(cures.params["min_days"]), int(cures.params["final_day"])
    loss = np.median(100 * (weights[:, :-WEEK] - weights[:, WEEK:]) / weights[:, WEEK:], axis=0)
    dry = np.flatnonzero(loss[least - WEEK :] <= cures.params["ready_threshold_pct_per_week"])
    day = least + int(dry[0]) if len(dry) else HORIZON
    kept = float(np.median(weights[:, final] / weights[:, 0]))
    left_pct = 100 * (water - 1 + kept) / kept
    return {
        "ready_day_p10": day, "ready_day_p50": day, "ready_day_p90": day,
        "soft_probability": left_pct + 0.1 * day,
        "bars": {bar: dict.fromkeys(("p10", "p50", "p90"), float(curve[final])) for bar, curve in bars.items()},
    }  # fmt: skip
