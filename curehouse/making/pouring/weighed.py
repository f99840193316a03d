"""What was weighed at a pour, as far as lye is concerned, and how much lye is still to be weighed for it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, Decimal
from functools import cached_property

from curehouse.common.units import SMALLEST_G
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.at_table import most_steps
from curehouse.core.chemistry.bounds import ZERO, Bounds, total
from curehouse.core.chemistry.fats import mol_per_g
from curehouse.core.chemistry.poured import Part
from curehouse.core.chemistry.poured import Pour as CorePour
from curehouse.core.chemistry.scale import Scales, weigh_out, weighed
from curehouse.making.formulas.adapter import USUAL_STEP_G
from curehouse.making.formulas.entries import Role
from curehouse.making.models import Pour, PourStep
from curehouse.making.pouring.sheet import LYE, Sheet, Slot
from curehouse.making.services.superfats import parts_by_lots
from curehouse.workshops.models import Scale
from inventory.models import Lot

Kind = PourStep.Kind


@dataclass(frozen=True)
class Weighed:
    """What was said of a pour; ``steps`` are those in force, in their order, ``parts`` what the lots of some of them count."""

    pour: Pour
    sheet: Sheet
    steps: tuple[PourStep, ...]
    scales: tuple[Scale, ...]
    parts: Mapping[int, Part]

    def rows(self, slot: Slot) -> tuple[PourStep, ...]:
        """Return what was weighed of a line."""
        return tuple(step for step in self.steps if step.kind == Kind.WEIGHED and step.slot == slot.key)

    def said(self, kind: str) -> PourStep | None:
        """Return the last step of a kind, None where it was not said."""
        return next((step for step in reversed(self.steps) if step.kind == kind), None)

    def scale_of(self, slot: Slot) -> Scale | None:
        """Return the scale for a line: as the formula says, else the finest for lye and acids and the coarsest for the rest."""
        named = self.sheet.fine_scale if slot.is_fine else self.sheet.scale
        by_step = sorted(self.scales, key=lambda one: (one.step_g, one.pk), reverse=not slot.is_fine)
        return next((one for one in self.scales if one.pk == named), by_step[0] if by_step else None)

    def part_of(self, slot: Slot, row: PourStep | None = None, lot: Lot | None = None) -> Part:
        """Return what counts for a fat or a lye: of a row, of a lot that may be taken, or as the sheet has it; without mass."""
        if row is not None and row.pk in self.parts:
            return self.parts[row.pk]
        base = (self.sheet.pour.lye if slot.role == LYE else self.sheet.pour.fats)[slot.part]
        if lot is None:
            return base
        ((_number, part),) = parts_by_lots(self.pour.workshop, self.sheet.pour, [(lot, SMALLEST_G)])
        return part

    def lye_left_g(self, slot: Slot, lot: Lot | None = None) -> Decimal | None:
        """Return how much of a lye is still to be weighed, by the certificate of *lot* (or as the sheet has it).

        For the fats and acids as they were weighed, those still to come as they are meant (no lye for fat that was
        added to make it safe); in whole steps of the scale, never more than the superfat asks for. Once lye was
        weighed no more comes than all of it may be together, and than leaves the low end of the superfat as it must
        be. None where its purity is not known.
        """
        alkali, part = Alkali(slot.key), self.part_of(slot, lot=lot)
        purity = _purest(part)
        if purity is None:
            return None
        whole = math.fsum(self._mol(part) for part in self._fats(mends=False)) * (1 - self.sheet.superfat)
        whole += self._acids().middle
        mol = min(whole * self.sheet.shares[alkali] - self._lye_mol([slot]), whole - self._lye_mol(self.lyes))
        scale = self.scale_of(slot)
        step_g = float(USUAL_STEP_G if scale is None else scale.step_g)
        grams = weigh_out(max(0.0, mol) * alkali.g_per_mol / purity, step_g)
        if weighed_lye := self._lye_weighed():
            most = round(grams / step_g)
            steps = most_steps(self._pour(weighed_lye), part, step_g, most, read_low=self.sheet.read_low)
            grams = grams if steps == most else weigh_out(steps * step_g, step_g)
        return Decimal(str(grams)).quantize(SMALLEST_G, rounding=ROUND_DOWN)

    @property
    def lyes(self) -> list[Slot]:
        """The lines of lye."""
        return [slot for slot in self.sheet.slots if slot.role == LYE]

    def _lye_mol(self, slots: Sequence[Slot]) -> float:
        """Return how much alkali was weighed of some lines of lye, in mol, as strong as it may be."""
        pairs = [(row, self.part_of(slot, row)) for slot in slots for row in self.rows(slot)]
        known = [(row, part, part.alkali) for row, part in pairs if part.alkali is not None]
        return math.fsum(float(row.amount_g) * (_purest(part) or 0.0) / alkali.g_per_mol for row, part, alkali in known)

    def _lye_weighed(self) -> tuple[Part, ...]:
        return tuple(
            replace(self.part_of(slot, row), mass_g=float(row.amount_g), is_rest=False)
            for slot in self.lyes
            for row in self.rows(slot)
            if row.amount_g > 0
        )

    @staticmethod
    def _mol(part: Part) -> float:
        if part.value is None:
            return 0.0
        values = [one for one in (part.value, part.published) if one is not None]
        return min(mol_per_g(one).middle for one in values) * part.mass_g

    def _fats(self, *, mends: bool = True) -> list[Part]:
        fats = [slot for slot in self.sheet.slots if slot.role == Role.FAT]
        return [part for slot in fats for part in self._weighed(slot, mends=mends)]

    def _weighed(self, slot: Slot, *, mends: bool = True) -> list[Part]:
        """Return the parts of a fat or lye: each weighing by itself, and what is still to come as it is meant."""
        rows = [row for row in self.rows(slot) if row.amount_g > 0 and (mends or not row.is_mend)]
        parts = [replace(self.part_of(slot, row), mass_g=float(row.amount_g), is_rest=False) for row in rows]
        if parts or self.rows(slot):
            return parts
        meant_g = self.lye_left_g(slot) if slot.role == LYE else slot.target_g
        return [replace(self.part_of(slot), mass_g=float(meant_g or 0))]

    def _takes(self, role: str, step_g: float = 0.0, *, as_meant: bool = True) -> Bounds:
        """Return what acids, or the fat of milk, take of alkali in mol; not weighed yet *as_meant*, or not at all."""
        slots = [slot for slot in self.sheet.slots if slot.role == role]
        return total(one for slot in slots for one in _taken(slot, self.rows(slot), step_g, as_meant=as_meant))

    def _acids(self, step_g: float = 0.0) -> Bounds:
        return self._takes(Role.ACID, step_g)

    @cached_property
    def core(self) -> CorePour:
        """What is in the pot as far as lye is concerned: what was weighed, and what is still to come as it is meant."""
        return self._pour(tuple(part for slot in self.lyes for part in self._weighed(slot)))

    def _pour(self, lye: tuple[Part, ...], *, as_meant: bool = True) -> CorePour:
        steps = {fine: [float(row.step_g) for row in self.steps if self._is_fine(row) is fine] for fine in (True, False)}
        meant = self.sheet.pour.scales
        scales = Scales(max([*steps[False], meant.step_g]), max([*steps[True], meant.fine_step_g]))
        return CorePour(
            fats=tuple(self._fats()),
            lye=lye,
            acids_mol=self._takes(Role.ACID, scales.fine_step_g, as_meant=as_meant),
            milk_mol=self._takes(Role.LIQUID, scales.step_g, as_meant=as_meant),
            scales=scales,
        )

    def _is_fine(self, row: PourStep) -> bool | None:
        slot = next((slot for slot in self.sheet.slots if slot.key == row.slot), None)
        return None if row.kind != Kind.WEIGHED or slot is None else slot.is_fine

    @property
    def as_weighed(self) -> CorePour:
        """What was weighed, a part for each line, by the figures of the sheet: those of the lots follow with their uses."""

        def parts(role: str) -> list[Part]:
            slots = [slot for slot in self.sheet.slots if slot.role == role]
            masses = [float(sum((row.amount_g for row in self.rows(slot)), Decimal(0))) for slot in slots]
            pairs = zip(slots, masses, strict=True)
            return [replace(self.part_of(slot), mass_g=mass_g) for slot, mass_g in pairs if mass_g > 0]

        return replace(self._pour((), as_meant=False), fats=tuple(parts(Role.FAT)), lye=tuple(parts(LYE)))

    def lye_g(self, alkali: Alkali) -> Decimal:
        """Return how many grams of lye that is really this alkali were weighed."""
        rows = [(slot, row) for slot in self.lyes for row in self.rows(slot)]
        grams = (row.amount_g for slot, row in rows if self.part_of(slot, row).alkali is alkali)
        return sum(grams, Decimal(0)).quantize(SMALLEST_G, rounding=ROUND_HALF_EVEN)


def _taken(slot: Slot, rows: Sequence[PourStep], step_g: float, *, as_meant: bool) -> list[Bounds]:
    """Return what was weighed of an acid or a liquid takes of alkali, in mol."""

    def of(grams: Sequence[Decimal]) -> Bounds:
        mass_g = math.fsum(float(one) for one in grams)
        return weighed(mass_g, step_g).part_of(slot.mol_per_g) if mass_g else ZERO

    if not rows:
        return [of([slot.target_g or Decimal(0)] if as_meant else [])]
    # Of an acid that is kept in lots and came of none nobody can tell that it is one: it is not counted on.
    is_kept = slot.role == Role.ACID and slot.material is not None
    unknown = of([row.amount_g for row in rows if is_kept and row.lot is None])
    return [of([row.amount_g for row in rows if not is_kept or row.lot is not None]), Bounds(0.0, 0.0, unknown.high)]


def _purest(part: Part) -> float | None:
    """Return the purity that asks for the least of a lye: its own figure, or what is published where that lies outside."""
    if part.value is None:
        return None
    return part.value.middle if part.published is None else max(part.value.middle, part.published.middle)
