"""What a workshop's batches teach of a log of their room: what damp air does to bars, and whether the log is worth hearing.

Each batch's weighings leave a message on the path of the damp, its curve and bars set aside (`Fit.says_of_damp`). Under
a Gaussian path their evidence can be written down with a log and without. A log that does not show its worth in these
batches is not listened to.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .batches import WeighedBatch
from .damp import room_cov
from .packing import Packed
from .posterior import Fit
from .prior import Floats, Mix

# What ten points of humidity do to a bar's weight lies about this far from nothing, as histories with a log teach.
DAMP_EFFECT_SD = 0.006
# Natural log of the odds by which a log must explain the weighings better than none: "strong" evidence by Kass and
# Raftery (1995), J. Am. Stat. Assoc. 90, 773-795.
WORTH_HEARING = 3.0
# Batches that hung in the same air say the same of it.
_SAME_AIR_DAYS = 30


@dataclass(frozen=True, slots=True, eq=False)
class Message:
    """What N batches with D sessions say of the damp: precision, pull, what a log says (N, D), and whether there is one.

    Of sessions that were not held nothing is said; ``held`` is (N,) how many were.
    """

    sessions: Floats
    held: Floats
    precision: Floats
    pull: Floats
    soaked: Floats
    logged: bool

    @classmethod
    def of(cls, group: Packed, found: Fit) -> "Message":
        """Return what a group's fit says, whatever was taken to hold of the damp."""
        precision, pull = found.says_of_damp()
        pull = pull + (precision @ found.common_mean[..., None])[..., 0]
        held = group.held.astype(float)
        precision = precision * held[:, :, None] * held[:, None, :]
        return cls(group.sessions, held.sum(axis=1), precision, pull * held, group.damp, group.logged)

    def told(self, sd: float, mix: Mix) -> Floats:
        """Return (N,) the damp's variance over the uncertainty of what a batch says of it, the mean of its sessions."""
        cov = sd**2 * room_cov(self.sessions, self.sessions, mix)
        out: Floats = (cov * self.precision).sum(axis=(1, 2)) / self.held
        return out

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


@dataclass(frozen=True, slots=True)
class Airs:
    """In how much air some batches hung.

    Attributes
    ----------
    alike
        How many batches hung in the same air at the same time, on average.
    beyond
        Share of the air beyond one cure's: that it grew damper all along one can't be told from how bars dry.
    """

    alike: float
    beyond: float

    @classmethod
    def of(cls, batches: Sequence[WeighedBatch]) -> "Airs":
        """Count months of rooms."""
        months = []
        for batch in batches:
            if batch.cut_day is not None:
                ends = int(batch.cut_day + batch.last_day) // _SAME_AIR_DAYS
                months.append([(batch.room, month) for month in range(batch.cut_day // _SAME_AIR_DAYS, ends + 1)])
        if not months:
            return cls(1.0, 0.0)
        airs, lengths = len(set().union(*months)), [len(one) for one in months]
        return cls(sum(lengths) / airs, 1 - max(lengths) / airs)


def share_counted(messages: Sequence[Message], airs: Airs, sd: float, mix: Mix) -> float:
    """Return what share of the messages' evidence counts, the damp beside a log of that spread and make.

    What a log leaves unexplained is the same for all that hung in the same air. The less a batch tells of it beside its
    own uncertainty, the more news the next one in that air is: of n messages, each with what is common over its own
    uncertainty in the ratio r, (1 + r) / (1 + n r) counts.
    """
    told = float(np.concatenate([one.told(sd, mix) for one in messages]).mean())
    return airs.beyond * (1 + told) / (1 + airs.alike * told)


def effect(messages: Sequence[Message], sd: float, mix: Mix, share: float) -> float:
    """Return the likeliest damp effect, `share` of the evidence counted, the damp beside a log of that spread and make."""
    _, slope, bend = share * _summed(messages, sd, mix)
    return float(slope / (bend + DAMP_EFFECT_SD**-2))


def worth(messages: Sequence[Message], sd: float, mix: Mix, share: float, *, heard: bool) -> float:
    """Return the log evidence that counts: of a log that is heard, whatever the damp effect may be, or of none."""
    plain, slope, bend = share * _summed(messages, sd, mix)
    if not heard:
        return float(plain)
    precision = bend + DAMP_EFFECT_SD**-2
    return float(plain + 0.5 * slope**2 / precision - 0.5 * np.log(precision * DAMP_EFFECT_SD**2))


def _summed(messages: Sequence[Message], sd: float, mix: Mix) -> Floats:
    out: Floats = np.sum([one.evidence(sd, mix) for one in messages], axis=0)
    return out
