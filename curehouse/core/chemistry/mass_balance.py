"""What a batch is made of by mass, and how much of it is water that must dry out."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Liquid:
    """A liquid that goes in: its mass in grams and the part of it that is water (0-1)."""

    mass_g: float
    water_fraction: float

    def __post_init__(self) -> None:
        if self.mass_g < 0 or not 0 <= self.water_fraction <= 1:
            raise ValueError("a liquid has a mass of 0 g or more and a water fraction from 0 to 1")


def free_water_g(liquids: Sequence[Liquid]) -> float:
    """Return the water, in grams, that *liquids* bring.

    Milk dries as its water part only: its fat, sugar and protein stay in the bar.
    """
    return sum(liquid.mass_g * liquid.water_fraction for liquid in liquids)


def water_share(*, fats_g: float, lye_g: float, liquids: Sequence[Liquid]) -> float:
    """Return the share of the fresh batch's mass that is free water, 0 up to (not including) 1.

    Free water over fats + lye + liquids. The little water that saponification itself neither
    takes nor leaves behind in sum (triglyceride + 3 NaOH gives soap and glycerol) needs no term.

    Raises
    ------
    ValueError
        If fats or lye are not above zero grams.
    """
    if fats_g <= 0 or lye_g <= 0:
        raise ValueError("a batch has fats and lye above 0 g")
    total_g = fats_g + lye_g + sum(liquid.mass_g for liquid in liquids)
    return free_water_g(liquids) / total_g
