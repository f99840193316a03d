"""How fast batches are forecast, and what that holds: ``python -m tests.benchmarks.cure_speed [SET]``.

SET is the folder of a set of simulated cures (see `cure_sets`); without it one is made here. Of its cures after four
weighings, in one process on one thread: bars a second through

- a loop of SciPy's ``curve_fit`` over the bars, W0 (1 - A (1 - exp(-k t))) within bounds;
- modes with their covariance;
- full forecasts with 300 draws and every output, doubtful weighings among them.

Bars with fewer than four weighings are left out of all. Then 1,000 and 10,000 batches, each in a process of its own:
time and the most memory held. Ends with 1 if a limit is passed.
"""

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np  # noqa: E402  (one thread, before it loads)
from scipy.optimize import curve_fit  # noqa: E402

from curehouse.core.cure.forecast.batches import BarReadings, ForecastRule, WeighedBatch  # noqa: E402
from curehouse.core.cure.forecast.doubtful import doubtful  # noqa: E402
from curehouse.core.cure.forecast.foretold import foretell  # noqa: E402
from curehouse.core.cure.forecast.packing import packed  # noqa: E402
from curehouse.core.cure.forecast.posterior import fit  # noqa: E402
from curehouse.core.cure.forecast.prior import Prior, cold_prior  # noqa: E402
from tests.benchmarks.cure_sets import CureSet, Floats  # noqa: E402
from tests.benchmarks.cures_made import made  # noqa: E402

LEAST_READINGS = 4
LEAST_FULL, LEAST_MODES = 1.0, 8.0
MOST_MB, MOST_TIMES = 500.0, 12.0
RULE = ForecastRule(soft_water_of_bar_pct=11.0)
TIMES = 3


def batches_of(cures: CureSet) -> list[WeighedBatch]:
    """Return the current batches of a set after four weighings, without bars of few weighings."""
    out = []
    for key, batch in cures.current(4).items():
        bars = tuple(
            BarReadings(label, tuple(sorted(weights)), tuple(weights[day] for day in sorted(weights)))
            for label, weights in batch["bars"].items()
            if len(weights) >= LEAST_READINGS
        )
        if bars:
            out.append(WeighedBatch(key, batch["formula"], batch["water"], bars))
    return out


def curve_fits(batches: list[WeighedBatch]) -> None:
    """Fit every bar by itself."""

    def curve(t: Floats, start_g: float, share: float, rate: float) -> Floats:
        out: Floats = start_g * (1 - share * (1 - np.exp(-rate * t)))
        return out

    for batch in batches:
        for bar in batch.bars:
            days, grams = np.array(bar.days), np.array(bar.weights_g)
            y0 = grams[0]
            bounds = ([0.5 * y0, 0.01, 0.005], [1.5 * y0, 0.4, 0.5])
            try:
                curve_fit(curve, days, grams, p0=(y0, 0.13, 0.05), bounds=bounds, method="trf")
            except RuntimeError:
                continue


def modes(batches: list[WeighedBatch], prior: Prior, step_g: float) -> None:
    """Find each batch's mode and covariance."""
    for group, _places in packed(batches, prior):
        fit(group, prior, step_g=step_g)


def full(batches: list[WeighedBatch], prior: Prior, step_g: float) -> None:
    """Forecast every output."""
    foretell(batches, prior, RULE, step_g=step_g, days=(28.0, 56.0))
    doubtful(batches, prior, step_g=step_g)


def seconds(work: Callable[[], None], times: int = TIMES) -> float:
    """Return the best time of a few."""
    best = np.inf
    for _ in range(times):
        begun = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - begun)
    return best


def many(count: int) -> None:
    """Forecast so many batches in this process; print the seconds and the most memory held in MB."""
    with tempfile.TemporaryDirectory(prefix="curehouse-cures-") as name:
        few = batches_of(made(Path(name), "made", seed=1, finished=2, current=200))
    batches = [replace(few[i % len(few)], key=str(i)) for i in range(count)]
    begun = time.perf_counter()
    foretell(batches, cold_prior(), RULE, step_g=0.5, days=(56.0,))
    print(time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)


def in_a_process_of_its_own(count: int) -> tuple[float, float]:
    """Return seconds and MB of `many`."""
    command = [sys.executable, "-m", "tests.benchmarks.cure_speed", "--many", str(count)]
    found = subprocess.run(command, check=True, capture_output=True, text=True)
    took, held = found.stdout.split()
    return float(took), float(held)


def compared(cures: CureSet) -> bool:
    """Print bars a second of each way; return whether a limit is passed."""
    batches, prior, step_g = batches_of(cures), cold_prior(), cures.params["scale_resolution_g"]
    bars = sum(len(batch.bars) for batch in batches)
    each = seconds(lambda: curve_fits(batches), 1)
    mode = seconds(lambda: modes(batches, prior, step_g))
    whole = seconds(lambda: full(batches, prior, step_g))
    print(f"curve_fit, bar by bar     {bars / each:8,.0f} bars/s")
    print(f"modes with covariance     {bars / mode:8,.0f} bars/s   {each / mode:5.1f} x (limit {LEAST_MODES:g} x)")
    print(f"full forecasts, 300 draws {bars / whole:8,.0f} bars/s   {each / whole:5.1f} x (limit {LEAST_FULL:g} x)")
    return each / mode < LEAST_MODES or each / whole < LEAST_FULL


def main() -> int:
    """Measure, print, and return 1 if a limit is passed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("set", nargs="?", type=Path, help="a set of simulated cures")
    parser.add_argument("--many", type=int, help="only this: so many batches in this process")
    said = parser.parse_args()
    if said.many:
        many(said.many)
        return 0
    if said.set is not None and not (said.set / "current_k4.csv").is_file():
        print(f"{said.set} is no set of simulated cures: one is made here", file=sys.stderr)
        said.set = None
    with tempfile.TemporaryDirectory(prefix="curehouse-cures-") as name:
        passed = compared(CureSet(said.set) if said.set else made(Path(name), "made", seed=1, finished=2))
    few, lot = in_a_process_of_its_own(1_000), in_a_process_of_its_own(10_000)
    print(f" 1,000 batches  {few[0]:6.1f} s  {few[1]:5.0f} MB")
    times = lot[0] / few[0]
    print(f"10,000 batches  {lot[0]:6.1f} s  {lot[1]:5.0f} MB   {times:.1f} x (limits {MOST_MB:g} MB, {MOST_TIMES:g} x)")
    return int(passed or lot[1] > MOST_MB or times > MOST_TIMES)


if __name__ == "__main__":
    sys.exit(main())
