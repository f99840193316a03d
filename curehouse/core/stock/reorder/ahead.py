"""What may be used of many materials over days to come: planned runs, and what nobody has planned yet.

How long the days are may be unknown (as long as a delivery takes). The transform of the sum is known in
closed form for each length; what is planned within it only moves it. One inverse Fourier transform a
question, many questions at once.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curehouse.core.stock.lead_time import LeadTime
from curehouse.core.stock.reorder.compound import MOST_CASES, gathered, log_of_one_more, on_grid, reach
from curehouse.core.stock.reorder.things import Planned
from curehouse.core.stock.reorder.unplanned import Floats, Rate, Sizes

CELLS = 256
_AT_ONCE = 16
# Lengths that are less likely than this in all, at either end, count as the last one that is not.
_TAIL = 2e-4


@dataclass(frozen=True, slots=True)
class Asked:
    """One question: what of a material goes within so many days, of which each length has its chance.

    Only what goes after the day *after* is asked about; with -1 it is all, today's included. ``chances`` may be several
    rows (for :func:`totals_of_each`): several questions about the same lengths.
    """

    rate: Rate
    sizes: Sizes
    planned: Sequence[Planned]
    days: Floats
    chances: Floats
    after: int = -1


@dataclass(frozen=True, slots=True)
class Total:
    """The distribution of what goes: ``below[i]`` is the chance of at most ``i`` cells beyond what goes for certain."""

    cell: float
    below: Floats
    # Of each length: what is planned within it, and how likely it is.
    planned: Floats
    chances: Floats
    # What is planned within the shortest length.
    certain: float = 0.0

    def risk(self, quantity: float) -> float:
        """Return how likely more goes than *quantity*; certain where what is planned alone is more."""
        for_certain = float(self.chances @ (self.planned > quantity + 1e-6))
        beyond = quantity - self.certain + 1e-6
        if beyond < 0:
            return 1.0
        place = min(int(beyond / self.cell + 1e-9), len(self.below) - 1)
        return float(min(max(1 - self.below[place], for_certain, 0.0), 1.0))

    def quantile(self, share: float) -> float:
        """Return the least quantity that is not passed with a chance of *share*."""
        place = int(np.searchsorted(self.below, share - 1e-12))
        return self.certain + min(place, len(self.below) - 1) * self.cell

    def taken(self, here: float, more: Floats) -> Floats:
        """Return what is expected to be taken of *more*, once what is *here* is gone."""
        past = np.concatenate([[0.0], self.certain + np.concatenate([[0.0], np.cumsum(1 - self.below)]) * self.cell])
        places = np.concatenate([[0.0], self.certain + np.arange(len(past) - 1) * self.cell])
        found: Floats = np.interp(here + more, places, past) - np.interp(here, places, past)
        return np.minimum(np.maximum(found, 0.0), more)


def over_delivery(lead: LeadTime, more_days: int) -> tuple[Floats, Floats]:
    """Return the lengths, and their chances, of a delivery that is ordered *more_days* from now."""
    chances = np.asarray(lead.chances, dtype=np.float64)
    sums = np.cumsum(chances)
    first = int(np.searchsorted(sums, _TAIL))
    last = min(int(np.searchsorted(sums, sums[-1] - _TAIL)), len(chances) - 1)
    kept = chances[first : last + 1].copy()
    kept[0] += chances[:first].sum()
    kept[-1] += chances[last + 1 :].sum()
    return lead.first_day + more_days + np.arange(first, last + 1, dtype=np.float64), kept


def over_deliveries(lead: LeadTime, more_days: Sequence[int]) -> tuple[Floats, Floats]:
    """Return the lengths of deliveries that are ordered on any of some days from now, and a row of chances for each of these.

    *more_days* go up.
    """
    days, chances = over_delivery(lead, more_days[0])
    rows = np.zeros((len(more_days), len(days) + more_days[-1] - more_days[0]))
    for row, more in zip(rows, more_days, strict=True):
        row[more - more_days[0] : more - more_days[0] + len(days)] = chances
    return days[0] + np.arange(rows.shape[1], dtype=np.float64), rows


def totals(asked: Sequence[Asked], even: Sequence[Floats]) -> list[Total]:
    """Return the answer to each question.

    *even*: for each question to how many even days the first so many days to come add up for what nobody has planned;
    its first is 0. Lengths beyond its end count as its end.
    """
    return [found for (found,) in totals_of_each(asked, even)]


def totals_of_each(asked: Sequence[Asked], even: Sequence[Floats]) -> list[list[Total]]:
    """Return the answers to each row of chances of each question; otherwise as :func:`totals`."""
    found: list[list[Total]] = []
    for begin in range(0, len(asked), _AT_ONCE):
        found += _at_once(asked[begin : begin + _AT_ONCE], even[begin : begin + _AT_ONCE])
    return found


def _at_once(asked: Sequence[Asked], even: Sequence[Floats]) -> list[list[Total]]:
    rows = [_row(one, of_one) for one, of_one in zip(asked, even, strict=True)]
    cases = max(len(row.exposures) for row in rows)
    exposures, moved = np.zeros((len(rows), cases)), np.zeros((len(rows), cases))
    chances = np.zeros((len(rows), max(len(row.chances) for row in rows), cases))
    for i, row in enumerate(rows):
        count = len(row.exposures)
        exposures[i, :count] = row.exposures / row.asked.rate.days
        chances[i, : len(row.chances), :count] = row.chances
        moved[i, :count] = np.floor((row.planned - row.certain) / row.cell + 1e-9)
    one_less = 1 - np.fft.rfft(np.stack([on_grid(row.asked.sizes, row.cell, CELLS) for row in rows]), axis=1)
    told = np.array([row.asked.rate.told for row in rows])
    exponent = -told[:, None, None] * log_of_one_more(exposures[:, :, None] * one_less[:, None, :])
    if moved.any():
        turns = np.arange(one_less.shape[1]) * (-2j * np.pi / CELLS)
        exponent += moved[:, :, None] * turns
    # Chances are real: as many products as there are parts, not twice as many.
    phi = np.matmul(chances, np.exp(exponent, out=exponent).view(np.float64)).view(np.complex128)
    pmf = np.maximum(np.fft.irfft(phi, CELLS, axis=2), 0.0)
    below = np.cumsum(pmf, axis=2)
    below /= np.maximum(below[:, :, -1:], np.finfo(np.float64).tiny)
    return [
        [Total(row.cell, below[i, w], row.planned, row.chances[w], row.certain) for w in range(len(row.chances))]
        for i, row in enumerate(rows)
    ]


@dataclass(frozen=True, slots=True)
class _Row:
    asked: Asked
    cell: float
    exposures: Floats
    planned: Floats
    chances: Floats
    certain: float


def _row(one: Asked, even: Floats) -> _Row:
    places = np.minimum(one.days.astype(np.int64), len(even) - 1)
    going = np.maximum(even[places] - even[min(max(one.after, 0), len(even) - 1)], 0.0)
    rows = np.atleast_2d(one.chances)
    most_cases = MOST_CASES + len(rows) - 1
    within = [p for p in one.planned if one.after < p.day <= one.days[-1]]
    if within:
        days = np.array([p.day for p in within])
        amounts = np.array([p.quantity for p in within])
        exposures, chances, planned = _gathered(going, rows, most_cases, (days[None, :] <= one.days[:, None]) @ amounts)
    else:
        exposures, chances = gathered(going, rows, most_cases)
        planned = np.zeros(len(exposures))
    certain = float(planned.min())
    most = float(planned.max()) - certain + reach(one.rate, one.sizes, going, 5)
    return _Row(one, max(most, 4 * float(one.sizes.sizes.max())) / CELLS, exposures, planned, chances, certain)


def _gathered(going: Floats, chances: Floats, most: int, planned: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the lengths, gathered among those within which as much is planned, by how much of the whole they are."""
    if len(going) <= most:
        return going, chances, planned
    begins = np.flatnonzero(np.diff(planned, prepend=-1.0))
    found = [
        (*gathered(going[a:b], chances[:, a:b], max(2, round(most * (b - a) / len(going)))), planned[a])
        for a, b in zip(begins, [*begins[1:], len(going)], strict=True)
    ]
    kept = np.concatenate([np.full(len(exposures), quantity) for exposures, _chances, quantity in found])
    return np.concatenate([one[0] for one in found]), np.concatenate([one[1] for one in found], axis=1), kept
