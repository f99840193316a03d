"""What a scale adds to the doubt, and weighing out without ever weighing more than was meant."""

import math
from dataclasses import dataclass

from .bounds import Bounds

# An amount that is a whole number of steps to the maker is not always one to a float.
_FLOAT_NOISE = 1e-12


@dataclass(frozen=True, slots=True)
class Scales:
    """The scales of the bench by their steps in grams.

    ``step_g`` is that of the scale for fats and liquids, ``fine_step_g`` that of the one for lye
    and acids (the same scale, where there is one only).
    """

    step_g: float
    fine_step_g: float

    def __post_init__(self) -> None:
        if not (0 < self.step_g < math.inf and 0 < self.fine_step_g < math.inf):
            raise ValueError("a scale has a step above 0 g")


def weighed(mass_g: float, step_g: float) -> Bounds:
    """Return between what masses a weight of *mass_g* grams lies that a scale of that step shows: half a step to each side."""
    return Bounds(max(0.0, mass_g - step_g / 2), mass_g, mass_g + step_g / 2)


def weigh_out(exact_g: float, step_g: float) -> float:
    """Return the whole number of steps, in grams, that is not over *exact_g* grams.

    Rounds down always: what is weighed out here is lye, and more of it than asked for burns skin.
    """
    steps = math.floor(exact_g / step_g * (1 + _FLOAT_NOISE))
    # Written out as people would, 283.5 and not 283.50000000000006.
    return float(f"{steps * step_g:.13g}")
