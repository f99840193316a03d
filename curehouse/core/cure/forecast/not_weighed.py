"""When a batch that nobody has weighed, or even poured, is expected to be dry enough, by what a house has learnt."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from curehouse.core.planning.ready_days import ReadyDays

from .batches import BarReadings, ForecastRule, WeighedBatch
from .damp import prior_paths
from .definitions import days_wanted, ready_days, whole_days
from .draws import Draws, weights_on
from .one_thread import on_one_thread
from .packing import design_rows
from .prior import CURVE, Floats, Prior

DRAWS = 1000
_SAMPLE_BARS = 3


def expected_days(
    prior: Mapping[str, Any], formula: str, *, water_share: float, cut_day: int | None, rule: ForecastRule
) -> ReadyDays:
    """Return on which days since the cut such batches are dry enough by the rule, its three sample bars weighed.

    The curve of a batch, what its bars differ by, and the room's air are drawn as for one that is weighed: the same
    draws at each call. A log of the room and batches beside it say nothing of air that is to come.

    Parameters
    ----------
    prior
        As `Prior.as_plain` gives it.
    formula
        The formula's name; one that the prior does not know is expected like any, with a wider range.
    water_share
        Free water of the fresh bar over its mass, between 0 and 1.
    cut_day
        The day of the cut (proleptic Gregorian ordinal), for its season; None where that is not known.
    rule
        The house's.

    Raises
    ------
    ValueError
        If the water share is not between 0 and 1.
    """
    on_one_thread()
    known = Prior.from_plain(dict(prior))
    # Its weight at the cut says nothing of how it dries.
    batch = WeighedBatch("to come", formula, water_share, (BarReadings("A", (0.0,), (100.0,)),), cut_day)
    wanted, knots = days_wanted(rule, np.zeros(0))
    water = np.array([water_share])
    shared, own = _curves(known, batch)
    damp = known.room_sd * _on_days(prior_paths(DRAWS, known.mix), wanted)[None]
    start_g, weight_g = weights_on(water, shared, own, damp, wanted, np.ones((1, _SAMPLE_BARS)))
    found = Draws(start_g, weight_g, start_g, start_g, np.zeros(1))
    days = np.sort(whole_days(ready_days(found, water, wanted, knots, rule))[0])
    # A draw that is not dry by the horizon bears its day.
    dry = days[days < rule.horizon_days].astype(int)
    return ReadyDays(tuple(dry.tolist()), DRAWS, rule.horizon_days - 1)


def _on_days(paths: Floats, days: Floats) -> Floats:
    """Return (S, G) of paths by the whole day on any days, by straight lines; as on the last day after it.

    Finer than `damp.between`, whose grid passes over the quickest spells: where no weighing holds a path they count.
    """
    last = paths.shape[1] - 1
    within = np.minimum(days, last)
    low = np.floor(within).astype(int)
    share = within - low
    out: Floats = paths[:, low] * (1 - share) + paths[:, np.minimum(low + 1, last)] * share
    return out


def _curves(prior: Prior, batch: WeighedBatch) -> tuple[Floats, Floats]:
    """Return (1, S, 3) curves and (1, S, J, 3) what bars differ by; of the odd batches, as many as there are."""
    mean, cov = prior.expected(*design_rows([batch], prior.formulas, [None]))
    half = np.random.default_rng([7, _SAMPLE_BARS]).standard_normal((DRAWS // 2, CURVE + 2 * _SAMPLE_BARS))
    normal = np.concatenate([half, -half])
    off = normal[:, :CURVE] @ np.linalg.cholesky(cov[0]).T
    # A draw and its mirror image stand half the draws apart: spread evenly, an odd one brings its own along.
    odd = (np.arange(DRAWS) * prior.odd_share) % 1 < prior.odd_share
    shared = mean[0] + off * np.where(odd, prior.odd_scale, 1.0)[:, None]
    own = np.zeros((DRAWS, _SAMPLE_BARS, CURVE))
    own[..., :2] = normal[:, CURVE:].reshape(DRAWS, _SAMPLE_BARS, 2) * np.asarray(prior.bar_sd)
    return shared[None], own[None]
