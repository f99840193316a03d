"""How much lye to weigh out for an amount of fat, and what its doubt is."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .alkali import Alkali, LyePart, check_mix
from .bounds import Bounds, total
from .scale import weigh_out, weighed


class PurityMissing(ValueError):
    """Potassium hydroxide without a certificate: no amount can be worked out for it."""


@dataclass(frozen=True, slots=True)
class LyeAmount:
    """An alkali as it is weighed out; masses in grams of what is in its container.

    ``exact_g`` is what the superfat asks for and ``weigh_g`` the same in whole steps of the scale,
    never more. ``needed_g`` says between what amounts the same superfat would lie if fats and acids
    took as little, or as much, as they may, and the lye were as strong, or as weak, as it may be.
    """

    alkali: Alkali
    purity: Bounds
    exact_g: float
    weigh_g: float
    needed_g: Bounds

    def mol(self, step_g: float = 0.0) -> Bounds:
        """Return the equivalents, in mol, in what is weighed out on a scale of *step_g* grams a step."""
        return weighed(self.weigh_g, step_g).part_of(self.purity).times(1 / self.alkali.g_per_mol)

    @property
    def pure_g(self) -> float:
        """The alkali itself in what is weighed out, in grams."""
        return self.weigh_g * self.purity.middle


def lye_amounts(
    *, fats_mol: Bounds, acids_mol: Bounds, superfat: float, parts: Sequence[LyePart], step_g: float
) -> tuple[LyeAmount, ...]:
    """Return what to weigh out of each alkali.

    The fats' equivalents (mol) less the part *superfat* (below 1) that is left out, and on top what
    the acids eat, shared out among *parts* by equivalents. *step_g* is the step of the scale in grams.

    Raises
    ------
    PurityMissing
        If the potassium hydroxide has no purity.
    ValueError
        If *parts* do not make a whole, or *superfat* is not below 1.
    """
    check_mix(tuple(parts))
    if not superfat < 1:
        raise ValueError("a superfat is below 1 (100 %)")
    mol = total((fats_mol.times(1 - superfat), acids_mol))
    return tuple(_amount(part, mol.times(part.share), step_g) for part in parts)


def _amount(part: LyePart, mol: Bounds, step_g: float) -> LyeAmount:
    purity = part.purity_bounds
    if purity is None:
        raise PurityMissing("the purity of the potassium hydroxide is missing")
    pure_g = mol.times(part.alkali.g_per_mol)
    exact_g = pure_g.middle / purity.middle
    # A purity's low end of 0 has no largest amount; nothing is sold that weak, and what is typed so is refused as a slip.
    weakest = max(purity.low, min(0.5, purity.middle))
    needed_g = Bounds(pure_g.low / purity.high, exact_g, pure_g.high / weakest)
    return LyeAmount(part.alkali, purity, exact_g, weigh_out(exact_g, step_g), needed_g)


def lye_mol(amounts: Sequence[LyeAmount], step_g: float = 0.0) -> Bounds:
    """Return the equivalents, in mol, of all that is weighed out on a scale of *step_g* grams a step."""
    return total(amount.mol(step_g) for amount in amounts)


def given(parts: Sequence[tuple[LyePart, float]]) -> tuple[LyeAmount, ...]:
    """Return amounts as a person weighed them, in grams, in place of those worked out.

    Raises
    ------
    PurityMissing
        If the potassium hydroxide has no purity.
    ValueError
        If a mass is not a number of 0 g or more.
    """
    amounts = []
    for part, mass_g in parts:
        if not 0 <= mass_g < math.inf:
            raise ValueError("lye has a mass of 0 g or more")
        if (purity := part.purity_bounds) is None:
            raise PurityMissing("the purity of the potassium hydroxide is missing")
        amounts.append(LyeAmount(part.alkali, purity, mass_g, mass_g, Bounds.exactly(mass_g)))
    return tuple(amounts)
