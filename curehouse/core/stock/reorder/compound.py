"""The distribution of what is used over a time: so many uses, each of its size, without approximating by a normal.

The number of uses is Poisson with a rate that is gamma distributed (so it is negative binomial), and
over a delivery whose days vary it is a mixture. The transform of the sum is known in closed form; one
inverse Fourier transform gives the chances on a grid.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from curehouse.core.stock.reorder.unplanned import Floats, Rate, Sizes

Complex = NDArray[np.complex128]

# A mixture of more cases than these is gathered on so many: what comes of it is smooth in the days.
MOST_CASES = 48


def on_grid(sizes: Sizes, cell: float, cells: int) -> Floats:
    """Return the chances of one use's size on a grid of *cells* multiples of *cell*, its mean kept.

    A size between two cells is shared between them; one beyond the grid stands in its last cell.
    """
    place = np.minimum(sizes.sizes / cell, cells - 1.0)
    below = np.floor(place).astype(np.int64)
    part = place - below
    chances: Floats = np.bincount(below, sizes.chances * (1 - part), minlength=cells).astype(np.float64)
    chances += np.bincount(np.minimum(below + 1, cells - 1), sizes.chances * part, minlength=cells)
    return chances[:cells]


def transform(sizes_on_grid: Floats) -> Complex:
    """Return 1 minus the transform of one use's size: what :func:`mixed` is asked with."""
    found: Complex = 1 - np.fft.rfft(sizes_on_grid)
    return found


def mixed(
    one_less: Complex, rate: Rate, exposures: Sequence[float] | Floats, chances: Sequence[float] | Floats, cells: int
) -> Floats:
    """Return the chances of the quantity used, on the grid.

    Parameters
    ----------
    one_less
        From :func:`transform`.
    rate
        Uses a day with how sure that is.
    exposures, chances
        Of each case of a mixture (such as each number of days that a delivery may take), how many
        even days it comes to, and how likely it is.
    """
    days, shares = gathered(np.asarray(exposures, dtype=np.float64), np.asarray(chances, dtype=np.float64))
    return _whole(shares @ _transforms(one_less, rate, days), cells)


def each(one_less: Complex, rate: Rate, exposures: Floats, cells: int) -> Floats:
    """Return the chances of the quantity used over each of *exposures*, one row for each; otherwise as :func:`mixed`."""
    return _whole(_transforms(one_less, rate, exposures), cells)


def _transforms(one_less: Complex, rate: Rate, exposures: Floats) -> Complex:
    found: Complex = np.exp(-rate.told * log_of_one_more(np.multiply.outer(exposures / rate.days, one_less)))
    return found


def _whole(transforms: Complex, cells: int) -> Floats:
    pmf: Floats = np.maximum(np.fft.irfft(transforms, cells), 0.0)
    whole: Floats = pmf / pmf.sum(axis=-1, keepdims=True)
    return whole


def gathered(exposures: Floats, chances: Floats, most: int = MOST_CASES) -> tuple[Floats, Floats]:
    """Return the cases of a mixture, or fewer with the same mean: each shared between the two of a grid beside it.

    *chances* may be several rows, of several mixtures of the same cases.
    """
    if len(exposures) <= most:
        return exposures, chances
    low, high = float(exposures.min()), float(exposures.max())
    if high - low < 1e-9:
        return np.array([low]), chances.sum(axis=-1, keepdims=True)
    place = (exposures - low) / (high - low) * (most - 1)
    below = np.minimum(place.astype(np.int64), most - 2)
    part, case = place - below, np.arange(len(exposures))
    shares = np.zeros((len(exposures), most))
    shares[case, below] = 1 - part
    shares[case, below + 1] = part
    return np.linspace(low, high, most), chances @ shares


def log_of_one_more(value: Complex) -> Complex:
    """Return log(1 + value), to the last digits also of small values: NumPy's own loses them where they are complex."""
    # Side by side, not one in two: NumPy is several times as quick with them.
    real, imaginary = np.ascontiguousarray(value.real), np.ascontiguousarray(value.imag)
    found: Complex = np.empty(value.shape, dtype=np.complex128)
    found.real = 0.5 * np.log1p(real * (2 + real) + imaginary**2)
    found.imag = np.arctan2(imaginary, 1 + real)
    return found


def reach(rate: Rate, sizes: Sizes, exposures: Floats, sigmas: float) -> float:
    """Return more than will ever be used over the longest of *exposures*: so many deviations of it beyond its mean.

    What lies beyond a grid comes back at its beginning, so rare large sizes are reckoned with (by their squares), and
    so is the long tail of a rate that hardly a use tells (six uses told more: for five deviations, of a gamma
    distribution of half a use or more less than one in 50,000 lies beyond, by SciPy).
    """
    longest = float(exposures.max())
    uses, mean = rate.mean() * longest, sizes.mean()
    of_one_told = longest / rate.days * mean
    squared = float(sizes.sizes**2 @ sizes.chances)
    spread = uses * squared + of_one_told**2 * rate.told
    return float(uses * mean + sigmas * np.sqrt(spread) + 4 * squared / mean + 6 * of_one_told)
