"""How damp air moves all bars of a batch together: a random path over the days, made of spells of three lengths."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .prior import Floats, Mix

Whole = NDArray[np.int_]

# Short spells (Matérn 3/2) have the weight 1 in the variance, long ones and quick ones (exponential) that of a `Mix`.
SHORT_SPELL_DAYS = 12.0
LONG_SPELL_DAYS = 30.0
QUICK_SPELL_DAYS = 8.0
LAST_DAY = 400
# Days on which paths are drawn, whatever days are asked for: to each, what it says must not depend on the others.
GRID = np.concatenate([np.arange(0.0, 130.0, 3.0), np.arange(136.0, LAST_DAY + 1, 12.0)])


def _matern(apart: Floats, length: float) -> Floats:
    scaled = np.sqrt(3.0) * np.abs(apart) / length
    out: Floats = (1.0 + scaled) * np.exp(-scaled)
    return out


def room_cov(days: Floats, others: Floats, mix: Mix) -> Floats:
    """Return the covariance of the path, in units of `room_sd` squared, nought at the cut.

    Parameters
    ----------
    days, others
        (..., A) and (..., B) days since the cut.
    mix
        Weights of long and of quick spells.
    """
    at_cut = _stationary(np.zeros(1), mix)[0]
    out: Floats = (
        _stationary(days[..., :, None] - others[..., None, :], mix)
        - _stationary(days, mix)[..., :, None] * _stationary(others, mix)[..., None, :] / at_cut
    )
    return out


def _stationary(apart: Floats, mix: Mix) -> Floats:
    """Return the covariance of two moments so many days apart, the cut set aside."""
    long, quick = mix
    out: Floats = (
        _matern(apart, SHORT_SPELL_DAYS)
        + long * _matern(apart, LONG_SPELL_DAYS)
        + quick * np.exp(-np.abs(apart) / QUICK_SPELL_DAYS)
    )
    return out


@lru_cache(maxsize=16)
def _by_lag(mix: Mix) -> Floats:
    """Return the covariance of two moments by the whole days between them."""
    return _stationary(np.arange(0.0, 10 * LAST_DAY), mix)


def spell_cov(cuts: Whole, days: Whole, other_cuts: Whole, other_days: Whole, mix: Mix) -> Floats:
    """Return the covariance of the paths of batches cut on any days (proleptic ordinals), in units of `room_sd` squared.

    A batch's path is that of the room's damp without what its first day foretells of it; for one batch it is `room_cov`.

    Parameters
    ----------
    cuts, days
        (A,) day of the cut and calendar day of each moment.
    other_cuts, other_days
        (B,) the same of the others.
    mix
        Weights of long and of quick spells.
    """
    foretold, others_foretold = foretold_by_cut(cuts, days, mix), foretold_by_cut(other_cuts, other_days, mix)
    out: Floats = (
        air_cov(days, other_days, mix)
        - others_foretold[None, :] * air_cov(days, other_cuts, mix)
        - foretold[:, None] * air_cov(cuts, other_days, mix)
        + foretold[:, None] * others_foretold[None, :] * air_cov(cuts, other_cuts, mix)
    )
    return out


def air_cov(days: Whole, other_days: Whole, mix: Mix) -> Floats:
    """Return (A, B) the covariance of the room's damp itself on calendar days (A,) and (B,), in units of `room_sd` squared."""
    table = _by_lag(mix)
    out: Floats = table[np.minimum(np.abs(days[:, None] - other_days[None, :]), len(table) - 1)]
    return out


def foretold_by_cut(cuts: Whole, days: Whole, mix: Mix) -> Floats:
    """Return (A,) what share of the damp on the day of a cut is to be expected on calendar days."""
    table = _by_lag(mix)
    out: Floats = table[np.minimum(days - cuts, len(table) - 1)] / table[0]
    return out


@lru_cache(maxsize=32)
def prior_paths(draws: int, mix: Mix) -> Floats:
    """Return (draws, LAST_DAY + 1) paths by the day in units of `room_sd`, the same at every call; nought at the cut."""
    days = np.arange(1.0, LAST_DAY + 1)
    cov = room_cov(days, days, mix)
    lower = np.linalg.cholesky(cov + 1e-9 * np.eye(len(days)))
    half = np.random.default_rng(20210104).standard_normal((-(-draws // 2), len(days)))
    paths = np.zeros((draws, LAST_DAY + 1))
    paths[:, 1:] = (np.concatenate([half, -half])[:draws]) @ lower.T
    return paths


def between(paths: Floats, days: Floats) -> Floats:
    """Return paths (..., len(GRID)) on other days, by straight lines; as on the last day of the grid after it."""
    at = np.clip(np.searchsorted(GRID, days, side="right") - 1, 0, len(GRID) - 2)
    share = np.clip((days - GRID[at]) / (GRID[at + 1] - GRID[at]), 0.0, 1.0)
    out: Floats = paths[..., at] * (1 - share) + paths[..., at + 1] * share
    return out
