"""A pour held against the formula it was made from: the lye that was weighed, for the fats that were weighed."""

from dataclasses import dataclass
from decimal import Decimal

from curehouse.core.chemistry.acids import acids_mol
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.findings import judge
from curehouse.core.chemistry.formula import Formula, planned_lye
from curehouse.core.chemistry.liquids import milk_fat_mol
from curehouse.core.chemistry.lye import PurityMissing
from curehouse.core.chemistry.poured import Part, Pour
from curehouse.core.chemistry.sizing import for_fats
from curehouse.core.chemistry.superfat import Superfat
from curehouse.making.formulas.adapter import Planned, sized
from curehouse.making.formulas.entries import Role


@dataclass(frozen=True, slots=True)
class PourFound:
    """What came of a pour: the lye its fats would have had by the formula (grams), and what went in.

    ``superfat`` as weighed; it and ``lye_by_formula_g`` are None where no lye can be worked out.
    """

    lye_by_formula_g: float | None
    pour: Pour
    superfat: Superfat | None
    is_doubtful_formula: bool
    is_refused_formula: bool = False

    @property
    def is_caustic(self) -> bool:
        """More lye went in than the fats can take."""
        return self.superfat is not None and self.superfat.of_fats.middle < 0

    @property
    def low(self) -> float:
        """The low end of its superfat, 0 where it is not known."""
        return 0.0 if self.superfat is None else self.superfat.of_fats.low

    @property
    def needs_check(self) -> bool:
        """It may be caustic: its low end is below 0 or not known, or its formula is refused today or promises the check."""
        return self.superfat is None or self.is_doubtful_formula or self.low < 0


def pour_found(one: Planned, *, fats_g: Decimal, lye_g: Decimal) -> PourFound:
    """Return how a pour of *fats_g* grams with *lye_g* grams of lye lies.

    Of two lyes each is taken to have had its planned part.
    """
    same = sized(one, for_fats(one.formula, float(fats_g)))
    judged, pour = judge(same.formula), _pour(same, float(lye_g))
    try:
        by_formula_g = sum(amount.weigh_g for amount in planned_lye(same.formula))
    except PurityMissing:
        by_formula_g = None
    return PourFound(by_formula_g, pour, pour.superfat(), judged.is_refused or judged.needs_check, judged.is_refused)


def _pour(one: Planned, lye_g: float) -> Pour:
    formula, entry = one.formula, one.entry
    of = {Alkali.NAOH: (entry.naoh_from, entry.naoh_purity), Alkali.KOH: (entry.koh_from, entry.koh_purity)}
    return Pour(
        fats=tuple(
            Part(
                mass_g=fat.mass_g,
                value=fat.saponification,
                material=line.material.pk if line.material is not None else None,
                key=line.key,
                is_typed=line.saponification is not None,
            )
            for line, fat in zip(entry.of(Role.FAT), formula.fats, strict=True)
        ),
        lye=tuple(
            Part(
                mass_g=mass_g,
                value=part.purity_bounds,
                alkali=part.alkali,
                material=material.pk if (material := of[part.alkali][0]) is not None else None,
                is_typed=of[part.alkali][1] is not None,
            )
            for part, mass_g in zip(formula.lye, _parts_g(formula, lye_g), strict=True)
        ),
        acids_mol=acids_mol(formula.acids, formula.scales.fine_step_g),
        milk_mol=milk_fat_mol(formula.liquids, formula.scales.step_g),
        scales=formula.scales,
    )


def _parts_g(formula: Formula, lye_g: float) -> list[float]:
    """Return how much of *lye_g* each alkali is; where an amount cannot be worked out, as if both were pure."""
    try:
        parts = [amount.exact_g for amount in planned_lye(formula)]
    except PurityMissing:
        parts = [part.share * part.alkali.g_per_mol for part in formula.lye]
    return [lye_g * part / sum(parts) for part in parts]
