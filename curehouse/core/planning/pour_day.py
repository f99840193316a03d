"""On which days to pour so that bars are dry enough by another day, and how likely they are by it."""

from collections.abc import Sequence
from dataclasses import dataclass

from .ready_days import ReadyDays

# How sure a maker may want to be that a batch is dry enough by a day: even odds, four of five, nineteen of twenty.
SHARES = (0.5, 0.8, 0.95)


@dataclass(frozen=True, slots=True)
class LatestPour:
    """The last day (an ordinal) on which to pour for a share of such batches to be dry enough; None: no day is."""

    share: float
    pour_on: int | None


def latest_pours(
    ready: ReadyDays, *, wanted_on: int, cut_after_days: int, shares: Sequence[float] = SHARES
) -> tuple[LatestPour, ...]:
    """Return the latest pours for bars that are wanted on a day (an ordinal), by how sure one wants to be.

    Parameters
    ----------
    cut_after_days
        Whole days from the pour to the cut.

    Raises
    ------
    ValueError
        If the cut comes before the pour.
    """
    _check(cut_after_days)
    return tuple(
        LatestPour(share, None if (day := ready.day_of(share)) is None else wanted_on - day - cut_after_days)
        for share in shares
    )


def chance_by(ready: ReadyDays, *, pour_on: int, wanted_on: int, cut_after_days: int) -> float:
    """Return how likely (0 to 1) bars that are poured on a day are dry enough by another; both ordinals."""
    _check(cut_after_days)
    return ready.share_by(wanted_on - pour_on - cut_after_days)


def _check(cut_after_days: int) -> None:
    if cut_after_days < 0:
        raise ValueError("bars are cut after they are poured")
