"""The days to come, and a material as it would best be bought, with how it stands."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.ahead import Asked, Total
from curehouse.core.stock.reorder.kept import Kept, Offered
from curehouse.core.stock.reorder.position import counted
from curehouse.core.stock.reorder.things import Costs
from curehouse.core.stock.reorder.unplanned import YEAR_DAYS, Floats, Rate, Season, Sizes

AHEAD_DAYS = 900
# A batch is late by so many days in the mean when something is missing (our own choice, no source).
LATE_DAYS = 4
LEAST_RISK, MOST_RISK = 0.008, 0.06
# Where nobody sells it yet, it is asked whether it would be due if it took so long (common practice, no source).
NOT_SOLD = LeadTime((1.0,), 10)


@dataclass(frozen=True, slots=True)
class Ahead:
    """The days to come: by how much more than on an even day is used on each, and even days up to each (the first is 0).

    ``announced``: from ``announced.share_open``, the share of each day's use that is not planned yet.
    """

    factors: Floats
    everything: Floats
    announced: Floats

    def a_day(self, rate: Rate, sizes: Sizes) -> float:
        """Return what is used on a day of the year to come, in the mean."""
        return rate.mean() * sizes.mean() * float(self.everything[int(YEAR_DAYS)]) / YEAR_DAYS


def days_ahead(season: Season, announced: Sequence[float] | Floats) -> Ahead:
    """Return the days to come; *announced* from ``announced.share_open``."""
    factors = season.at(np.arange(1, AHEAD_DAYS + 1))
    return Ahead(factors, np.concatenate([[0.0], np.cumsum(factors)]), np.asarray(announced, dtype=np.float64))


@dataclass(frozen=True, slots=True)
class Standing:
    """What goes from some days on, and what keeps beyond each of them."""

    parts: tuple[tuple[Total, float], ...]

    def risk(self, more: float = 0.0) -> float:
        """Return the chance that it is not enough with so much *more* (the likeliest of the ways to go short)."""
        return max(total.risk(keeps + more) for total, keeps in self.parts)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A material as it would best be bought: of which offer, how many packs; and how it stands.

    ``unplanned``: from ``besides.besides_planned``, to how many even days what nobody has planned of it adds up.
    ``for_freight``: how many of the packs are there only so that goods come without freight.
    """

    kept: Kept
    rate: Rate
    sizes: Sizes
    unplanned: Floats
    used: Floats
    a_day: float
    offer: Offered | None = None
    packs: int = 0
    for_freight: int = 0
    in_its_life: Total | None = None
    here: float = 0.0
    risk: float = 0.0
    risk_accepted: float = 0.0
    until_next: Standing | None = None

    @property
    def lead(self) -> LeadTime:
        """Return how long its delivery takes."""
        return NOT_SOLD if self.offer is None else self.offer.lead

    def asked(self, days: Floats, chances: Floats) -> Asked:
        """Return the question what goes within *days*."""
        return Asked(self.rate, self.sizes, self.kept.planned, days, chances)

    def here_within(self, days: int) -> float:
        """Return what is here and counts over *days* days."""
        return counted(self.kept, self.used, days)


def accepted_risk(one: Candidate, costs: Costs) -> float:
    """Return the chance of going short that is worth what it saves: of cheap things none, of dear ones that seldom go some."""
    if one.offer is None:
        return MOST_RISK
    late = costs.late_batch + costs.late_day * LATE_DAYS
    held = one.packs * one.offer.price * costs.holding_rate
    return float(np.clip(held * one.sizes.mean() / max(late * one.a_day * YEAR_DAYS, 1e-12), LEAST_RISK, MOST_RISK))
