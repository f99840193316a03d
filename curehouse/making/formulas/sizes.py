"""A formula made larger or smaller: by its fats, by a mould, by so many bars; and what each scale can do."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.common.units import LARGEST_G
from curehouse.core.chemistry.formula import Formula, planned_lye
from curehouse.core.chemistry.lye import PurityMissing
from curehouse.core.chemistry.scale import Scales
from curehouse.core.chemistry.sizing import Block, Tube, for_bars, for_fats, for_mould, in_steps
from curehouse.core.chemistry.superfat import smallest_batch
from curehouse.making.formulas.adapter import Planned, sized
from curehouse.workshops.models import Scale

_MOST_CM, _MOST_COUNT = Decimal(500), 5000
_LARGEST_LOSS = Decimal("0.5")


@dataclass(frozen=True, slots=True)
class Mould:
    """A mould by its inner measures in cm: a block has length and width, a tube a diameter; how many of them."""

    height_cm: Decimal
    length_cm: Decimal | None = None
    width_cm: Decimal | None = None
    diameter_cm: Decimal | None = None
    count: int = 1


@dataclass(frozen=True, slots=True)
class Size:
    """How large to make it, in one of three ways; ``loss`` (0-1) is the part that is trimmed off or stays in the pot."""

    fats_g: Decimal | None = None
    mould: Mould | None = None
    bars: int | None = None
    cut_g: Decimal | None = None
    loss: Decimal = Decimal(0)


def in_size(one: Planned, size: Size) -> Planned:
    """Return *one* in the size asked for, in whole steps of its scales."""
    try:
        # What a larger batch takes of the storeroom may be of another purity, and so bars of another weight.
        formula = _sized(sized(one, _sized(one.formula, size)).formula, size)
    except PurityMissing as error:
        raise Invalid(
            "koh_purity_missing",
            "The purity of the potassium hydroxide is missing: type it into the formula first.",
            field="bars",
        ) from error
    larger = sized(one, in_steps(formula))
    if max(larger.masses_g) > LARGEST_G:
        raise Invalid("too_large", "This comes to over a tonne: check the size.", field="fats_g")
    return larger


def as_weighed(one: Planned) -> Planned:
    """Return *one* in its own size, in whole steps of its scales."""
    return sized(one, in_steps(one.formula))


def _sized(formula: Formula, size: Size) -> Formula:
    if size.fats_g is not None:
        return for_fats(formula, float(_between(size.fats_g, LARGEST_G, what="The fats", field="fats_g")))
    if size.mould is not None:
        mould, count = _mould(size.mould), size.mould.count
        if not 1 <= count <= _MOST_COUNT:
            raise Invalid("count", f"The number of moulds lies between 1 and {_MOST_COUNT}.", field="count")
        return for_mould(formula, mould, count)
    if size.bars is None or size.cut_g is None:
        raise Invalid("size", "Say how large: by the fats, by a mould, or by bars and their weight at the cut.", field="by")
    if not 1 <= size.bars <= _MOST_COUNT:
        raise Invalid("bars", f"The number of bars lies between 1 and {_MOST_COUNT}.", field="bars")
    if not size.loss.is_finite() or not 0 <= size.loss <= _LARGEST_LOSS:
        raise Invalid("fraction", "What is lost lies between 0 and 50\u00a0%.", field="loss")
    cut_g = _between(size.cut_g, LARGEST_G, what="The weight of a bar", field="cut_g")
    return for_bars(formula, bars=size.bars, cut_g=float(cut_g), loss=float(size.loss))


def _mould(mould: Mould) -> Block | Tube:
    height = _cm(mould.height_cm, what="The height", field="height_cm")
    if mould.diameter_cm is not None:
        return Tube(_cm(mould.diameter_cm, what="The diameter", field="diameter_cm"), height)
    if mould.length_cm is None or mould.width_cm is None:
        raise Invalid("mould", "A mould has a length and a width, or a diameter: type them in cm.", field="length_cm")
    length = _cm(mould.length_cm, what="The length", field="length_cm")
    return Block(length, _cm(mould.width_cm, what="The width", field="width_cm"), height)


def _cm(value: Decimal, *, what: str, field: str) -> float:
    return float(_between(value, _MOST_CM, what=what, field=field, unit="cm"))


def _between(value: Decimal, most: Decimal, *, what: str, field: str, unit: str = "g") -> Decimal:
    if not value.is_finite() or not 0 < value <= most:
        raise Invalid("size", f"{what} must be more than 0 and at most {most} {unit}: check the figure.", field=field)
    return value


@dataclass(frozen=True, slots=True)
class ScaleCan:
    """What one scale, used for everything, can do of a formula; masses of the fats in grams.

    ``safe_g`` None: with no scale does its low end stay at 0.
    """

    scale: Scale
    safe_g: float | None
    steady_g: float


def scales_can(one: Planned, scales: Sequence[Scale]) -> list[ScaleCan]:
    """Return from how much fat on each of *scales* can do the formula, the finest first; none without an amount of lye."""
    formula = one.formula
    try:
        lye = planned_lye(formula)
    except PurityMissing:
        return []
    found = []
    for scale in sorted(scales, key=lambda each: (each.step_g, each.pk)):
        step_g = float(scale.step_g)
        can = smallest_batch(fats=formula.fats, acids=formula.acids, lye=lye, scales=Scales(step_g, step_g))
        found.append(ScaleCan(scale, can.safe_fats_g, can.steady_fats_g))
    return found
