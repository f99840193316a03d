"""What a bar's first weight is held against: the other bars, or the batch's mass over its bars."""

from collections.abc import Sequence
from statistics import median

from .expected import Expected
from .rule import SampleSeries
from .series import WEEK_DAYS, in_order, without_doubtful

# Bars cut by hand to the same size, as shares of the middle one: what is usual, and what is thinkable.
USUAL_SPREAD = 0.16
LARGEST_SPREAD = 0.30
# Against a single other bar, which may itself be a small or a large one.
LONE_BAR_SPREAD = 0.22
# Offcuts and what sticks to the mould make bars lighter than the mass over their number, nothing makes them heavier.
LIGHTEST_OF_MASS = 0.60
HEAVIEST_OF_MASS = 1.25
# A bar weighed at another time than the others has dried more or less than they.
A_WEEKS_DRYING = 0.06
MOST_DRYING = 0.30


def first_range(day: float, batch: Sequence[SampleSeries], bar_mass_g: float | None = None) -> Expected | None:
    """Return the range for a bar never weighed before, in grams; None with nothing to go by.

    Parameters
    ----------
    day
        Days since the cut of the weighing to come.
    batch
        The other sample bars: their weighings nearest to that day are taken.
    bar_mass_g
        The batch's mass over the number of its bars, in grams, for want of another bar.
    """
    known = [in_order(good) for one in batch if (good := without_doubtful(one.weighings))]
    nearest = [min(series, key=lambda w: (abs(w.day - day), w.day)) for series in known]
    if not nearest:
        return None if bar_mass_g is None else _of_mass(day, bar_mass_g)
    closest_days = min(abs(w.day - day) for w in nearest)
    weights_g = [w.weight_g for w in nearest if abs(w.day - day) <= closest_days + 1]
    middle_g = median(weights_g)
    dried = min(A_WEEKS_DRYING * max(closest_days - 1, 0.0) / WEEK_DAYS, MOST_DRYING)
    spread = (USUAL_SPREAD if len(weights_g) > 1 else LONE_BAR_SPREAD) + dried
    low_g, high_g = min(*weights_g, middle_g * (1 - spread)), max(*weights_g, middle_g * (1 + spread))
    return Expected(low_g, high_g, middle_g, (LARGEST_SPREAD - USUAL_SPREAD) * middle_g)


def _of_mass(day: float, bar_mass_g: float) -> Expected:
    dried = min(A_WEEKS_DRYING * day / WEEK_DAYS, MOST_DRYING)
    low_g, high_g = bar_mass_g * (LIGHTEST_OF_MASS - dried / 2), bar_mass_g * HEAVIEST_OF_MASS
    return Expected(low_g, high_g, bar_mass_g * (0.95 - dried), 0.15 * bar_mass_g)
