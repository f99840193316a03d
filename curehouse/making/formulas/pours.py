"""A pour held against the formula it was made from: the lye that was weighed, for the fats that were weighed."""

from dataclasses import dataclass
from decimal import Decimal

from curehouse.core.chemistry.alkali import LyePart
from curehouse.core.chemistry.findings import judge
from curehouse.core.chemistry.formula import planned_lye, work_out
from curehouse.core.chemistry.lye import PurityMissing, given
from curehouse.core.chemistry.sizing import for_fats
from curehouse.core.chemistry.superfat import Superfat
from curehouse.making.formulas.adapter import Planned, sized


@dataclass(frozen=True, slots=True)
class PourFound:
    """What came of a pour: the lye its fats would have had by the formula (grams), and its superfat as weighed."""

    lye_by_formula_g: float
    superfat: Superfat
    is_doubtful_formula: bool

    @property
    def is_caustic(self) -> bool:
        """More lye went in than the fats can take."""
        return self.superfat.of_fats.middle < 0

    @property
    def needs_check(self) -> bool:
        """It may be caustic: its low end lies below 0, or its formula is refused today or promises the check."""
        return self.is_doubtful_formula or self.superfat.of_fats.low < 0


def pour_found(one: Planned, *, fats_g: Decimal, lye_g: Decimal) -> PourFound | None:
    """Return how a pour of *fats_g* grams with *lye_g* grams of lye lies; None where no lye can be worked out.

    Of two lyes each is taken to have had its planned part.
    """
    formula = sized(one, for_fats(one.formula, float(fats_g))).formula
    try:
        planned = planned_lye(formula)
        whole = sum(amount.exact_g for amount in planned)
        parts: list[tuple[LyePart, float]] = [
            (part, float(lye_g) * amount.exact_g / whole) for part, amount in zip(formula.lye, planned, strict=True)
        ]
        figures = work_out(formula, given(parts))
    except PurityMissing:
        return None
    judged = judge(formula)
    return PourFound(sum(amount.weigh_g for amount in planned), figures.superfat, judged.is_refused or judged.needs_check)
