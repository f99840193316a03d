"""How much of a batch, by mass, is water that must dry out."""

import math
from collections.abc import Sequence

from .liquids import Liquid, free_water


def water_share(*, fats_g: float, lye_g: float, liquids: Sequence[Liquid]) -> float:
    """Return the share of the fresh batch's mass that is free water, 0 up to (not including) 1.

    Free water over fats + lye + liquids. Milk dries as its water part only: its fat, sugar and
    protein stay in the bar. The little water that saponification itself neither takes nor leaves
    behind in sum (triglyceride + 3 NaOH gives soap and glycerol) needs no term.

    Raises
    ------
    ValueError
        If fats or lye are not above zero grams.
    """
    if fats_g <= 0 or lye_g <= 0:
        raise ValueError("a batch has fats and lye above 0 g")
    total_g = math.fsum((fats_g, lye_g, *(liquid.mass_g for liquid in liquids)))
    return free_water(liquids).middle / total_g
