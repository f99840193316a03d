"""A pour held against the formula it was made from: the lye that was weighed, for the fats that were weighed."""

from dataclasses import dataclass
from decimal import Decimal

from curehouse.core.chemistry.acids import acids_mol
from curehouse.core.chemistry.alkali import Alkali, LyePart
from curehouse.core.chemistry.finding import Finding
from curehouse.core.chemistry.findings import judge
from curehouse.core.chemistry.formula import Formula, planned_lye
from curehouse.core.chemistry.liquids import milk_fat_mol
from curehouse.core.chemistry.lye import LyeAmount, PurityMissing
from curehouse.core.chemistry.poured import Part, Pour
from curehouse.core.chemistry.sizing import for_fats
from curehouse.core.chemistry.superfat import Superfat, TooSmall
from curehouse.making.formulas.adapter import Planned, sized
from curehouse.making.formulas.entries import Role


@dataclass(frozen=True, slots=True)
class PourFound:
    """What came of a pour: the lye its fats would have had by the formula, and what went in.

    ``superfat`` as weighed; it and ``lye_by_formula`` are None where no lye can be worked out.
    ``to_confirm`` is what a person must have read of the formula by the figures of today.
    """

    lye_by_formula: tuple[LyeAmount, ...] | None
    pour: Pour
    superfat: Superfat | None
    is_doubtful_formula: bool
    is_refused_formula: bool = False
    to_confirm: tuple[Finding, ...] = ()

    @property
    def lye_by_formula_g(self) -> float | None:
        """All lye by the formula, in grams."""
        return None if self.lye_by_formula is None else sum(amount.weigh_g for amount in self.lye_by_formula)

    @property
    def koh_by_formula_g(self) -> float:
        """The potassium hydroxide of it, in grams."""
        return sum(amount.weigh_g for amount in self.lye_by_formula or () if amount.alkali is Alkali.KOH)

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


def pour_found(one: Planned, *, fats_g: Decimal, lye_g: Decimal, koh_g: Decimal | None = None) -> PourFound:
    """Return how a pour of *fats_g* grams with *lye_g* grams of lye lies, *koh_g* of them potassium hydroxide.

    Where nobody said how much of it is which, each is taken to have had its planned part. Of fats that the
    scale cannot tell from nothing neither a lye by the formula is known nor a superfat.
    """
    same = sized(one, for_fats(one.formula, float(fats_g)))
    parts_g = _parts_g(same.formula, float(lye_g), None if koh_g is None else float(koh_g))
    pour = _pour(same, parts_g)
    try:
        judged = judge(same.formula)
    except TooSmall:
        return PourFound(None, pour, pour.superfat(), is_doubtful_formula=True)
    # What no lot can have is refused in a formula, and asked about where it was poured: by it any lye looks right.
    asked = tuple(finding for finding in judged.findings if finding.needs_confirming or finding.is_of_a_value)
    try:
        by_formula = planned_lye(same.formula)
    except PurityMissing:
        by_formula = None
    return PourFound(by_formula, pour, pour.superfat(), judged.is_refused or judged.needs_check, judged.is_refused, asked)


def pour_today(one: Planned) -> Pour:
    """Return what counts for the fats and the lye of *one* today; its lye has no mass."""
    return _pour(one, {part.alkali: 0.0 for part in one.formula.lye})


def _pour(one: Planned, lye_g: dict[Alkali, float]) -> Pour:
    formula, entry = one.formula, one.entry
    of = {Alkali.NAOH: (entry.naoh_from, entry.naoh_purity), Alkali.KOH: (entry.koh_from, entry.koh_purity)}
    purities = {part.alkali: part.purity_bounds for part in formula.lye}
    return Pour(
        fats=tuple(
            Part(
                mass_g=fat.mass_g,
                value=fat.saponification,
                material=line.material.pk if line.material is not None else None,
                key=line.key,
                is_typed=line.saponification is not None,
                is_certified=fat.certificate is not None,
            )
            for line, fat in zip(entry.of(Role.FAT), formula.fats, strict=True)
        ),
        lye=tuple(
            Part(
                mass_g=mass_g,
                value=purities.get(alkali, LyePart(alkali).purity_bounds),
                alkali=alkali,
                material=material.pk if (material := of[alkali][0]) is not None else None,
                is_typed=of[alkali][1] is not None,
            )
            for alkali, mass_g in lye_g.items()
        ),
        acids_mol=acids_mol(formula.acids, formula.scales.fine_step_g),
        milk_mol=milk_fat_mol(formula.liquids, formula.scales.step_g),
        scales=formula.scales,
    )


def _parts_g(formula: Formula, lye_g: float, koh_g: float | None) -> dict[Alkali, float]:
    """Return how much of *lye_g* each alkali is: as weighed, else as the formula shares them out.

    Where no amount can be worked out, as if both were pure.
    """
    planned = [part.alkali for part in formula.lye]
    if koh_g is not None:
        weighed_g = {Alkali.NAOH: lye_g - koh_g, Alkali.KOH: koh_g}
        # Also what the formula does not have, where it went in all the same.
        return {alkali: mass_g for alkali, mass_g in weighed_g.items() if mass_g > 0 or alkali in planned}
    try:
        parts = [amount.exact_g for amount in planned_lye(formula)]
    except PurityMissing:
        parts = [part.share * part.alkali.g_per_mol for part in formula.lye]
    return {alkali: lye_g * part / sum(parts) for alkali, part in zip(planned, parts, strict=True)}
