"""How large to make a formula: for so much fat, for a mould, for so many bars."""

import math
from dataclasses import dataclass, replace

from .fats import fats_g
from .formula import Formula, fresh_batch_g

# Grams of fats for a cubic centimetre of mould: 0.40 oz to the cubic inch (common practice, no source).
FATS_G_PER_CM3 = 0.69


@dataclass(frozen=True, slots=True)
class Block:
    """A mould with straight sides, inner measures in cm; ``height_cm`` is that to fill."""

    length_cm: float
    width_cm: float
    height_cm: float

    @property
    def volume_cm3(self) -> float:
        """Its volume in cubic centimetres."""
        return self.length_cm * self.width_cm * self.height_cm


@dataclass(frozen=True, slots=True)
class Tube:
    """A round mould, inner measures in cm; ``height_cm`` is that to fill."""

    diameter_cm: float
    height_cm: float

    @property
    def volume_cm3(self) -> float:
        """Its volume in cubic centimetres."""
        return math.pi * (self.diameter_cm / 2) ** 2 * self.height_cm


def for_fats(formula: Formula, wanted_g: float) -> Formula:
    """Return *formula* with *wanted_g* grams of fats, all else in proportion."""
    return formula.times(_positive(wanted_g) / fats_g(formula.fats))


def for_mould(formula: Formula, mould: Block | Tube, count: int = 1) -> Formula:
    """Return *formula* for *count* moulds of that size, by their volume."""
    return for_fats(formula, _positive(mould.volume_cm3) * FATS_G_PER_CM3 * count)


def for_bars(formula: Formula, *, bars: int, cut_g: float, loss: float = 0.0) -> Formula:
    """Return *formula* for that many bars of *cut_g* grams at the cut.

    *loss* is the share (0 up to 1) of the batch that stays in the pot or is trimmed off.

    Raises
    ------
    ValueError
        If a figure is not above 0, or the loss is not below 1.
    """
    if not 0 <= loss < 1:
        raise ValueError("what is lost is a share from 0 and below 1")
    return formula.times(_positive(bars) * _positive(cut_g) / (1 - loss) / fresh_batch_g(formula))


def in_steps(formula: Formula) -> Formula:
    """Return *formula* as the scales can weigh it: every mass the nearest whole number of steps, one at the least.

    Fats and liquids go onto the one scale, acids and the little of colour and fragrance onto the fine
    one. The lye is not rounded here: it follows from the fats as they are weighed, and is rounded down
    (`formula.planned_lye`), so that no rounding of a fat brings more lye than the superfat asks for.
    """
    step_g, fine_g = formula.scales.step_g, formula.scales.fine_step_g
    return replace(
        formula,
        fats=tuple(replace(one, mass_g=_nearest(one.mass_g, step_g)) for one in formula.fats),
        liquids=tuple(replace(one, mass_g=_nearest(one.mass_g, step_g)) for one in formula.liquids),
        acids=tuple(replace(one, mass_g=_nearest(one.mass_g, fine_g)) for one in formula.acids),
        additives=tuple(replace(one, mass_g=_nearest(one.mass_g, fine_g)) for one in formula.additives),
    )


def _nearest(mass_g: float, step_g: float) -> float:
    # Written out as people would, 283.5 and not 283.50000000000006.
    return float(f"{max(1, round(mass_g / step_g)) * step_g:.13g}")


def _positive(value: float) -> float:
    if not 0 < value < math.inf:
        raise ValueError("a size is above 0")
    return value
