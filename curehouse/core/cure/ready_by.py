"""How likely a batch is ready by a day, read off what is kept of its forecast: three tenths of its ready day.

Between the tenths the chance runs along straight lines; before the first and after the last it is only known to lie
below or above, and of a tenth at the horizon only that it does not lie before.
"""

from dataclasses import dataclass

_TENTHS = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class Chance:
    """A probability that lies between two ends, often the same."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """The middle between the ends."""
        return (self.low + self.high) / 2


NEVER, SURE = Chance(0.0, 0.0), Chance(1.0, 1.0)


def ready_by(day: float, *, p10: float, p50: float, p90: float, min_days: float, horizon_days: float) -> Chance:
    """Return how likely a batch is ready by the end of a day.

    Parameters
    ----------
    day
        Days since the cut.
    p10, p50, p90
        By when one, five and nine of ten such batches are ready; `horizon_days` where not by then.
    min_days
        Before this age none is.

    Raises
    ------
    ValueError
        If the tenths are not in order.
    """
    if not p10 <= p50 <= p90:
        raise ValueError("of ten batches one is ready first, then five, then nine")
    if day < min_days:
        return NEVER
    known = [(at, share) for at, share in zip((p10, p50, p90), _TENTHS, strict=True) if at < horizon_days]
    passed = [(at, share) for at, share in known if at <= day]
    ahead = known[len(passed) :]
    if not passed:
        return Chance(0.0, _TENTHS[0])
    (before, low), more = passed[-1], _TENTHS[len(passed) :]
    if not ahead:
        return Chance(low, more[0] if more else 1.0)
    after, high = ahead[0]
    found = low + (high - low) * (day - before) / (after - before)
    return Chance(found, found)


def all_ready(chances: list[Chance]) -> Chance:
    """Return how likely all of several batches are ready: they may go together, or hardly ever at once (Fréchet's bounds)."""
    low = max(1.0 - sum(1.0 - one.low for one in chances), 0.0)
    return Chance(low, min((one.high for one in chances), default=1.0))
