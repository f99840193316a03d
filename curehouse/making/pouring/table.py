"""How a pour stands: what was weighed of each line, what comes next, and what the lye says by its low end."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from curehouse.common.units import OUNCE, SMALLEST_G, to_grams
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.at_table import Answer, AtTable, Remedy, Why, at_table
from curehouse.core.chemistry.finding import Finding
from curehouse.core.chemistry.findings import too_little_water
from curehouse.core.chemistry.solubility import water_needed_g
from curehouse.making.formulas.adapter import USUAL_STEP_G
from curehouse.making.formulas.entries import Role
from curehouse.making.models import Pour, PourStep
from curehouse.making.pouring.sheet import LYE, Slot, sheet_from_plain
from curehouse.making.pouring.weighed import Kind, Weighed
from curehouse.making.services.superfats import DECIDING, parts_by_lots
from curehouse.workshops.models import Scale

# What is said once each, in this order, after all was weighed.
TOLD = (Kind.DISSOLVED, Kind.LYE_TEMP, Kind.FATS_TEMP, Kind.TRACE, Kind.STIRRED, Kind.MOULD, Kind.PLACE)
# °C; common practice, no source. Milk in front is frozen and the lye goes into it slowly.
MILK_BANDS: Mapping[str, tuple[Decimal, Decimal]] = {
    Kind.LYE_TEMP: (Decimal(0), Decimal(30)),
    Kind.FATS_TEMP: (Decimal(35), Decimal(45)),
}
BANDS: Mapping[str, tuple[Decimal, Decimal]] = {
    Kind.LYE_TEMP: (Decimal(25), Decimal(50)),
    Kind.FATS_TEMP: (Decimal(30), Decimal(50)),
}
# What a person saw, by the words that the page offers for it.
UNDISSOLVED = "Undissolved lye"
DOUBT_OF: Mapping[str, Why] = {
    UNDISSOLVED: Why.UNDISSOLVED,
    "Another lye than the formula's": Why.WRONG_ALKALI,
}
# What the superfat is reckoned by: a weight of these that is told otherwise is another batch.
DECIDING_ROLES = (Role.FAT, Role.ACID, LYE)
# A weight that is a whole step off to the maker is not always one to a decimal of so many places.
_NOISE_G = Decimal("0.0005")


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the sheet with what was weighed of it; ``target_g`` is what is still to be weighed, None where not known.

    ``slack_g`` is by how much what is shown of a target may be less than it, for it is cut off.
    """

    slot: Slot
    rows: tuple[PourStep, ...]
    scale: Scale | None
    target_g: Decimal | None
    slack_g: Decimal = Decimal(0)

    @property
    def weighed_g(self) -> Decimal:
        """What was weighed of it, in grams."""
        return sum((row.amount_g for row in self.rows), Decimal(0))

    @property
    def step_g(self) -> Decimal:
        """The step of the scale that it is weighed on."""
        return USUAL_STEP_G if self.scale is None else self.scale.step_g

    @property
    def mend_g(self) -> Decimal:
        """What of it was added to make the lye safe."""
        return sum((row.amount_g for row in self.rows if row.is_mend), Decimal(0))

    @property
    def meant_g(self) -> Decimal | None:
        """What is meant of it altogether; of lye of which enough was weighed, what was meant then."""
        if self.slot.role != LYE or self.target_g is None:
            return self.slot.target_g
        if self.rows and not self.target_g:
            return min(self.weighed_g, self.rows[0].target_g)
        return self.weighed_g + self.target_g

    @property
    def is_done(self) -> bool:
        """By all that stands of it no more is lacking than a step of its scale, or than a person let stand."""
        if not self.rows:
            return False
        let_stand = [row.target_g - row.amount_g for row in self.rows if row.stands and not row.is_mend]
        if self.target_g is None:
            return bool(let_stand)
        step_g = max(row.step_g for row in self.rows) + self.slack_g
        return self.target_g <= max([step_g, *let_stand]) + _NOISE_G


def doubt_of(step: PourStep) -> Why | None:
    """Return what a step doubts, None where it is no doubt."""
    return DOUBT_OF.get(step.words, Why.DOUBTED) if step.kind == Kind.DOUBT else None


def _is_settled(step: PourStep) -> bool:
    """Return whether a look settles what was doubted."""
    return doubt_of(step) is Why.UNDISSOLVED


def is_off(amount_g: Decimal, target_g: Decimal, step_g: Decimal) -> bool:
    """Return whether a weight is further from what was meant than a step of its scale."""
    return abs(amount_g - target_g) > step_g + _NOISE_G


@dataclass(frozen=True)
class Table(Weighed):
    """A pour as it stands: what comes next, and what its lye says."""

    @cached_property
    def lines(self) -> dict[str, Line]:
        """The lines of the sheet by their keys, in the order of the table."""
        return {slot.key: self._line(slot) for slot in self.sheet.slots}

    def _line(self, slot: Slot) -> Line:
        rows = self.rows(slot)
        if slot.role == LYE:
            unit = self.pour.workshop.unit
            slack_g = to_grams(SMALLEST_G, unit) if unit == OUNCE else Decimal(0)
            return Line(slot, rows, self.scale_of(slot), self.lye_left_g(slot), slack_g)
        left_g = (slot.target_g or Decimal(0)) - sum((row.amount_g for row in rows if not row.is_mend), Decimal(0))
        return Line(slot, rows, self.scale_of(slot), max(Decimal(0), left_g))

    @property
    def is_past_trace(self) -> bool:
        """Lye and fats have met."""
        return self.said(Kind.TRACE) is not None

    @property
    def has_lye(self) -> bool:
        """Lye was weighed, or something is wrong with it."""
        return any(self.rows(slot) for slot in self.lyes)

    @cached_property
    def _trace_at(self) -> int | None:
        """Where among the steps lye and fats met; by their order, for a step that would be said has no key yet."""
        return next((at for at in reversed(range(len(self.steps))) if self.steps[at].kind == Kind.TRACE), None)

    @cached_property
    def looked(self) -> PourStep | None:
        """The look by which all of the lye is dissolved: later than all that stands of it, and than any seen undissolved."""
        lye = {slot.key for slot in self.lyes}
        unsettled = [at for at, step in enumerate(self.steps) if step.slot in lye or doubt_of(step) is Why.UNDISSOLVED]
        return next(
            (step for step in reversed(self.steps[max(unsettled, default=-1) + 1 :]) if step.kind == Kind.DISSOLVED), None
        )

    def told(self, kind: str) -> PourStep | None:
        """Return what was said of a step and counts still."""
        return self.looked if kind == Kind.DISSOLVED else self.said(kind)

    @cached_property
    def found(self) -> AtTable:
        """What to do, by the low end of the superfat."""
        return self._found([why for step in self._doubts if (why := doubt_of(step))])

    @property
    def found_if_dissolved(self) -> AtTable:
        """What would be to do once all of the lye is seen to be dissolved."""
        return self._found([why for step in self._doubts if (why := doubt_of(step)) and why is not Why.UNDISSOLVED])

    def _found(self, doubts: list[Why]) -> AtTable:
        if self._trace_at is not None:
            # A weight of lye, acid or fat that is told otherwise once they have met is a doubt about what they are.
            doubts += [Why.DOUBTED for row in self.steps[self._trace_at + 1 :] if self.decides(row.slot)]
            doubts += [Why.TOO_LITTLE_WATER] if self.too_little_water else []
        for slot in self.lyes:
            if {self.part_of(slot, row).alkali for row in self.rows(slot)} - {Alkali(slot.key)}:
                doubts.append(Why.WRONG_ALKALI)
        return at_table(
            self.core,
            planned=self.sheet.planned,
            is_past_trace=self.is_past_trace,
            doubts=doubts,
            read_low=self.sheet.read_low,
        )

    @property
    def _doubts(self) -> list[PourStep]:
        """Doubts that stand: that lye is undissolved until all of it was seen to be dissolved, before it met the fats."""
        before = self.steps[: self._trace_at]
        looks = [at for at, step in enumerate(before) if step.kind == Kind.DISSOLVED]
        last = max(looks, default=-1)
        return [step for at, step in enumerate(self.steps) if doubt_of(step) and not (_is_settled(step) and at < last)]

    @cached_property
    def too_little_water(self) -> Finding | None:
        """What is to be said where the water in front cannot dissolve the lye, as a formula is refused for it."""
        front = [line for line in self.lines.values() if line.slot.role == Role.LIQUID]
        if any(line.slot.dissolving is None for line in front):
            return None
        masses_g = [(line.weighed_g if line.is_done else line.slot.target_g or Decimal(0), line.slot) for line in front]
        pure_g: dict[Alkali, float] = {}
        for part in self.core.lye:
            if part.alkali is not None:
                strong = 1.0 if part.value is None else part.value.middle
                pure_g[part.alkali] = pure_g.get(part.alkali, 0.0) + part.mass_g * strong
        return too_little_water(
            water_g=math.fsum(float(mass_g) * (slot.dissolving or 0.0) for mass_g, slot in masses_g),
            needed_g=water_needed_g(pure_g, self.sheet.front_c),
            lye_g=math.fsum(part.mass_g for part in self.core.lye),
            front_c=self.sheet.front_c,
        )

    def decides(self, key: str) -> bool:
        """Return whether the superfat is reckoned by a line of the sheet."""
        return key in self.lines and self.lines[key].slot.role in DECIDING_ROLES

    @property
    def must_stop(self) -> bool:
        """The answer is to stop."""
        return (self.has_lye or bool(self._doubts)) and self.found.answer is Answer.STOP

    @property
    def wants_fat(self) -> bool:
        """Lye was weighed, and only more fat makes its low end safe."""
        return self.has_lye and self.found.answer is Answer.ADD_FAT

    def slot_of(self, remedy: Remedy) -> Slot:
        """Return the line of the sheet that a remedy adds to."""
        slots = [slot for slot in self.sheet.slots if slot.role == Role.FAT for _part in self._weighed(slot)]
        return slots[remedy.part]

    @cached_property
    def order(self) -> tuple[str, ...]:
        """All steps by their keys: the cautions, each line of the sheet, and what is told once each."""
        stirs = any(slot.is_at_trace for slot in self.sheet.slots)
        told = [kind.value for kind in TOLD if stirs or kind is not Kind.STIRRED]
        return (Kind.CAUTION.value, *self.lines, *told)

    def is_done(self, key: str) -> bool:
        """Return whether a step was done."""
        return self.lines[key].is_done if key in self.lines else self.told(key) is not None

    @property
    def next(self) -> str | None:
        """The first step that is not done, None where all are."""
        return next((key for key in self.order if not self.is_done(key)), None)

    @property
    def not_weighed(self) -> list[Line]:
        """Lines that are not weighed yet."""
        return [line for line in self.lines.values() if not line.is_done]

    def band(self, kind: str) -> tuple[Decimal, Decimal]:
        """Return between what temperatures in °C lye or fats usually are (common practice, no source)."""
        return (MILK_BANDS if self.sheet.has_milk_in_front else BANDS)[kind]


def read_table(pour: Pour, steps: Sequence[PourStep] | None = None) -> Table:
    """Return how *pour* stands, by as many queries however much was said; *steps* in place of what is kept of it."""
    found = PourStep.objects.within(pour.workshop).filter(pour=pour).in_force().in_order() if steps is None else steps
    rows = tuple(found)
    sheet = sheet_from_plain(pour.sheet)
    uses = [row for row in rows if row.lot is not None and row.amount_g > 0 and row.lot.material.kind in DECIDING]
    roles = {slot.key: slot.role for slot in sheet.slots}
    uses = [row for row in uses if roles.get(row.slot) in (Role.FAT, LYE)]
    parts = parts_by_lots(pour.workshop, sheet.pour, [(row.lot, row.amount_g) for row in uses]) if uses else []
    return Table(
        pour=pour,
        sheet=sheet,
        steps=rows,
        scales=tuple(Scale.objects.within(pour.workshop).in_use().order_by("pk")),
        parts={row.pk: part for row, (_number, part) in zip(uses, parts, strict=True)},
    )
