"""Joint draws of a batch's curve, bars and damp: what every figure of a forecast is worked out from."""

from dataclasses import dataclass

import numpy as np

from .damp import GRID, LAST_DAY, between, prior_paths, room_cov
from .humidity import Rooms, log_of
from .packing import Packed, size_squares
from .posterior import Fit, Spells, fit
from .prior import CURVE, Floats, Prior

# Log spread of the recorded water: no draw loses more than three of these above what is recorded.
WATER_LOG_SD = 0.05
MOST_OF_WATER = float(np.exp(3 * WATER_LOG_SD))
# Bars' worth of what the house's bars say of a batch's spread in size.
_WORTH_SIZE = 10.0
# Least share of the draws that must count, and how often weights are halved for it.
_LEAST_ALIKE, _EVENED = 0.1, 6
# Tried draws for each that is kept, and how much wider the curve is tried over the number of sessions.
_TRIED, _WIDER = 2, 1.0
_TINY_SHARE = 1e-9


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


def drawn(
    group: Packed,
    prior: Prior,
    days: Floats,
    *,
    step_g: float,
    draws: int,
    room: Rooms | None = None,
    spells: Spells | None = None,
    others: bool = True,
) -> Draws:
    """Return joint draws of all bars of a group of batches on some days.

    Parameters
    ----------
    days
        (G,) days since the cut, ascending.
    draws
        Number of draws (S).
    room
        The rooms' logs by name.
    spells
        What other batches say of the damp in the sessions and on the days of the grid, if they do.
    others
        Whether bars that were not weighed are wanted; without, there is nothing in their arrays.
    """
    usual = fit(group, prior, step_g=step_g, spells=spells)
    strange = fit(group, prior, step_g=step_g, odd=True, start=usual, spells=spells)
    count, bars, sessions = group.relative.shape
    rng = np.random.default_rng([3, bars, sessions])
    normal = rng.standard_normal((-(-draws * _TRIED // 2), CURVE + sessions + 3 * bars))
    normal = np.concatenate([normal, -normal])[: draws * _TRIED]
    drift = rng.standard_normal((draws, sessions))
    pick = (rng.permutation(draws) + 0.5) / draws
    shared_a, bars_a, more_a = _sampled(group, usual, normal, draws)
    shared_b, bars_b, more_b = _sampled(group, strange, normal, draws)
    odd = usual.odds_against(strange, prior.odd_share, more_b - more_a)
    takes = (pick[None, :] < odd[:, None])[..., None]
    shared = np.where(takes, shared_b, shared_a)
    own = np.where(takes[..., None], bars_b, bars_a)
    if spells is None:
        damp = _damp_ahead(group, prior, usual, shared[..., CURVE:], drift)
    else:
        damp = _damp_heard(spells, usual, shared[..., CURVE:], drift, rng.standard_normal((draws, spells.mean.shape[1])))
    damp = between(damp, days)
    if group.logged and prior.damp_effect:
        damp = damp - prior.damp_effect * _logged_ahead(group, room, days, draws)
    start_g, weight_g = weights_on(group.water, shared, own, damp, days, group.scale_g)
    mean_g, new_g = _unweighed(group, prior, shared, start_g, damp, days if others else days[:0])
    return Draws(start_g, weight_g, mean_g, new_g, odd)


def _sampled(group: Packed, found: Fit, normal: Floats, draws: int) -> tuple[Floats, Floats, Floats]:
    """Return (N, S, 3 + D) and (N, S, J, 3) draws, and (N,) what log evidence the curve's bend adds.

    Drawn from a Gaussian about the mode, wider than the one there, then drawn again by how much better or worse each
    fits the weighings than its straight-line prediction says: after one or two weighings the posterior is bent.
    """
    width, bars = found.shared_cov.shape[1], found.bars.shape[1]
    wider = 1 + _WIDER / group.sessions.shape[1]
    stretched = normal[:, :width] * np.where(np.arange(width) < CURVE, wider, 1.0)
    off = stretched[None] @ np.swapaxes(np.linalg.cholesky(found.shared_cov), 1, 2)
    z = normal[:, width : width + 3 * bars].reshape(len(normal), bars, 3)
    own_off = np.swapaxes(np.linalg.cholesky(found.bar_cov) @ np.moveaxis(z, 0, 2)[None], 2, 3)  # (N, J, S, 3)
    own_off = own_off - off[:, None] @ np.swapaxes(found.gain, 2, 3)
    shared = np.concatenate([found.curve, found.common], axis=1)[:, None, :] + off
    own = found.bars[:, None] + np.swapaxes(own_off, 1, 2)
    better = _bend(group, found, off, own_off, shared, own) - (wider**2 - 1) / 2 * np.square(normal[:, :CURVE]).sum(axis=1)
    share = _shares(better)
    more = np.log(np.exp(better - better.max(axis=1, keepdims=True)).mean(axis=1)) + better.max(axis=1)
    ends = np.cumsum(share, axis=1) / share.sum(axis=1, keepdims=True)
    steps = (np.arange(draws) + 0.5) / draws
    chosen = np.stack([np.searchsorted(one, steps) for one in ends]).clip(max=len(normal) - 1)
    return (
        np.take_along_axis(shared, chosen[..., None], axis=1),
        np.take_along_axis(own, chosen[..., None, None], axis=1),
        more,
    )


def _shares(better: Floats) -> Floats:
    """Return (N, S) shares by which to draw again, evened out where few draws would stand for all."""
    better = better - better.max(axis=1, keepdims=True)
    for _ in range(_EVENED):
        share = np.exp(better)
        alike = share.sum(axis=1) ** 2 / np.square(share).sum(axis=1)
        few = alike < _LEAST_ALIKE * share.shape[1]
        better = np.where(few[:, None], better / 2, better)
    out: Floats = np.exp(better)
    return out


def _bend(group: Packed, found: Fit, off: Floats, own_off: Floats, shared: Floats, own: Floats) -> Floats:
    """Return (N, S) by how much log likelihood each draw is better than the straight-line prediction of it."""
    jacobian = found.along.copy()
    jacobian[:, :, 2] = 1.0
    straight = off[:, None, :, :CURVE] @ found.along + own_off @ jacobian - off[:, None, :, CURVE:]  # (N, J, S, D)
    log_days = np.log(np.maximum(group.days, 1e-9))[:, :, None]
    bars = np.swapaxes(own, 1, 2)
    clock = (shared[:, None, :, 1] + bars[..., 1])[..., None]
    # Beyond what a float holds there is nothing left to leave.
    with np.errstate(over="ignore"):
        power = np.exp(np.exp(shared[:, None, :, 2, None]) * (log_days - clock))
    amount = (group.water[:, None, None] * np.exp(shared[:, None, :, 0] + bars[..., 0]))[..., None]
    exact = 1 + bars[..., 2, None] + amount * np.expm1(-power) - shared[:, None, :, CURVE:] - found.predicted[:, :, None]
    missed = found.residuals[:, :, None]
    gained = (missed - straight) ** 2 - (missed - exact) ** 2
    out: Floats = 0.5 * (found.weights[:, :, None] * gained).sum(axis=(1, 3))
    return out


def _damp_ahead(group: Packed, prior: Prior, found: Fit, common: Floats, z: Floats) -> Floats:
    """Return (N, S, grid) paths of the damp that agree with what the sessions have in common.

    A path of the prior is moved by what it misses (Matheron's rule), so that no batch needs a large factorisation.
    """
    sd, mix = prior.damp(logged=group.logged)
    if sd == 0:
        return np.zeros((len(common), len(z), len(GRID)))
    paths = sd * prior_paths(len(z), mix)
    at_sessions = np.moveaxis(paths[:, np.minimum(group.sessions.astype(int), LAST_DAY)], 0, 1)  # (N, S, D)
    drift = z[None] * np.sqrt(found.session_var)[:, None, :]
    missed = common - found.common_mean[:, None, :] - at_sessions - drift
    ahead = sd**2 * room_cov(np.broadcast_to(GRID, (len(common), len(GRID))), group.sessions, mix)
    total = found.room + found.session_var[:, :, None] * np.eye(found.room.shape[1])
    share = np.linalg.solve(total, np.swapaxes(ahead, 1, 2))  # (N, D, grid)
    out: Floats = paths[None][:, :, GRID.astype(int)] + missed @ share
    return out


def _damp_heard(spells: Spells, found: Fit, common: Floats, z: Floats, normal: Floats) -> Floats:
    """Return (N, S, grid) paths as `_damp_ahead` does, where other batches say something of them."""
    sessions = common.shape[2]
    tiny = _TINY_SHARE * np.trace(spells.cov, axis1=1, axis2=2)[:, None, None] * np.eye(spells.cov.shape[1])
    paths = normal[None] @ np.swapaxes(np.linalg.cholesky(spells.cov + tiny), 1, 2)
    drift = z[None] * np.sqrt(found.session_var)[:, None, :]
    missed = common - found.common_mean[:, None, :] - paths[..., :sessions] - drift
    total = found.room + found.session_var[:, :, None] * np.eye(sessions)
    share = np.linalg.solve(total, spells.cov[:, :sessions, sessions:])
    out: Floats = spells.mean[:, None, sessions:] + paths[..., sessions:] + missed @ share
    return out


def _logged_ahead(group: Packed, room: Rooms | None, days: Floats, draws: int) -> Floats:
    whole = np.minimum(np.rint(days).astype(int), LAST_DAY)
    out = np.empty((len(group.batches), draws, len(days)))
    for n, batch in enumerate(group.batches):
        cut, log = batch.cut_day, log_of(batch, room)
        if cut is not None and log is not None:
            out[n] = log.paths(cut, cut + int(group.sessions[n, -1]), int(whole[-1]), draws)[:, whole]
    return out


def _unweighed(
    group: Packed, prior: Prior, shared: Floats, start_g: Floats, damp: Floats, days: Floats
) -> tuple[Floats, Floats]:
    """Return (N, S, G) weights of the average bar and of one that was not weighed: of its own size, drying in its own way."""
    count, draws, bars = start_g.shape
    if not len(days):
        return np.zeros((count, draws, 0)), np.zeros((count, draws, 0))
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
    _, weight = weights_on(group.water, shared, own, damp, days, ones)
    weight_g = sizes_g[..., None] * weight
    return weight_g[:, :, 0], weight_g[:, :, 1]


def weights_on(
    water: Floats, shared: Floats, own: Floats, damp: Floats, days: Floats, scale_g: Floats
) -> tuple[Floats, Floats]:
    """Return (N, S, J) weights at the cut and (N, S, J, G) on the days, in the scale's unit.

    Parameters
    ----------
    water
        (N,) recorded water share.
    shared
        (N, S, 3 or more) log F, log tau and log n of the batch.
    own
        (N, S, J, 3) what each bar's log F, log tau and weight at the cut deviate by.
    damp
        (N, S, G) share of the weight that the room's air takes on the days.
    days
        (G,) days since the cut.
    scale_g
        (N, J) usual weight of each bar at the cut.
    """
    log_days = np.log(np.maximum(days, 1e-9))
    shape = np.exp(shared[..., 2])[..., None, None]
    # As the water may be more than is recorded, what stays may be less by no more: however wet, something stays.
    most = np.minimum(water * MOST_OF_WATER, 1 - (1 - water) / MOST_OF_WATER)[:, None, None]
    amount = np.minimum(water[:, None, None] * np.exp(shared[..., 0, None] + own[..., 0]), most)
    start, scale = 1 + own[..., 2], scale_g[:, None, :]
    # In one array of (N, S, J, G): it is by far the largest there is.
    weight: Floats = shape * (log_days - (shared[..., 1, None] + own[..., 1])[..., None])
    with np.errstate(over="ignore"):
        np.exp(weight, out=weight)
    np.negative(weight, out=weight)
    np.expm1(weight, out=weight)
    weight *= amount[..., None]
    weight += start[..., None]
    weight -= damp[:, :, None, :]
    np.maximum(weight, (start * (1 - most))[..., None], out=weight)
    weight *= scale[..., None]
    return scale * start, weight
