"""What was weighed at a pour, as far as lye is concerned, and how much lye is still to be weighed for it."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, Decimal
from functools import cached_property

from curehouse.common.units import SMALLEST_G
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.bounds import Bounds, total
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

        For the fats and acids as they were weighed, those still to come as they are meant; in whole steps of the
        scale, never more than the superfat asks for. None where its purity is not known.
        """
        alkali = Alkali(slot.key)
        fats = math.fsum(self._mol(part) for part in self._fats())
        mol = (fats * (1 - self.sheet.superfat) + self._acids().middle) * self.sheet.shares[alkali]
        already = [self.part_of(slot, row) for row in self.rows(slot)]
        pairs = zip(self.rows(slot), already, strict=True)
        mol -= math.fsum(float(row.amount_g) * (_purest(part) or 0.0) / alkali.g_per_mol for row, part in pairs)
        purity = _purest(self.part_of(slot, lot=lot))
        if purity is None:
            return None
        scale = self.scale_of(slot)
        step_g = float(USUAL_STEP_G if scale is None else scale.step_g)
        grams = weigh_out(max(0.0, mol) * alkali.g_per_mol / purity, step_g)
        return Decimal(str(grams)).quantize(SMALLEST_G, rounding=ROUND_DOWN)

    @staticmethod
    def _mol(part: Part) -> float:
        if part.value is None:
            return 0.0
        values = [one for one in (part.value, part.published) if one is not None]
        return min(mol_per_g(one).middle for one in values) * part.mass_g

    def _fats(self) -> list[Part]:
        return [part for slot in self.sheet.slots if slot.role == Role.FAT for part in self._weighed(slot)]

    def _weighed(self, slot: Slot) -> list[Part]:
        """Return the parts of a fat or lye: each weighing by itself, and what is still to come as it is meant."""
        rows = [row for row in self.rows(slot) if row.amount_g > 0]
        parts = [replace(self.part_of(slot, row), mass_g=float(row.amount_g), is_rest=False) for row in rows]
        if parts or self.rows(slot):
            return parts
        meant_g = self.lye_left_g(slot) if slot.role == LYE else slot.target_g
        return [replace(self.part_of(slot), mass_g=float(meant_g or 0))]

    def _masses(self, role: str) -> list[tuple[Slot, float]]:
        slots = [slot for slot in self.sheet.slots if slot.role == role]
        rows = [self.rows(slot) for slot in slots]
        masses = [
            sum((row.amount_g for row in own), Decimal(0)) if own else slot.target_g
            for slot, own in zip(slots, rows, strict=True)
        ]
        return [(slot, float(mass_g or 0)) for slot, mass_g in zip(slots, masses, strict=True)]

    def _acids(self, step_g: float = 0.0) -> Bounds:
        return total(weighed(mass_g, step_g).part_of(slot.mol_per_g) for slot, mass_g in self._masses(Role.ACID))

    @cached_property
    def core(self) -> CorePour:
        """What is in the pot as far as lye is concerned: what was weighed, and what is still to come as it is meant."""
        steps = {fine: [float(row.step_g) for row in self.steps if self._is_fine(row) is fine] for fine in (True, False)}
        meant = self.sheet.pour.scales
        scales = Scales(max([*steps[False], meant.step_g]), max([*steps[True], meant.fine_step_g]))
        milk = total(weighed(mass_g, scales.step_g).part_of(slot.mol_per_g) for slot, mass_g in self._masses(Role.LIQUID))
        return CorePour(
            fats=tuple(self._fats()),
            lye=tuple(part for slot in self.sheet.slots if slot.role == LYE for part in self._weighed(slot)),
            acids_mol=self._acids(scales.fine_step_g),
            milk_mol=milk,
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

        return replace(self.core, fats=tuple(parts(Role.FAT)), lye=tuple(parts(LYE)))

    def lye_g(self, alkali: Alkali) -> Decimal:
        """Return how many grams of lye that is really this alkali were weighed."""
        rows = [(slot, row) for slot in self.sheet.slots if slot.role == LYE for row in self.rows(slot)]
        grams = (row.amount_g for slot, row in rows if self.part_of(slot, row).alkali is alkali)
        return sum(grams, Decimal(0)).quantize(SMALLEST_G, rounding=ROUND_HALF_EVEN)


def _purest(part: Part) -> float | None:
    """Return the purity that asks for the least of a lye: its own figure, or what is published where that lies outside."""
    if part.value is None:
        return None
    return part.value.middle if part.published is None else max(part.value.middle, part.published.middle)
