"""How large to make a formula: for so much fat, for a mould, for so many bars."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from .fats import fats_g
from .formula import Formula, fresh_batch_g
from .liquids import LiquidKind

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
    """Return *formula* as the scales can weigh it: every mass in whole steps, one at the least.

    Fats and liquids go onto the one scale, acids and the little of colour and fragrance onto the fine
    one. The fats together, and the liquids together, keep their sum to the nearest step: what rounding
    leaves over goes to those that it took most from. The lye is not rounded here: it follows from the
    fats as they are weighed, and is rounded down (`formula.planned_lye`), so that no rounding of a fat
    brings more lye than the superfat asks for.
    """
    step_g, fine_g = formula.scales.step_g, formula.scales.fine_step_g
    fats = _shared([(one.mass_g, one.name) for one in formula.fats], step_g)
    fluid = [one for one in formula.liquids if one.kind is not LiquidKind.POWDER]
    liquids = dict(zip(map(id, fluid), _shared([(one.mass_g, one.name + one.place) for one in fluid], step_g), strict=True))
    return replace(
        formula,
        fats=tuple(replace(one, mass_g=mass_g) for one, mass_g in zip(formula.fats, fats, strict=True)),
        liquids=tuple(
            replace(one, mass_g=liquids[id(one)] if id(one) in liquids else _nearest(one.mass_g, step_g))
            for one in formula.liquids
        ),
        acids=tuple(replace(one, mass_g=_nearest(one.mass_g, fine_g)) for one in formula.acids),
        additives=tuple(replace(one, mass_g=_nearest(one.mass_g, fine_g)) for one in formula.additives),
    )


def _shared(parts: Sequence[tuple[float, str]], step_g: float) -> list[float]:
    """Return masses in whole steps whose sum is that of *parts* (grams, name) to the nearest step, one step at the least."""
    exact = [mass_g / step_g for mass_g, _name in parts]
    # Nine places: what is a whole number of steps to the maker is not always one to a float.
    steps = [max(1, math.floor(round(one, 9))) for one in exact]
    left = max(len(parts), round(math.fsum(exact))) - sum(steps)
    # By what it lacks, then by mass and name: in whatever order the lines stand.
    lacking = sorted(range(len(parts)), key=lambda index: (-(exact[index] - steps[index]), -exact[index], parts[index][1]))
    for index in lacking[: max(0, left)]:
        steps[index] += 1
    for index in sorted(range(len(parts)), key=lambda index: (-steps[index], parts[index][1]))[: max(0, -left)]:
        # A part that is less than a step was made one: the largest gives it.
        steps[index] -= 1 if steps[index] > 1 else 0
    return [_written(count, step_g) for count in steps]


def _nearest(mass_g: float, step_g: float) -> float:
    return _written(max(1, round(mass_g / step_g)), step_g)


def _written(steps: int, step_g: float) -> float:
    # Written out as people would, 283.5 and not 283.50000000000006.
    return float(f"{steps * step_g:.13g}")


def _positive(value: float) -> float:
    if not 0 < value < math.inf:
        raise ValueError("a size is above 0")
    return value
