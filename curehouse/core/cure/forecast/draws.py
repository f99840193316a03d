"""Joint draws of a batch's curve, bars and damp: what every figure of a forecast is worked out from."""

from dataclasses import dataclass

import numpy as np

from .humidity import RoomLog, prior_paths, room_cov
from .packing import Packed, size_squares
from .posterior import Fit, fit
from .prior import CURVE, Floats, Prior

# Log spread of the recorded water: no draw loses more than three of these above what is recorded.
WATER_LOG_SD = 0.05
MOST_OF_WATER = float(np.exp(3 * WATER_LOG_SD))
# Bars' worth of what the house's bars say of a batch's spread in size.
_WORTH_SIZE = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """Draws of N batches with J bars on G days.

    Attributes
    ----------
    start_g
        (N, S, J) weight at the cut.
    weight_g
        (N, S, J, G) weight on the days.
    mean_g
        (N, S, G) weight of the batch's average bar.
    new_g
        (N, S, G) weight of a bar of the batch that is no sample bar.
    odd
        (N,) probability that the batch is an odd one.
    """

    start_g: Floats
    weight_g: Floats
    mean_g: Floats
    new_g: Floats
    odd: Floats


def drawn(group: Packed, prior: Prior, days: Floats, *, step_g: float, draws: int, room: RoomLog | None = None) -> Draws:
    """Return joint draws of all bars of a group of batches on some days.

    Parameters
    ----------
    days
        (G,) days since the cut, ascending.
    draws
        Number of draws (S).
    """
    usual = fit(group, prior, step_g=step_g)
    strange = fit(group, prior, step_g=step_g, odd=True, start=usual)
    odd = usual.odds_against(strange, prior.odd_share)
    count, bars, sessions = group.relative.shape
    rng = np.random.default_rng([3, bars, sessions])
    half = -(-draws // 2)
    normal = rng.standard_normal((half, CURVE + sessions + 3 * bars + sessions))
    normal = np.concatenate([normal, -normal])[:draws]
    pick = (rng.permutation(draws) + 0.5) / draws
    shared_a, bars_a = _sampled(usual, normal)
    shared_b, bars_b = _sampled(strange, normal)
    takes = (pick[None, :] < odd[:, None])[..., None]
    shared = np.where(takes, shared_b, shared_a)
    own = np.where(takes[..., None], bars_b, bars_a)
    damp = _damp_ahead(group, prior, usual, shared[..., CURVE:], normal[:, -sessions:], days)
    if group.logged and room is not None:
        damp = damp - prior.damp_effect * _logged_ahead(group, room, days, draws)
    start_g, weight_g = _weights(group.water, shared, own, damp, days, group.scale_g)
    mean_g, new_g = _unweighed(group, prior, shared, start_g, damp, days)
    return Draws(start_g, weight_g, mean_g, new_g, odd)


def _sampled(found: Fit, normal: Floats) -> tuple[Floats, Floats]:
    """Return (N, S, 3 + D) and (N, S, J, 3)."""
    width, bars = found.shared_cov.shape[1], found.bars.shape[1]
    off = normal[None, :, :width] @ np.swapaxes(np.linalg.cholesky(found.shared_cov), 1, 2)
    shared = np.concatenate([found.curve, found.common], axis=1)[:, None, :] + off
    z = normal[:, width : width + 3 * bars].reshape(len(normal), bars, 3)
    lower = np.linalg.cholesky(found.bar_cov)
    own = np.einsum("njab,sjb->nsja", lower, z, optimize=True)
    own = own + found.bars[:, None] - np.einsum("njaw,nsw->nsja", found.gain, off, optimize=True)
    return shared, own


def _damp_ahead(group: Packed, prior: Prior, found: Fit, common: Floats, z: Floats, days: Floats) -> Floats:
    """Return (N, S, G) paths of the damp that agree with what the sessions have in common.

    A path of the prior is moved by what it misses (Matheron's rule), so that no batch needs a large factorisation.
    """
    last = int(max(days[-1] + 1, group.sessions.max()))
    paths = prior.room_sd * prior_paths(len(z), last, logged=group.logged)
    whole = np.rint(days).astype(int)
    at_sessions = np.moveaxis(paths[:, group.sessions.astype(int)], 0, 1)  # (N, S, D)
    drift = z[None] * np.sqrt(found.session_var)[:, None, :]
    missed = common - found.common_mean[:, None, :] - at_sessions - drift
    ahead = prior.room_sd**2 * room_cov(
        np.broadcast_to(np.rint(days), (len(common), len(days))), group.sessions, logged=group.logged
    )
    total = found.room + found.session_var[:, :, None] * np.eye(found.room.shape[1])
    share = np.linalg.solve(total, np.swapaxes(ahead, 1, 2))  # (N, D, G)
    out: Floats = paths[None][:, :, whole] + missed @ share
    return out


def _logged_ahead(group: Packed, room: RoomLog, days: Floats, draws: int) -> Floats:
    whole = np.rint(days).astype(int)
    out = np.empty((len(group.batches), draws, len(days)))
    for n, batch in enumerate(group.batches):
        if batch.cut_day is not None:
            cut = batch.cut_day
            out[n] = room.paths(cut, cut + int(group.sessions[n, -1]), int(whole[-1]), draws)[:, whole]
    return out


def _unweighed(
    group: Packed, prior: Prior, shared: Floats, start_g: Floats, damp: Floats, days: Floats
) -> tuple[Floats, Floats]:
    """Return (N, S, G) weights of the average bar and of one that was not weighed: of its own size, drying in its own way."""
    count, draws, bars = start_g.shape
    half = -(-draws // 2)
    z = np.random.default_rng([5, bars]).standard_normal((half, 4))
    z = np.concatenate([z, -z])[:draws]
    squares = _WORTH_SIZE * prior.size_sd**2 + size_squares(group.scale_g)
    size_sd = np.sqrt(squares / (_WORTH_SIZE + bars - 1))[:, None]
    own = np.zeros((count, draws, 2, 3))
    own[:, :, 1, :2] = z[:, :2] * np.asarray(prior.bar_sd)
    mean_size = size_sd * z[:, 2] / np.sqrt(bars)
    sizes_g = np.median(start_g, axis=2)[..., None] * np.exp(np.stack([mean_size, mean_size + size_sd * z[:, 3]], axis=2))
    ones = np.ones((count, 2))
    _, weight = _weights(group.water, shared, own, damp, days, ones)
    weight_g = sizes_g[..., None] * weight
    return weight_g[:, :, 0], weight_g[:, :, 1]


def _weights(water: Floats, shared: Floats, own: Floats, damp: Floats, days: Floats, scale_g: Floats) -> tuple[Floats, Floats]:
    log_days = np.log(np.maximum(days, 1e-9))
    shape = np.exp(shared[..., 2])[..., None, None]
    power = np.exp(shape * (log_days - (shared[..., 1, None] + own[..., 1])[..., None]))
    most = water[:, None, None] * MOST_OF_WATER
    amount = np.minimum(water[:, None, None] * np.exp(shared[..., 0, None] + own[..., 0]), most)
    lost = amount[..., None] * -np.expm1(-power)
    start = 1 + own[..., 2]
    weight = np.maximum(start[..., None] - lost - damp[:, :, None, :], (start * (1 - most))[..., None])
    scale = scale_g[:, None, :]
    return scale * start, scale[..., None] * weight
