"""A batch's curve, given its weighings: the mode, its covariance, and how odd the batch is.

W_j(t) = M_j (1 + m_j - w F_j (1 - exp(-(t / tau_j)^n)) - s(t)) with (log F, log tau, log n) of the
batch, deviations of each bar, and s what a session has in common: the room's damp and the scale's drift.
Penalised least squares by Gauss-Newton; readings and sessions that lie far off lose their weight as under
Student's t. The bars' own parameters are eliminated (Schur complement), so that
the system to solve has 3 + D unknowns.
"""

from dataclasses import dataclass

import numpy as np

from .damp import room_cov
from .packing import CONTRADICTS, Packed
from .prior import CURVE, Floats, Prior

STEPS, STEPS_ON = 12, 6
LONGEST_STEP = 0.5
_TINY = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Spells:
    """What is to be expected of the damp in N batches' D sessions and on the grid's G days: (N, D + G), (N, D + G, D + G)."""

    mean: Floats
    cov: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """The mode of N batches with J bars and D sessions, and what its covariance is made of.

    Attributes
    ----------
    curve, common
        (N, 3) and (N, D): the batch's curve, and what its sessions have in common.
    bars
        (N, J, 3): deviation of log F and log tau, and m.
    shared_cov
        (N, 3 + D, 3 + D) covariance of curve and common.
    bar_cov
        (N, J, 3, 3) covariance of a bar's own, given the shared.
    gain
        (N, J, 3, 3 + D): a bar's own moves by -gain times the shared's deviation.
    curve_mean, curve_precision
        (N, 3), (N, 3, 3) of the prior.
    common_mean, room, session_var
        (N, D), (N, D, D), (N, D): prior mean of common, covariance of the damp, variance of the drift.
    weights, reading_var
        (N, J, D) weight of each reading over its variance; (N, J) variance of a reading.
    predicted, residuals
        (N, J, D) in units of `scale_g`; the residual is nought where there is no reading.
    along
        (N, J, 3, D) derivatives of the prediction by the batch's curve.
    penalty
        (N,) what the mode lies off all that was taken to hold, as twice a log density.
    shared_precision, bar_precision
        (N, 3 + D, 3 + D) of curve and common, the bars' own set aside; (N, J, 3, 3) of a bar's own, given the shared.
    """

    curve: Floats
    common: Floats
    bars: Floats
    shared_cov: Floats
    bar_cov: Floats
    gain: Floats
    curve_mean: Floats
    curve_precision: Floats
    common_mean: Floats
    room: Floats
    session_var: Floats
    weights: Floats
    reading_var: Floats
    predicted: Floats
    residuals: Floats
    along: Floats
    penalty: Floats
    shared_precision: Floats
    bar_precision: Floats

    def evidence(self) -> Floats:
        """Return (N,) the log evidence, up to what all components share."""
        size = np.linalg.slogdet(self.shared_precision)[1] + np.log(np.linalg.det(self.bar_precision)).sum(axis=1)
        out: Floats = -0.5 * self.penalty - 0.5 * size + 0.5 * np.linalg.slogdet(self.curve_precision)[1]
        return out

    def odds_against(self, odd: "Fit", odd_share: float, more: Floats) -> Floats:
        """Return the (N,) probability that the odd component holds, `more` the evidence it has beyond its own at the mode."""
        ahead = np.clip(odd.evidence() - self.evidence() + more + np.log(odd_share / (1 - odd_share)), -50, 50)
        out: Floats = 1 / (1 + np.exp(-ahead))
        return out

    def prediction_var(self) -> Floats:
        """Return (N, J, D) the variance of what is predicted of each weighing, from all of them."""
        count, bars, _, sessions = self.along.shape
        own = self.along.copy()
        own[:, :, 2] = 1.0
        by_common = np.broadcast_to(-np.eye(sessions), (count, bars, sessions, sessions))
        total = np.concatenate([self.along, by_common], axis=2) - np.swapaxes(self.gain, 2, 3) @ own
        shared = (total * (self.shared_cov[:, None] @ total)).sum(axis=2)
        out: Floats = shared + (own * (self.bar_cov @ own)).sum(axis=2)
        return out

    def says_of_damp(self) -> tuple[Floats, Floats]:
        """Return precision (N, D, D) and pull (N, D) of what the weighings say of the damp beyond `common_mean`.

        What was taken to hold of the damp and the drift is taken out again.
        """
        eye = np.eye(self.common.shape[1])
        drift = self.session_var[:, :, None] * eye
        inverse = np.linalg.inv(self.shared_cov[:, CURVE:, CURVE:])
        said = inverse - np.linalg.inv(self.room + drift)
        pull = inverse @ (self.common - self.common_mean)[..., None]
        through = np.linalg.inv(eye + said @ drift)
        precision = through @ said
        return (precision + np.swapaxes(precision, 1, 2)) / 2, (through @ pull)[..., 0]


def fit(
    packed: Packed,
    prior: Prior,
    *,
    step_g: float,
    odd: bool = False,
    start: Fit | None = None,
    steps: int | None = None,
    spells: Spells | None = None,
) -> Fit:
    """Return the mode and covariance of every batch.

    Parameters
    ----------
    packed
        The batches.
    prior
        What to take to hold beforehand.
    step_g
        The scale's step in grams: a weight is known to within half of it.
    odd
        Whether to take the batches for odd ones, `odd_scale` times as far off.
    start
        A fit to start from.
    steps
        Number of steps, fewer or more than usual.
    spells
        What other batches say of the room's damp, if they do.
    """
    mean, cov = prior.expected(packed.design, packed.known)
    if odd:
        cov = cov * prior.odd_scale**2
    precision: Floats = np.linalg.inv(cov).astype(np.float64)
    state = _State(packed, prior, mean, precision, step_g, spells)
    if start is not None:
        state.curve, state.common, state.bars = start.curve, start.common, start.bars
        state.predict()
    for step in range(steps or (STEPS if start is None else STEPS_ON)):
        state.reweigh(first=step == 0 and start is None)
        shared, bars, _ = state.solve()
        state.move(shared, bars)
    state.reweigh(first=False)
    _, _, parts = state.solve()
    return state.result(parts)


@dataclass(slots=True)
class _Parts:
    shared_precision: Floats
    bar_cov: Floats
    gain: Floats
    bar_precision: Floats
    along: Floats


class _State:
    def __init__(
        self, packed: Packed, prior: Prior, mean: Floats, precision: Floats, step_g: float, spells: Spells | None
    ) -> None:
        count, bars, sessions = packed.relative.shape
        self.packed, self.mean, self.precision = packed, mean, precision
        self.curve = mean.copy()
        self.common_mean = -prior.damp_effect * packed.damp
        if spells is not None:
            self.common_mean = self.common_mean + spells.mean[:, :sessions]
        self.common = self.common_mean.copy()
        self.bars = np.zeros((count, bars, 3))
        size_sd = np.full(count, prior.size_sd)
        # Not weighed at the cut: what it weighed then is known only as well as the loss by now.
        late = packed.sessions[:, 0] > 0
        size_sd[late] = np.hypot(prior.size_sd, 0.03 * np.sqrt(packed.sessions[late, 0]))
        self.bar_prior = np.empty((count, 1, 3))
        self.bar_prior[:, 0, 0], self.bar_prior[:, 0, 1] = prior.bar_sd[0] ** -2, prior.bar_sd[1] ** -2
        self.bar_prior[:, 0, 2] = size_sd**-2
        self.bar_mean = np.zeros((count, bars, 3))
        self.bar_mean[:, :, 2] = packed.size - 1
        if spells is None:
            sd, mix = prior.damp(logged=packed.logged)
            self.room = sd**2 * room_cov(packed.sessions, packed.sessions, mix)
        else:
            self.room = spells.cov[:, :sessions, :sessions]
        self.drift_var = prior.session_sd**2
        self.tail = prior.tail
        self.drift_by(packed.session_off)
        self.reading_var = prior.reading_sd**2 + (step_g / packed.scale_g) ** 2 / 12
        self.log_days = np.log(np.maximum(packed.days, _TINY))
        self.seen = packed.seen.astype(float)
        # To begin with, only what contradicts its bar by far is believed less.
        usual_var = np.maximum(self.reading_var[:, :, None], CONTRADICTS**2)
        alone = np.maximum(np.abs(packed.off) - packed.session_off[:, None], 0.0)
        self.weights = self._weighted(alone**2 / usual_var)
        self.predict()

    def predict(self) -> None:
        curve, bars = self.curve, self.bars
        self.shape = np.exp(curve[:, 2])[:, None, None]
        self.log_clock = self.log_days - (curve[:, 1, None] + bars[..., 1])[..., None]
        power = np.exp(self.shape * self.log_clock)
        decay = np.exp(-power)
        self.amount = (self.packed.water[:, None] * np.exp(curve[:, 0, None] + bars[..., 0]))[..., None]
        self.lost = self.amount * (1 - decay)
        self.slope = self.amount * decay * power * self.shape
        self.predicted = 1 + bars[..., 2, None] - self.lost - self.common[:, None, :]
        self.residuals = (self.packed.relative - self.predicted) * self.seen

    def reweigh(self, *, first: bool) -> None:
        if first:
            return
        self.weights = self._weighted(self.residuals**2 / self.reading_var[:, :, None])
        self.drift_by(self.session_var * self._common_pull())

    def _weighted(self, z2: Floats) -> Floats:
        out: Floats = self.seen * (self.tail + 1) / (self.tail + z2) / self.reading_var[:, :, None]
        return out

    def drift_by(self, drift: Floats) -> None:
        """Take the sessions to have drifted so far: what is off by more is believed less."""
        self.session_var = self.drift_var * (self.tail + drift**2 / self.drift_var) / (self.tail + 1)
        total = self.room.copy()
        each = np.arange(drift.shape[1])
        total[:, each, each] += self.session_var
        self.common_precision = np.linalg.inv(total)

    def _common_pull(self) -> Floats:
        out: Floats = (self.common_precision @ (self.common - self.common_mean)[..., None])[..., 0]
        return out

    def solve(self) -> tuple[Floats, Floats, _Parts]:
        count, bars, sessions = self.residuals.shape
        width = CURVE + sessions
        along = np.empty((count, bars, 3, sessions))
        along[:, :, 0], along[:, :, 1], along[:, :, 2] = -self.lost, self.slope, -self.slope * self.log_clock
        own = along.copy()
        own[:, :, 2] = 1.0
        weighted = along * self.weights[:, :, None, :]
        weighted_own = weighted.copy()
        weighted_own[:, :, 2] = self.weights
        across = np.swapaxes(along, 2, 3)
        bar_precision = weighted_own @ np.swapaxes(own, 2, 3)
        index = np.arange(3)
        bar_precision[:, :, index, index] += self.bar_prior
        bar_cov = _inverse3(bar_precision)
        cross = np.empty((count, bars, 3, width))
        cross[..., :CURVE], cross[..., CURVE:] = weighted_own @ across, -weighted_own
        gain = bar_cov @ cross
        shared = np.zeros((count, width, width))
        shared[:, :CURVE, :CURVE] = (weighted @ across).sum(axis=1) + self.precision
        shared[:, :CURVE, CURVE:] = -weighted.sum(axis=1)
        shared[:, CURVE:, :CURVE] = np.swapaxes(shared[:, :CURVE, CURVE:], 1, 2)
        shared[:, CURVE:, CURVE:] = self.common_precision
        where = np.arange(CURVE, width)
        shared[:, where, where] += self.weights.sum(axis=1)
        flat_cross = cross.reshape(count, bars * 3, width)
        shared -= np.swapaxes(flat_cross, 1, 2) @ gain.reshape(count, bars * 3, width)
        pull = self.weights * self.residuals
        own_pull = (own @ pull[..., None])[..., 0] - self.bar_prior * (self.bars - self.bar_mean)
        pulls = np.empty((count, width))
        pulls[:, :CURVE] = (along @ pull[..., None])[..., 0].sum(axis=1)
        pulls[:, :CURVE] -= (self.precision @ (self.curve - self.mean)[..., None])[..., 0]
        pulls[:, CURVE:] = -pull.sum(axis=1) - self._common_pull()
        moved_own = (bar_cov @ own_pull[..., None])[..., 0]
        pulls -= (np.swapaxes(flat_cross, 1, 2) @ moved_own.reshape(count, bars * 3, 1))[..., 0]
        step = np.linalg.solve(shared, pulls[..., None])[..., 0]
        bar_step = moved_own - (gain @ step[:, None, :, None])[..., 0]
        return step, bar_step, _Parts(shared, bar_cov, gain, bar_precision, along)

    def move(self, shared: Floats, bars: Floats) -> None:
        furthest = np.maximum(np.abs(shared[:, :CURVE]).max(axis=1), np.abs(bars[..., :2]).max(axis=(1, 2)))
        part = np.minimum(1.0, LONGEST_STEP / np.maximum(furthest, _TINY))
        self.curve = self.curve + part[:, None] * shared[:, :CURVE]
        self.common = self.common + part[:, None] * shared[:, CURVE:]
        self.bars = self.bars + part[:, None, None] * bars
        self.predict()

    def result(self, parts: _Parts) -> Fit:
        z2 = self.residuals**2 / self.reading_var[:, :, None]
        off = self.curve - self.mean
        common_off = self.common - self.common_mean
        penalty = (
            (off[:, None, :] @ self.precision @ off[..., None])[:, 0, 0]
            + (common_off * self._common_pull()).sum(axis=1)
            + (self.bar_prior * (self.bars - self.bar_mean) ** 2).sum(axis=(1, 2))
            + (self.tail + 1) * (np.log1p(z2 / self.tail) * self.seen).sum(axis=(1, 2))
            + (self.tail + 1)
            * np.log1p((self.session_var / self.drift_var * (self.tail + 1) - self.tail) / self.tail).sum(axis=1)
        )
        return Fit(
            curve=self.curve, common=self.common, bars=self.bars,
            shared_cov=np.linalg.inv(parts.shared_precision).astype(np.float64),
            bar_cov=parts.bar_cov, gain=parts.gain, curve_mean=self.mean, curve_precision=self.precision,
            common_mean=self.common_mean, room=self.room, session_var=self.session_var, weights=self.weights,
            reading_var=self.reading_var, predicted=self.predicted, residuals=self.residuals,
            along=parts.along, penalty=penalty, shared_precision=parts.shared_precision, bar_precision=parts.bar_precision,
        )  # fmt: skip


def _inverse3(matrix: Floats) -> Floats:
    """Invert symmetric (..., 3, 3) matrices by cofactors: many times the speed of a general solver."""
    a, b, c = matrix[..., 0, 0], matrix[..., 0, 1], matrix[..., 0, 2]
    d, e, f = matrix[..., 1, 1], matrix[..., 1, 2], matrix[..., 2, 2]
    out = np.empty_like(matrix)
    out[..., 0, 0], out[..., 1, 1], out[..., 2, 2] = d * f - e * e, a * f - c * c, a * d - b * b
    out[..., 0, 1] = out[..., 1, 0] = c * e - b * f
    out[..., 0, 2] = out[..., 2, 0] = b * e - c * d
    out[..., 1, 2] = out[..., 2, 1] = b * c - a * e
    determinant = a * out[..., 0, 0] + b * out[..., 0, 1] + c * out[..., 0, 2]
    return out / determinant[..., None, None]
