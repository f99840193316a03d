"""How much lye so much fat can be meant to take: a check for slips of the pen, not of a recipe.

The kinds of fat are unknown here, so the bounds hold for every fat that soap is made of. An amount
between them may still be wrong for a batch: only the saponification values of its own fats tell.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

# Saponification values in mg KOH per g of fat: the lowest end among the fats of soap (unrefined shea
# butter, Codex CXS 325R) and the highest (coconut oil, Codex CXS 210, Table 2). Recalled, not read
# again: tests/reference/saponification_values.csv says so of each row.
LOWEST_SAPONIFICATION_VALUE = 160.0
HIGHEST_SAPONIFICATION_VALUE = 265.0
# Molar masses, g/mol.
_NAOH, _KOH = 39.997, 56.106
# Share of the lye that neutral bars would take and that is left out; common practice ends at 20 %
# (bars of coconut oil alone).
LARGEST_SUPERFAT = 0.20

LEAST_NAOH_PER_FAT = LOWEST_SAPONIFICATION_VALUE / 1000 * _NAOH / _KOH * (1 - LARGEST_SUPERFAT)
MOST_NAOH_PER_FAT = HIGHEST_SAPONIFICATION_VALUE / 1000 * _NAOH / _KOH

# A point that slipped, a zero too many, a mark of thousands read as a decimal one.
_SHIFTS = (0.1, 10.0, 0.01, 100.0, 0.001, 1000.0)


@dataclass(frozen=True, slots=True)
class LyeDoubt:
    """Lye outside of what the fats can take; masses in grams of pure sodium hydroxide (NaOH).

    ``guess_g`` is the amount probably meant, if one is near at hand; ``is_swapped`` says that it
    stands among the liquids, so that the two may have changed places.
    """

    low_g: float
    high_g: float
    guess_g: float | None = None
    is_swapped: bool = False

    def fits(self, lye_g: float) -> bool:
        """Return whether the fats can be meant to take *lye_g*."""
        return self.low_g <= lye_g <= self.high_g


def lye_doubt(*, fats_g: float, lye_g: float, liquids_g: Sequence[float] = ()) -> LyeDoubt | None:
    """Return the doubt about *lye_g* grams of lye for *fats_g* grams of fats, or None where it fits.

    Raises
    ------
    ValueError
        If fats or lye are not above zero grams.
    """
    if fats_g <= 0 or lye_g <= 0:
        raise ValueError("a batch has fats and lye above 0 g")
    bounds = LyeDoubt(low_g=fats_g * LEAST_NAOH_PER_FAT, high_g=fats_g * MOST_NAOH_PER_FAT)
    if bounds.fits(lye_g):
        return None
    swapped = [liquid_g for liquid_g in liquids_g if bounds.fits(liquid_g) and bounds.high_g < lye_g < fats_g]
    shifted = (lye_g * shift for shift in _SHIFTS)
    guess_g = next(chain((amount for amount in shifted if bounds.fits(amount)), swapped), None)
    return LyeDoubt(bounds.low_g, bounds.high_g, guess_g, is_swapped=guess_g is not None and guess_g in swapped)
