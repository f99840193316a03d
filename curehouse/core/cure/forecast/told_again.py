"""What forecasts of a house's ended cures would have told, replayed: kept with the night's calibration for a page to read.

Each half of the history is told again by what the other half teaches, its ranges as wide as the other half wants them:
so nothing that came of a batch entered what is told of it.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from .batches import ForecastRule
from .calibrating import Replayed, wide_enough
from .definitions import whole_days
from .ranges import Calibration, factor, levels, quantiles, tenths

# Grams and probabilities are kept to this many places: nothing read from them is finer.
_PLACES = 4


def told_again(replays: Sequence[Sequence[Replayed]], rule: ForecastRule) -> dict[str, Any]:
    """Return what was told of each replayed batch, in plain values.

    Returns
    -------
    dict
        `rule` in plain values, and `told`: by batch and number of sessions its `key`, `weighings`, `known_day`,
        `ready_day` (p10, p50, p90; whole days since the cut), `soft_probability`, `late_day`, and `weight_g` of that
        day (by bar; p10, p50, p90 in grams).
    """
    wide = [wide_enough([[one for one in group if one.seen.half != half] for group in replays]) for half in (0, 1)]
    told = [_told(one, wide[one.seen.half], rule) for group in replays for one in group]
    return {"rule": rule.as_plain(), "told": told}


def _told(one: Replayed, wide: Calibration, rule: ForecastRule) -> dict[str, Any]:
    after = one.seen.weighings - 1
    ready = whole_days(quantiles(one.said[None], levels(factor(wide.ready, after))))[:, 0]
    weight_g = tenths(one.weight_g[None], factor(wide.weight, after))[:, 0]
    return {
        "key": one.seen.key,
        "weighings": one.seen.weighings,
        "known_day": one.seen.known_day,
        "ready_day": ready.tolist(),
        "soft_probability": round(float(np.mean(whole_days(one.said) > rule.latest_day)), _PLACES),
        "late_day": one.seen.late_day,
        "weight_g": {
            label: [round(grams, _PLACES) for grams in weight_g[:, j].tolist()] for j, label in enumerate(one.seen.labels)
        },
    }
