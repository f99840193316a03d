"""What was foretold of a bar's weight: as what its next weight is held against, and on a day in between."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

# Standard deviations from the middle to the tenth and the ninetieth hundredth of a normal distribution.
TENTH_SD = 1.2816
# A range is shown this many standard deviations wide to each side; a weight is asked about beyond the other.
SHOWN_SD, FAR_SD = 2.0, 3.5
# A weighing off by less than this in grams, or in steps of the scale, spoils nothing.
LEAST_OFF_G, LEAST_OFF_STEPS = 1.0, 2.5


def between(days: Sequence[float], values: Sequence[float], day: float) -> float:
    """Return a value between the days it was worked out for, by a straight line; at the ends the nearest."""
    after = min(max(bisect_right(days, day), 1), len(days) - 1)
    share = min(max((day - days[after - 1]) / (days[after] - days[after - 1]), 0.0), 1.0)
    return values[after - 1] * (1 - share) + values[after] * share


@dataclass(frozen=True, slots=True)
class Foretold:
    """A bar's weights to come, as of the weighing they were foretold from.

    Attributes
    ----------
    as_of_day
        Day since the cut of the newest weighing of the batch that was known.
    days
        Days since the cut, ascending, at least two.
    p10_g, p50_g, p90_g
        The bar's weight on those days.
    """

    as_of_day: float
    days: tuple[float, ...]
    p10_g: tuple[float, ...]
    p50_g: tuple[float, ...]
    p90_g: tuple[float, ...]

    def on(self, day: float) -> tuple[float, float, float]:
        """Return middle and the standard deviations below and above it on a day, in grams."""
        low, middle, high = (between(self.days, values, day) for values in (self.p10_g, self.p50_g, self.p90_g))
        return middle, (middle - low) / TENTH_SD, (high - middle) / TENTH_SD


@dataclass(frozen=True, slots=True)
class BarOn:
    """A bar of a batch that was not weighed, on a day.

    Attributes
    ----------
    day
        Days since the cut.
    weight_g
        Eight of ten bars lie between `p10` and `p90`.
    water_left_pct
        Of the middle bar, in % of the water that went in, by the same names.
    """

    day: float
    weight_g: dict[str, float]
    water_left_pct: dict[str, float]


def bar_on(days: Sequence[float], foretold: Mapping[str, Any], day: float) -> BarOn:
    """Return a new bar on a day since the cut, from what was foretold for *days* (a forecast in plain values)."""
    weights = [one["weight_g"] for one in foretold["new_bar"]]
    return BarOn(day, _ranges_on(days, weights, day), _ranges_on(days, foretold["water_left_pct"], day))


def _ranges_on(days: Sequence[float], told: Sequence[Mapping[str, float]], day: float) -> dict[str, float]:
    return {name: between(days, [one[name] for one in told], day) for name in ("p10", "p50", "p90")}
