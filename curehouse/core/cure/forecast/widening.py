"""The factor by which ranges hold as often as wanted, as far as a history can tell it from chance.

Cures that hung in the same air miss together: eighty of a year are worth a score, and factors taken from them at their
word made ranges worse. So what a history says counts by how well it knows it, beside how far houses lie apart.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from .prior import Floats

# Batches' worth of what all numbers of weighings say together, beside what one says more.
_WORTH_TOGETHER = 240.0
_STEPS = 20
# Cures from which half of what there is to learn of a house is learnt, and airs without which nothing tells of chance.
_WORTH_LEARNT, _LEAST_AIRS = 20.0, 2
# How far apart the slope of what holds is taken, as a log of the factor, and the least slope taken for one.
_APART, _FLATTEST = 0.1, 0.05


@dataclass(frozen=True, slots=True)
class Houses:
    """What factors houses want, as their cures show.

    Attributes
    ----------
    unlearnt, usual
        That of a house that has learnt nothing yet, and the middle of those that have learnt from many cures.
    spread
        How far houses lie apart, as a log.
    narrowest, widest
        No factor is looked for beyond these.
    steepest
        By how much more of the ranges can hold as the log of the factor grows: of a few cures they hold by leaps.
    """

    unlearnt: float
    usual: float
    spread: float
    narrowest: float
    widest: float
    steepest: float

    def expected(self, cures: int) -> float:
        """Return the log of the factor that a house of so many cures is taken to want before they are looked at."""
        learnt = cures / (cures + _WORTH_LEARNT)
        return float(learnt * np.log(self.usual) + (1 - learnt) * np.log(self.unlearnt))


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """How many of each replayed batch's ranges hold by a factor on them: (N,) how many, of (N,).

    `keys` and `airs` are (N,): which cure it is of, and in which air that hung.
    """

    of_each: Callable[[float], Floats]
    counts: Floats
    keys: Sequence[Hashable]
    airs: Sequence[Hashable]

    def share(self, log_factor: float) -> float:
        """Return the share that holds, by the log of the factor."""
        return float(self.of_each(float(np.exp(log_factor))).sum() / max(self.counts.sum(), 1.0))

    def error(self, log_factor: float, wanted: float, steepest: float) -> float:
        """Return the standard error of the factor found, as a log; no end to it where the cures hung in one air.

        Cures of one air count as one (the "sandwich"), and no error is less than that of as many even chances as cures.
        """
        places = {air: place for place, air in enumerate(dict.fromkeys(self.airs))}
        count = self.counts.sum()
        if len(places) < _LEAST_AIRS or not count:
            return float("inf")
        each = self.of_each(float(np.exp(log_factor)))
        share = each.sum() / count
        missed = np.bincount([places[air] for air in self.airs], weights=each - share * self.counts) / count
        var = float(np.square(missed).sum()) * len(places) / (len(places) - 1)
        var = max(var, wanted * (1 - wanted) / len(set(self.keys)))
        rise = (self.share(log_factor + _APART) - self.share(log_factor - _APART)) / (2 * _APART)
        return float(np.sqrt(var) / min(max(rise, _FLATTEST), steepest))


def joined(held: Sequence[Held]) -> Held:
    """Return what several say as one."""
    return Held(
        lambda by: np.concatenate([one.of_each(by) for one in held]),
        np.concatenate([one.counts for one in held]),
        [key for one in held for key in one.keys],
        [air for one in held for air in one.airs],
    )


def factors(held: Sequence[Held], wanted: float, houses: Houses) -> tuple[float, ...]:
    """Return the factor for each number of weighings at which as many hold as wanted.

    What all say together is drawn towards what houses want, the more the less surely it is known; what one number of
    weighings says beyond that is mostly chance, and is drawn towards it.
    """
    said = [one for one in held if len(one.keys)]
    if not said:
        return (houses.unlearnt,) * len(held)
    every = joined(said)
    usual = houses.expected(len(set(every.keys)))
    together = _solved(every, wanted, houses)
    error = every.error(together, wanted, houses.steepest)
    trust = houses.spread**2 / (houses.spread**2 + error**2)
    common = usual + trust * (together - usual)
    out = []
    for one in held:
        more = _solved(one, wanted, houses) - together if len(one.keys) else 0.0
        part = trust * len(one.keys) / (len(one.keys) + _WORTH_TOGETHER)
        out.append(float(np.exp(common + part * more)))
    return tuple(out)


def found(held: Held, wanted: float, houses: Houses) -> tuple[float, float]:
    """Return the log of the factor at which as many hold as wanted, or the nearest there is, and its standard error."""
    at = _solved(held, wanted, houses)
    return at, held.error(at, wanted, houses.steepest)


def _solved(held: Held, wanted: float, houses: Houses) -> float:
    low, high = float(np.log(houses.narrowest)), float(np.log(houses.widest))
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if held.share(middle) < wanted else (low, middle)
    return (low + high) / 2
