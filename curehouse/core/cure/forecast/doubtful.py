"""Weighings that do not fit the batch's own forecast, each with what it probably is.

Each is held against what all others say of it: its residual and the spread of its prediction, with its own part taken
out again. A session whose drift lies far outside what scales do is off as a whole.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..doubt import Doubt, probable_cause
from ..expected import Expected
from ..foretold_weights import FAR_SD, LEAST_OFF_G, LEAST_OFF_STEPS, SHOWN_SD
from ..tare import CommonOffset, off_alike
from .batches import WeighedBatch
from .humidity import Rooms
from .packing import Packed, packed
from .posterior import Fit, fit
from .prior import CURVE, Floats, Prior

# Standard deviations beyond which a session does not fit.
FAR_SESSION = 5.0
# Which of two weighings that contradict each other is wrong: what speaks for a slip that can be undone, at most for a
# size far off, and what share of slips are another bar's weight. Common experience, no source.
_LN_ODDS_UNDONE, _MOST_BY_SIZE, _ANOTHERS = 3.0, 6.0, 0.2


@dataclass(frozen=True, slots=True)
class DoubtfulWeighing:
    """A weighing that does not fit: its bar, its day since the cut, what it probably is."""

    bar: str
    day: float
    doubt: Doubt


def doubtful(
    batches: Sequence[WeighedBatch], prior: Prior, *, step_g: float, room: Rooms | None = None
) -> list[tuple[DoubtfulWeighing, ...]]:
    """Return the weighings of each batch that do not fit its forecast, by day and bar.

    Parameters
    ----------
    batches
        Batches with all that was weighed of them.
    prior, step_g, room
        As in `foretell`.
    """
    out: dict[int, tuple[DoubtfulWeighing, ...]] = {}
    for group, places in packed(batches, prior, room):
        held = _Held.against(group, fit(group, prior, step_g=step_g), prior, step_g)
        for n, place in enumerate(places):
            out[place] = held.doubts(n)
    return [out[place] for place in range(len(batches))]


@dataclass(frozen=True, slots=True, eq=False)
class _Held:
    """Weighings held against the others: all (N, J, D) in grams but for `far`, and `drift_g` (N, D)."""

    group: Packed
    step_g: float
    middle_g: Floats
    sd_g: Floats
    off: NDArray[np.bool_]
    session_off: NDArray[np.bool_]
    drift_g: Floats
    size_sd: float

    @classmethod
    def against(cls, group: Packed, found: Fit, prior: Prior, step_g: float) -> "_Held":
        scale_g = group.scale_g[:, :, None]
        part = np.clip(found.weights * found.prediction_var(), 0.0, 0.99)
        var = found.prediction_var() / (1 - part)
        residual = found.residuals / (1 - part)
        drift, drift_sd = _drift(found, prior)
        far = np.abs(drift) > FAR_SESSION * drift_sd
        drift_g = np.where(far, drift, 0.0) * np.median(group.scale_g, axis=1, keepdims=True)
        weighed = np.isfinite(group.given_g)
        relative = np.where(weighed, group.given_g, 0.0) / scale_g
        residual = np.where(group.seen, residual, relative - found.predicted)
        sd = np.sqrt(var + found.reading_var[:, :, None])
        least_g = max(LEAST_OFF_G, LEAST_OFF_STEPS * step_g)
        # What a session has in common lowers all its weights by -drift: a single weighing is held against the rest of it.
        several = weighed.sum(axis=1, keepdims=True) > 1
        whole = far[:, None, :] & several & weighed & (np.abs(residual * scale_g - drift_g[:, None, :]) > least_g)
        alone = weighed & (np.abs(residual) > FAR_SD * sd) & (np.abs(residual * scale_g) > least_g)
        # Off by the drift and little beside it, a weighing is off with its session.
        with_it = whole & (np.abs(residual * scale_g) < np.abs(drift_g[:, None, :]) / 2)
        middle = relative - residual + np.where(whole, drift_g[:, None, :] / scale_g, 0.0)
        return cls(group, step_g, middle * scale_g, sd * scale_g, alone | whole, with_it, drift_g, prior.size_sd)

    def doubts(self, n: int) -> tuple[DoubtfulWeighing, ...]:
        """Return the doubtful weighings of a batch; of two that only contradict each other, the one that is likelier wrong."""
        found = self._all_doubts(n)
        for j, label in enumerate(self.group.labels[n]):
            both = [one for one in found if one.bar == label]
            if len(both) == 2 == np.isfinite(self.group.given_g[n, j]).sum():
                found.remove(min(both, key=lambda one: self._strange(n, one)))
        return tuple(found)

    def _strange(self, n: int, one: DoubtfulWeighing) -> float:
        """Return the log odds by which a slip explains a weighing rather than its bar being of an unusual size.

        What counts is how far it lies from the session's other bars, that undoing a slip gives what was expected, and
        that it is another bar's weight to the step, which seldom happens by chance.
        """
        d = int(np.argmin(np.abs(self.group.days[n, 0] - one.day)))
        own_g = one.doubt.expected.middle_g + one.doubt.difference_g
        others = np.array(
            [g for label, g in zip(self.group.labels[n], self.group.given_g[n, :, d], strict=True) if label != one.bar]
        )
        others = others[np.isfinite(others)]
        out = _LN_ODDS_UNDONE if one.doubt.guess_g is not None else 0.0
        if len(others):
            middle_g = float(np.median(others))
            out += min(0.5 * (np.log(own_g / middle_g) / self.size_sd) ** 2, _MOST_BY_SIZE)
            if np.abs(others - own_g).min() < self.step_g / 2:
                by_chance = len(others) * self.step_g / (2.5 * self.size_sd * middle_g)
                out += float(np.log1p(_ANOTHERS / by_chance))
        return out

    def _all_doubts(self, n: int) -> list[DoubtfulWeighing]:
        found = []
        for j, d in sorted(zip(*np.nonzero(self.off[n]), strict=True), key=lambda one: (one[1], one[0])):
            others = [
                (label, self.expected(n, i, d))
                for i, label in enumerate(self.group.labels[n])
                if i != j and np.isfinite(self.group.given_g[n, i, d])
            ]
            common = self._common(n, j, d)
            earlier = self.group.given_g[n, j, :d]
            last = earlier[np.isfinite(earlier)]
            doubt = probable_cause(
                float(self.group.given_g[n, j, d]),
                self.expected(n, j, d),
                last_g=float(last[-1]) if len(last) else None,
                others=others,
                common=common,
                step_g=self.step_g,
            )
            found.append(DoubtfulWeighing(self.group.labels[n][j], float(self.group.days[n, j, d]), doubt))
        return found

    def _common(self, n: int, j: int, d: int) -> CommonOffset | None:
        """Say whether a doubtful weighing shares its fault with others of its session."""
        weight_g = float(self.group.given_g[n, j, d])
        off_g = self.group.given_g[n, :, d] - self.middle_g[n, :, d]
        alike = [
            i
            for i in range(len(off_g))
            if i != j and self.off[n, i, d] and off_alike(float(off_g[i]), float(off_g[j]), weight_g, self.step_g)
        ]
        if not alike and not self.session_off[n, j, d]:
            return None
        return CommonOffset(float(np.median(off_g[[j, *alike]])), tuple(self.group.labels[n][i] for i in alike))

    def expected(self, n: int, j: int, d: int) -> Expected:
        """Return what was to be expected of a weighing from all others."""
        middle_g, sd_g = float(self.middle_g[n, j, d]), float(self.sd_g[n, j, d])
        return Expected(middle_g - SHOWN_SD * sd_g, middle_g + SHOWN_SD * sd_g, middle_g, (FAR_SD - SHOWN_SD) * sd_g)


def _drift(found: Fit, prior: Prior) -> tuple[Floats, Floats]:
    """Return (N, D) how far each session drifts off the room's damp, and the spread to hold that against."""
    sessions = found.common.shape[1]
    eye = np.eye(sessions)
    share = found.room @ np.linalg.inv(found.room + found.session_var[:, :, None] * eye)
    off = (found.common - found.common_mean)[..., None]
    drift = (off - share @ off)[..., 0]
    own = found.shared_cov[:, CURVE:, CURVE:]
    var = (eye - share) @ own @ np.swapaxes(eye - share, 1, 2) + found.room - share @ found.room
    return drift, np.sqrt(np.diagonal(var, axis1=1, axis2=2) + prior.session_sd**2)
