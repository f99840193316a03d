"""The superfat that a batch really has: its middle, and the ends it may have.

A low end below 0 may be caustic; a high end may stay soft.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .acids import Acid
from .bounds import Bounds
from .fats import Fat, fats_g, mol_per_g
from .lye import LyeAmount
from .scale import Scales

# The most that a scale may take off the low end before its batch counts as too small for it.
MOST_SCALE_POINTS = 0.005


class TooSmall(ValueError):
    """So little fat that the scale cannot tell it from nothing."""


@dataclass(frozen=True, slots=True)
class Superfat:
    """Shares of the lye that neutral bars would take and that is left out (0.05 is 5 %; below 0 there is too much lye).

    ``of_fats`` counts the fats alone: the strict figure, by which a batch is called caustic.
    ``effective`` counts the milk's own fat too, which takes lye as well: how soft the bar may stay.
    """

    of_fats: Bounds
    effective: Bounds

    def or_as(self, other: "Superfat") -> "Superfat":
        """Return this one with the outer ends of both."""

        def outer(mine: Bounds, its: Bounds) -> Bounds:
            return Bounds(min(mine.low, its.low), mine.middle, max(mine.high, its.high))

        return Superfat(outer(self.of_fats, other.of_fats), outer(self.effective, other.effective))


def superfat(*, fats_mol: Bounds, milk_mol: Bounds, acids_mol: Bounds, lye_mol: Bounds) -> Superfat:
    """Return the superfat of a batch from equivalents in mol.

    Superfat = 1 - (lye - what the acids eat) / what the fats take.

    Raises
    ------
    TooSmall
        If the fats' low end is not above 0 mol.
    """
    if fats_mol.low <= 0:
        raise TooSmall("a batch has fats: so little of them the scale cannot tell from nothing")
    low = max(0.0, lye_mol.low - acids_mol.high)
    middle = max(0.0, lye_mol.middle - acids_mol.middle)
    high = max(0.0, lye_mol.high - acids_mol.low)

    def over(least: float, usual: float, most: float) -> Bounds:
        return Bounds(1 - high / least, 1 - middle / usual, 1 - low / most)

    return Superfat(
        of_fats=over(fats_mol.low, fats_mol.middle, fats_mol.high),
        effective=over(fats_mol.low + milk_mol.low, fats_mol.middle + milk_mol.middle, fats_mol.high + milk_mol.high),
    )


def setting_for(*, effective: float, fats_mol: float, milk_mol: float) -> float:
    """Return the superfat to set over the fats alone so that it is *effective* with the milk's fat counted too.

    Equivalents in mol, at their middles. Below 0 the milk brings more fat than the wanted superfat
    leaves: no setting that may be poured gives it.
    """
    return 1 - (1 - effective) * (fats_mol + milk_mol) / fats_mol


@dataclass(frozen=True, slots=True)
class SmallestBatch:
    """How little of the fats, in grams, a formula can be made with on the scales of the bench.

    ``safe_fats_g``: from there the low end of the superfat stays at 0 or above. None where the
    saponification ranges and the purity alone bring it below: no scale helps, certificates do.
    ``steady_fats_g``: from there the scale takes no more than half a point (0.005) off the low end.
    """

    safe_fats_g: float | None
    steady_fats_g: float


def smallest_batch(*, fats: Sequence[Fat], acids: Sequence[Acid], lye: Sequence[LyeAmount], scales: Scales) -> SmallestBatch:
    """Return from how much fat on the scales can do the formula that takes *lye*.

    Each weight may be off by half a step, all to the bad side at once; the lye counts in full, as
    if its rounding had taken nothing off. The low end of superfat at k times the batch is
    1 - (x k + a) / (y k - b), and is solved for k.
    """
    half_g, fine_half_g = scales.step_g / 2, scales.fine_step_g / 2
    strongest = [amount.purity.high / amount.alkali.g_per_mol for amount in lye]
    takes = [mol_per_g(fat.saponification).low for fat in fats]
    eats = [acid.mol_per_g.low for acid in acids]
    lye_k = math.fsum(amount.exact_g * per_g for amount, per_g in zip(lye, strongest, strict=True))
    x = lye_k - math.fsum(acid.mass_g * per_g for acid, per_g in zip(acids, eats, strict=True))
    a = fine_half_g * (math.fsum(strongest) + math.fsum(eats))
    y = math.fsum(fat.mass_g * per_g for fat, per_g in zip(fats, takes, strict=True))
    b = half_g * math.fsum(takes)
    whole_g = fats_g(fats)
    most = x + MOST_SCALE_POINTS * y
    return SmallestBatch(
        safe_fats_g=whole_g * (a + b) / (y - x) if y - x > 1e-12 * y else None,
        steady_fats_g=whole_g * (a * y + b * most) / (MOST_SCALE_POINTS * y * y),
    )
