"""Lye that was dissolved beforehand: how strong it is by what was weighed into it, and how much of it stands for dry lye."""

import math
from collections.abc import Sequence

from .alkali import Alkali
from .bounds import Bounds, total
from .lye import LyeAmount
from .scale import weigh_out, weighed
from .solubility import WARM_C, solubility, water_needed_g

# A strength that a certificate says, or a making, further than this from what it is held against is asked about: as
# much as both scales and an assay may be off together on a small making (common practice, no source).
ODD_PART = 0.03
# How strong (0-1) lye in water can become by drying in any room. Sodium hydroxide as strong as this draws water from air
# of more than a tenth of full humidity instead of losing it (Stokes and Robinson, Ind. Eng. Chem. 41, 1949, 2013: 48.05 %
# at a water activity of 0.10; from memory). Of potassium hydroxide no such figure is at hand: what stays clear in water of
# 30 °C, 126 g in 100 g (from memory).
DRIES_TO = {Alkali.NAOH: 0.48, Alkali.KOH: 0.558}


def strength(lye: Sequence[tuple[float, Bounds]], *, made_g: float, step_g: float) -> Bounds:
    """Return the share (0-1) of pure alkali in a solution.

    *lye* are the grams that went in, each with its purity (0-1); *made_g* grams came of it. Each weight may be off by
    half of the scale's *step_g* grams. What was lost counts as water: with less water it is stronger, the dangerous side.

    Raises
    ------
    ValueError
        Less came of it than the lye that went in, or so little that the scale cannot tell it from nothing.
    """
    dry_g = math.fsum(mass_g for mass_g, _purity in lye)
    if not (0 < dry_g < made_g and step_g / 2 < made_g):
        raise ValueError("a solution weighs more than the lye in it, and more than half a step of its scale")
    pure_g = total(weighed(mass_g, step_g).part_of(purity) for mass_g, purity in lye)
    middle = pure_g.middle / made_g
    low, high = pure_g.low / (made_g + step_g / 2), pure_g.high / (made_g - step_g / 2)
    return Bounds(min(low, middle), middle, max(middle, min(1.0, high)))


def dried(strong: Bounds, left: Sequence[tuple[float, float]], *, step_g: float) -> Bounds:
    """Return the share (0-1) of pure alkali in what is left of a solution of strength *strong* (0-1).

    Of each of *left* so many grams were to be there and so many were found, on a scale of *step_g* grams a step: what
    was missing may have been water, so the high end rises as the whole shrank. Counted it is as before.

    Raises
    ------
    ValueError
        So little was found once that the scale cannot tell it from nothing.
    """
    high = strong.high
    for booked_g, found_g in left:
        if not step_g / 2 < found_g:
            raise ValueError("what is left of a solution weighs more than half a step of its scale")
        high *= max(1.0, booked_g / (found_g - step_g / 2))
    return Bounds(strong.low, strong.middle, max(strong.middle, min(1.0, high)))


def may_dry_unseen(alkali: Alkali, strong: float) -> bool:
    """Return whether water may leave a solution of strength *strong* (0-1) where nothing tells.

    What a count finds missing may have been used or have dried out, and a use that is told too high hides as much that
    dried out. So only what is too strong to dry is as strong as it was made.
    """
    return strong < DRIES_TO[alkali]


def least_dry(alkali: Alkali) -> float | None:
    """Return how many grams of dry lye of 98 % have to be in a gram of a solution so that it does not dry unseen.

    None where so much does not stay dissolved.
    """
    dissolves = solubility(alkali, WARM_C) or 0.0
    return DRIES_TO[alkali] / 0.98 if DRIES_TO[alkali] <= dissolves / (1 + dissolves) else None


def if_dried(alkali: Alkali, strong: Bounds) -> Bounds:
    """Return the strength (0-1) of a solution of which nobody knows how much water left it: up to what air leaves of it."""
    return Bounds(strong.low, strong.middle, max(strong.high, DRIES_TO[alkali]))


def is_outside(found: float, of: Bounds) -> bool:
    """Return whether a strength lies further outside of another's ends than scales and an assay explain."""
    return is_far_from(found, min(max(found, of.low), of.high))


def in_place_of(amount: LyeAmount, strong: Bounds, *, step_g: float) -> float:
    """Return how many grams of a solution of strength *strong* (0-1) stand for a weight of dry lye, in whole steps.

    Never more alkali than the dry lye would bring: not as both are counted, and not at the worst of both either, so
    that the low end of a superfat that was worked out with dry lye holds.
    """
    by_middle = amount.weigh_g * amount.purity.middle / strong.middle
    at_worst = (amount.weigh_g + step_g / 2) * amount.purity.high / strong.high - step_g / 2
    return weigh_out(max(0.0, min(by_middle, at_worst)), step_g)


def stays_dissolved(alkali: Alkali, *, pure_g: float, water_g: float) -> bool:
    """Return whether so much of the pure alkali is counted on to stay dissolved in so much water of 20 °C or more."""
    needed_g = water_needed_g({alkali: pure_g}, WARM_C)
    return needed_g is not None and needed_g <= water_g * (1 + 1e-9)


def is_far_from(found: float, held_against: float) -> bool:
    """Return whether a strength is further from another than scales and an assay explain."""
    return not math.isclose(found, held_against, rel_tol=ODD_PART)
