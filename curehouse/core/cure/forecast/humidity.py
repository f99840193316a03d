"""How damp air moves all bars of a batch together: a random path over the days, and what a room log says of it."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .batches import RoomDay
from .prior import Floats

Whole = NDArray[np.int_]

SHORT_SPELL_DAYS = 12.0
LONG_SPELL_DAYS = 30.0
# Weight of the long spells in the variance, without and with a log of the room.
LONG_SHARE = (2.0, 0.5)
# Of quick spells, that come and go within days; both by the evidence of five simulated histories.
QUICK_SPELL_DAYS = 8.0
QUICK_SHARE = (1.0, 0.25)
LAST_DAY = 400
# Bars follow the air with this delay.
SOAK_DAYS = 8.0
POINTS = 10.0
_FORGETTING = 0.88
_YEAR = 365.25


def _matern(apart: Floats, length: float) -> Floats:
    scaled = np.sqrt(3.0) * np.abs(apart) / length
    out: Floats = (1.0 + scaled) * np.exp(-scaled)
    return out


def room_cov(days: Floats, others: Floats, *, logged: bool) -> Floats:
    """Return the covariance of the path, in units of `room_sd` squared, nought at the cut.

    Parameters
    ----------
    days, others
        (..., A) and (..., B) days since the cut.
    logged
        Whether a log of the room's humidity is there too.
    """

    def plain(apart: Floats) -> Floats:
        return _stationary(apart, logged=logged)

    at_cut = plain(np.zeros(1))[0]
    out: Floats = (
        plain(days[..., :, None] - others[..., None, :]) - plain(days)[..., :, None] * plain(others)[..., None, :] / at_cut
    )
    return out


def _stationary(apart: Floats, *, logged: bool) -> Floats:
    """Return the covariance of two moments so many days apart, the cut set aside."""
    which = 1 if logged else 0
    out: Floats = (
        _matern(apart, SHORT_SPELL_DAYS)
        + LONG_SHARE[which] * _matern(apart, LONG_SPELL_DAYS)
        + QUICK_SHARE[which] * np.exp(-np.abs(apart) / QUICK_SPELL_DAYS)
    )
    return out


@lru_cache(maxsize=2)
def _by_lag(*, logged: bool) -> Floats:
    """Return the covariance of two moments by the whole days between them."""
    return _stationary(np.arange(0.0, 10 * LAST_DAY), logged=logged)


def spell_cov(cuts: Whole, days: Whole, other_cuts: Whole, other_days: Whole, *, logged: bool) -> Floats:
    """Return the covariance of the paths of batches cut on any days (proleptic ordinals), in units of `room_sd` squared.

    A batch's path is that of the room's damp without what its first day foretells of it; for one batch it is `room_cov`.

    Parameters
    ----------
    cuts, days
        (A,) day of the cut and calendar day of each moment.
    other_cuts, other_days
        (B,) the same of the others.
    logged
        Whether a log of the room's humidity is there too.
    """
    table = _by_lag(logged=logged)

    def apart(these: Whole, those: Whole) -> Floats:
        out: Floats = table[np.minimum(np.abs(these[:, None] - those[None, :]), len(table) - 1)]
        return out

    foretold = table[np.minimum(days - cuts, len(table) - 1)] / table[0]
    others_foretold = table[np.minimum(other_days - other_cuts, len(table) - 1)] / table[0]
    out: Floats = (
        apart(days, other_days)
        - others_foretold[None, :] * apart(days, other_cuts)
        - foretold[:, None] * apart(cuts, other_days)
        + foretold[:, None] * others_foretold[None, :] * apart(cuts, other_cuts)
    )
    return out


@lru_cache(maxsize=16)
def prior_paths(draws: int, last_day: int, *, logged: bool) -> Floats:
    """Return (draws, last_day + 1) paths in units of `room_sd`, the same at every call; nought at the cut."""
    days = np.arange(1.0, last_day + 1)
    cov = room_cov(days, days, logged=logged)
    lower = np.linalg.cholesky(cov + 1e-9 * np.eye(len(days)))
    half = np.random.default_rng(20210104).standard_normal((-(-draws // 2), len(days)))
    paths = np.zeros((draws, last_day + 1))
    paths[:, 1:] = (np.concatenate([half, -half])[:draws]) @ lower.T
    return paths


class RoomLog:
    """A room's humidity by the day, made ready to be looked up.

    Parameters
    ----------
    days
        The log in any order; gaps are filled by what lies around them.

    Raises
    ------
    ValueError
        If it is empty or a humidity is not between 0 and 100 %.
    """

    def __init__(self, days: Sequence[RoomDay]) -> None:
        if not days:
            raise ValueError("a room log needs at least one day")
        if any(not 0 <= one.humidity_pct <= 100 for one in days):
            raise ValueError("a humidity must lie between 0 and 100 %")
        ordered = sorted(days, key=lambda one: one.day)
        self.first = ordered[0].day
        self.last = ordered[-1].day
        known = np.array([one.day - self.first for one in ordered], dtype=float)
        self.points = np.interp(np.arange(self.last - self.first + 1.0), known, [one.humidity_pct for one in ordered]) / POINTS

    def covers(self, cut: int, last: int) -> bool:
        """Whether the log reaches from the cut to a day (proleptic ordinals)."""
        return self.first <= cut and last <= self.last + 3

    def paths(self, cut: int, known_to: int, horizon: int, draws: int, *, key: int = 0) -> Floats:
        """Return what the air has soaked in since the cut, (draws, horizon + 1), in tens of points.

        What lies after `known_to` is drawn: the season as it was, the last days' difference fading,
        and spells as there were before. Nothing after `known_to` is looked at.
        """
        known_to = min(known_to, self.last)
        known = self.points[: known_to - self.first + 1]
        season, rest = _season(known, self.first)
        start = cut - self.first
        ahead = max(cut + horizon - known_to, 0)
        future = np.arange(1.0, ahead + 1)
        base = _season_at(season, self.first + len(known) - 1 + future) + rest[-7:].mean() * _FORGETTING**future
        path = np.empty((draws, horizon + 1))
        seen = min(len(known) - start, horizon + 1)
        before = known[max(start - 30, 0) : start]
        path[:, :seen] = known[start : start + seen]
        if seen < horizon + 1:
            need = horizon + 1 - seen
            rng = np.random.default_rng(7919 + key)
            if len(rest) > need + 60:
                starts = rng.integers(0, len(rest) - need, draws)
                spells = rest[starts[:, None] + np.arange(need)] * np.sqrt(1 - _FORGETTING ** (2 * future[:need]))
            else:
                spells = np.zeros((draws, need))
            path[:, seen:] = base[:need] + spells
        return _soaked(path, before)


def _season_basis(ordinals: Floats) -> Floats:
    angle = 2 * np.pi * ordinals / _YEAR
    return np.stack([np.ones_like(angle), np.cos(angle), np.sin(angle)], axis=-1)


def _season(known: Floats, first: int) -> tuple[Floats, Floats]:
    """Fit level and season with a little ridge, for logs shorter than a year; return them and what is left."""
    basis = _season_basis(first + np.arange(len(known), dtype=float))
    ridge = np.diag([1e-6, 30.0, 30.0])
    level = known.mean()
    fit = np.linalg.solve(basis.T @ basis + ridge, basis.T @ (known - level))
    fit[0] += level
    return fit, known - basis @ fit


def _season_at(season: Floats, ordinals: Floats) -> Floats:
    out: Floats = _season_basis(ordinals) @ season
    return out


def _soaked(path: Floats, before: Floats) -> Floats:
    """Low-pass a path; what went before the cut sets where it starts."""
    keep = np.exp(-1.0 / SOAK_DAYS)
    state = path[:, 0].copy() if not len(before) else np.full(len(path), before[0])
    for value in before:
        state = keep * state + (1 - keep) * value
    out = np.empty_like(path)
    out[:, 0] = 0.0
    start = state.copy()
    for day in range(1, path.shape[1]):
        state = keep * state + (1 - keep) * path[:, day]
        out[:, day] = state - start
    return out
