"""How often what is said of a pour that is not made yet holds: by sets of simulated cures, their ends known.

    python -m tests.benchmarks.cure_unweighed [FOLDER ...]

Each FOLDER is a set as in ``cure_sets``; without one, three sets are made here. Of each batch that is still to come the
days are told between which eight of ten are dry enough, and the days by which a half, 80 and 95 of 100 are, by what the
set's history taught; nothing of the batch but its formula and its water is known. Printed is how often they held.
"""

import sys
import tempfile
from pathlib import Path

import numpy as np

from curehouse.core.cure.forecast.batches import ForecastRule
from curehouse.core.cure.forecast.learning import learn
from curehouse.core.cure.forecast.not_weighed import expected_days
from tests.benchmarks.cure_sets import HORIZON, CureSet
from tests.benchmarks.cures_made import made
from tests.benchmarks.settle_constants import history

SHARES = (0.5, 0.8, 0.95)


def main(folders: list[str]) -> int:
    """Print a line for each set."""
    with tempfile.TemporaryDirectory() as place:
        sets = [CureSet(Path(folder)) for folder in folders]
        sets = sets or [made(Path(place), f"made{seed}", seed=seed) for seed in (11, 12, 13)]
        for cures in sets:
            print(_line(cures))
    return 0


def _line(cures: CureSet) -> str:
    limits = cures.params
    rule = ForecastRule(
        min_days=int(limits["min_days"]), weekly_loss_limit_pct=limits["ready_threshold_pct_per_week"], horizon_days=HORIZON
    )
    prior = learn(history(cures), step_g=limits["scale_resolution_g"]).as_plain()
    held, by = [], {share: [] for share in SHARES}
    rows = cures.current(1)
    told_of = {}
    for key, batch in rows.items():
        formula, water = batch["formula"], round(batch["water"], 3)
        if (formula, water) not in told_of:
            told_of[formula, water] = expected_days(prior, formula, water_share=water, cut_day=None, rule=rule)
        told, came = told_of[formula, water], cures.truth[key].ready_day
        low, high = told.day_of(0.1), told.day_of(0.9)
        held.append((low or HORIZON) <= came <= (high or HORIZON))
        for share, found in by.items():
            found.append(came <= (told.day_of(share) or HORIZON))
    said = ", ".join(f"by the day of {share:.0%}: {np.mean(found):.0%}" for share, found in by.items())
    return f"{cures.folder.name}: {len(held)} batches, ranges of 80 % held {np.mean(held):.0%}; {said}"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
