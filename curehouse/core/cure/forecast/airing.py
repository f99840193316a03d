"""What a workshop's batches teach of its rooms' damp: how strong it is, of what spells, and what a log says of it.

Each batch's weighings leave a message on the path of the damp, its curve and bars set aside (`Fit.says_of_damp`). Under
a Gaussian path their evidence can be written down, so that makes of the damp can be compared without another fit. A
log that does not show its worth in these batches is not listened to.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .batches import WeighedBatch
from .damp import room_cov
from .packing import Packed
from .posterior import Fit
from .prior import Floats, Mix, Prior

# Steps of the search: weights of spells by doubling, their size by a sixth.
_MIX_STEP, _SD_STEP = np.log(2.0), np.log(2.0) / 4
_FURTHEST = 5
# How far a workshop is taken to lie from what is usual (log spread).
_MIX_SPREAD, _SD_SPREAD = 1.0, 0.3
# What ten points of humidity do to a bar's weight lies about this far from nothing, as histories with a log teach.
DAMP_EFFECT_SD = 0.006
# Natural log of the odds by which a log must explain the weighings better than none: "strong" evidence by Kass and
# Raftery (1995), J. Am. Stat. Assoc. 90, 773-795.
WORTH_HEARING = 3.0
# Batches that hung in the same air say the same of it.
_SAME_AIR_DAYS = 30


@dataclass(frozen=True, slots=True, eq=False)
class Message:
    """What N batches with D sessions say of the damp: precision, pull, what a log says (N, D), and whether there is one."""

    sessions: Floats
    precision: Floats
    pull: Floats
    soaked: Floats
    logged: bool

    @classmethod
    def of(cls, group: Packed, found: Fit) -> "Message":
        """Return what a group's fit says, whatever was taken to hold of the damp."""
        precision, pull = found.says_of_damp()
        pull = pull + (precision @ found.common_mean[..., None])[..., 0]
        return cls(group.sessions, precision, pull, group.damp, group.logged)

    def evidence(self, sd: float, mix: Mix) -> Floats:
        """Return the log evidence without a damp effect, and the slope and the bend of it by the effect."""
        cov = sd**2 * room_cov(self.sessions, self.sessions, mix)
        eye = np.eye(cov.shape[1])
        through = eye + cov @ self.precision
        after = np.linalg.solve(through, cov)
        pull, soaked = self.pull[..., None], self.soaked[..., None]
        moved = after @ pull
        plain = 0.5 * (np.swapaxes(pull, 1, 2) @ moved).sum() - 0.5 * np.linalg.slogdet(through)[1].sum()
        said = self.precision @ soaked
        slope = (np.swapaxes(said, 1, 2) @ moved).sum() - (np.swapaxes(pull, 1, 2) @ soaked).sum()
        bend = (np.swapaxes(soaked, 1, 2) @ said).sum() - (np.swapaxes(said, 1, 2) @ after @ said).sum()
        return np.array([plain, slope, bend])


def counted_once(batches: Sequence[WeighedBatch]) -> float:
    """Return what share of the batches' evidence on the air counts where they hung in the same air at the same time."""
    months = [
        (batch.room, month)
        for batch in batches
        if batch.cut_day is not None
        for month in range(batch.cut_day // _SAME_AIR_DAYS, int(batch.cut_day + batch.last_day) // _SAME_AIR_DAYS + 1)
    ]
    return len(set(months)) / len(months) if months else 1.0


def aired(messages: Sequence[Message], prior: Prior, base: Prior, share: float) -> Prior:
    """Return the prior with what the messages teach of the damp.

    Parameters
    ----------
    messages
        Of the workshop's batches, by `prior`.
    base
        What is taken to hold without any.
    share
        What share of the evidence counts: `counted_once`.
    """
    without = _Search(messages, base, share)
    sd, mix = without.best((prior.room_sd, prior.mix))
    plain = replace(prior, room_sd=sd, mix=mix, logged_room_sd=sd, logged_mix=mix, damp_effect=0.0)
    logged = [one for one in messages if one.logged]
    if not logged:
        return plain
    search = _Search(logged, base, share, logged=True)
    logged_sd, logged_mix = search.best((prior.logged_room_sd, prior.logged_mix))
    ahead = search.worth(logged_sd, logged_mix) - _Search(logged, base, share).worth(sd, mix)
    if ahead < WORTH_HEARING:
        return plain
    return replace(plain, logged_room_sd=logged_sd, logged_mix=logged_mix, damp_effect=search.effect(logged_sd, logged_mix))


class _Search:
    """The likeliest make of the damp, step by step; with a log, the damp effect is taken along at its likeliest."""

    def __init__(self, messages: Sequence[Message], base: Prior, share: float, *, logged: bool = False) -> None:
        self.messages, self.base, self.share, self.logged = messages, base, share, logged
        self.known: dict[tuple[float, Mix], Floats] = {}

    def best(self, start: tuple[float, Mix]) -> tuple[float, Mix]:
        """Return spread and mix from which no single step leads further up."""
        here = self._steps(start)
        value = self._worth_at(here)
        climbing = True
        while climbing:
            climbing = False
            for axis in range(3):
                for way in (-1, 1):
                    next_ = tuple(one + way * (i == axis) for i, one in enumerate(here))
                    while max(map(abs, next_)) <= _FURTHEST and (found := self._worth_at(next_)) > value:
                        here, value, climbing = next_, found, True
                        next_ = tuple(one + way * (i == axis) for i, one in enumerate(here))
        return self._at(here)

    def worth(self, sd: float, mix: Mix) -> float:
        """Return the log evidence that counts, with what is held beforehand of the damp."""
        plain, slope, bend = self.share * self._evidence(sd, mix)
        out = plain - 0.5 * (np.log(sd / self.base.room_sd) / _SD_SPREAD) ** 2
        for one, usual in zip(mix, self.base.mix, strict=True):
            out -= 0.5 * (np.log(one / usual) / _MIX_SPREAD) ** 2
        if self.logged:
            precision = bend + DAMP_EFFECT_SD**-2
            out += 0.5 * slope**2 / precision - 0.5 * np.log(precision * DAMP_EFFECT_SD**2)
        return float(out)

    def effect(self, sd: float, mix: Mix) -> float:
        """Return the likeliest damp effect."""
        _, slope, bend = self.share * self._evidence(sd, mix)
        return float(slope / (bend + DAMP_EFFECT_SD**-2))

    def _evidence(self, sd: float, mix: Mix) -> Floats:
        if (sd, mix) not in self.known:
            self.known[sd, mix] = np.sum([one.evidence(sd, mix) for one in self.messages], axis=0)
        return self.known[sd, mix]

    def _at(self, steps: tuple[int, ...]) -> tuple[float, Mix]:
        size, long, quick = steps
        usual_long, usual_quick = self.base.mix
        mix = (usual_long * float(np.exp(_MIX_STEP * long)), usual_quick * float(np.exp(_MIX_STEP * quick)))
        # A step of the mix leaves the damp as strong as it was.
        strength = (1 + usual_long + usual_quick) / (1 + sum(mix))
        return self.base.room_sd * float(np.exp(_SD_STEP * size) * np.sqrt(strength)), mix

    def _steps(self, start: tuple[float, Mix]) -> tuple[int, ...]:
        sd, mix = start
        long, quick = (round(float(np.log(a / b)) / _MIX_STEP) for a, b in zip(mix, self.base.mix, strict=True))
        strength = (1 + sum(mix)) / (1 + sum(self.base.mix))
        size = round(float(np.log(sd / self.base.room_sd * np.sqrt(strength))) / _SD_STEP)
        return tuple(min(max(one, -_FURTHEST), _FURTHEST) for one in (size, long, quick))

    def _worth_at(self, steps: tuple[int, ...]) -> float:
        return self.worth(*self._at(steps))
