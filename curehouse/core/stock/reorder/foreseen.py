"""What is still to be used of a material beside planned runs, added up day by day: usual, little and much of it.

The distribution of ``compound`` at what ``unplanned`` learnt, over ever longer times. Of what is usual on a day only
that is expected which can still come unplanned (``besides``): nothing more comes tomorrow where all is planned weeks
ahead.
"""

from collections.abc import Iterator, Sequence
from math import ceil, log10

import numpy as np

from curehouse.core.stock.ahead import UseAhead
from curehouse.core.stock.reorder.besides import besides_planned
from curehouse.core.stock.reorder.compound import each, on_grid, reach, transform
from curehouse.core.stock.reorder.things import Known
from curehouse.core.stock.reorder.unplanned import Floats, Rate, Season, Sizes, learn_rate, learn_sizes

CELLS = 1024
# Beyond so many deviations nothing comes: a rate that is hardly known has a long tail.
_SIGMAS = 8.0
# The chances by which little, usual and much use is not passed.
_PASSED = (0.05, 0.5, 0.95)
DAILY, YEAR = 90, 365
# Sums of chances miss a round figure by their last digits.
_LAST_DIGITS = 1e-9


def use_ahead(
    known: Known, season: Season, pooled_rate: float, days: int, *, announced: Floats, finest: float
) -> UseAhead | None:
    """Return what is used beside planned runs from tomorrow on to each of *days* days; None where nothing was used so far.

    Parameters
    ----------
    known
        Past uses and planned ones of the material.
    season, pooled_rate
        From ``unplanned``: of the whole shop.
    announced
        From ``announced.share_open``: the share of use on each day ahead that is not planned yet, by past notices.
    finest
        What amounts are told in at the finest, such as one piece. They are told in round steps of a thousandth or so of
        the most that may be used, so that no digit says more than is known.
    """
    if not known.uses or days < 1:
        return None
    rate, sizes = learn_rate(known, season, pooled_rate), learn_sizes(known.uses)
    factors = season.at(np.arange(1, days + 1))
    exposures = besides_planned(factors, announced, rate, sizes, known.planned)[1:]
    return UseAhead(*_told(exposures, rate, sizes, finest))


def _told(exposures: Floats, rate: Rate, sizes: Sizes, finest: float) -> Iterator[tuple[float, ...]]:
    """Yield what is passed with each chance over each of *exposures*; beyond ``DAILY`` days by the week, straight between."""
    days = len(exposures)
    on = np.unique([*range(min(days, DAILY)), *range(DAILY + 6, days, 7), days - 1])
    parts = [part for part in (on[on < DAILY], on[(on >= DAILY) & (on < YEAR)], on[on >= YEAR]) if len(part)]
    # Sooner days have a finer grid of their own, so that they do not depend on how far ahead is looked.
    found = [_on_days(exposures[part], rate, sizes, finest) for part in parts]
    step = found[0][0]
    for place in range(len(_PASSED)):
        between = np.interp(np.arange(days), on, np.concatenate([values[place] for _cell, values in found]))
        rounded = np.maximum.accumulate(np.floor(between / step + _LAST_DIGITS))
        yield tuple(float(round(value * step, 6)) for value in rounded)


def _on_days(exposures: Floats, rate: Rate, sizes: Sizes, finest: float) -> tuple[float, list[Floats]]:
    """Return the step of the grid, and on it what is used with each chance over each of *exposures*."""
    most = max(reach(rate, sizes, exposures, _SIGMAS), 2 * float(sizes.sizes.max()))
    cell = _round_step(max(most / CELLS, finest))
    below = np.cumsum(each(transform(on_grid(sizes, cell, CELLS)), rate, exposures, CELLS), axis=1)
    return cell, [(below < share - _LAST_DIGITS).sum(axis=1) * cell for share in _PASSED]


def _round_step(least: float) -> float:
    """Return the next of 1, 2 and 5 times a power of ten."""
    power = 10.0 ** ceil(log10(least) - 1e-12)
    return next(step for step in _steps(power) if step >= least * (1 - 1e-12))


def _steps(power: float) -> Sequence[float]:
    return (power / 10, power / 5, power / 2, power)
