"""How a pour stands: what was weighed of each line, what comes next, and what the lye says by its low end."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.at_table import Answer, AtTable, Remedy, Why, at_table
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
DOUBT_OF: Mapping[str, Why] = {
    "Undissolved lye": Why.UNDISSOLVED,
    "Another lye than the formula's": Why.WRONG_ALKALI,
}
# A weight that is a whole step off to the maker is not always one to a decimal of so many places.
_NOISE_G = Decimal("0.0005")


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the sheet with what was weighed of it; ``target_g`` is what is still to be weighed, None where not known."""

    slot: Slot
    rows: tuple[PourStep, ...]
    scale: Scale | None
    target_g: Decimal | None

    @property
    def weighed_g(self) -> Decimal:
        """What was weighed of it, in grams."""
        return sum((row.amount_g for row in self.rows), Decimal(0))

    @property
    def step_g(self) -> Decimal:
        """The step of the scale that it is weighed on."""
        return USUAL_STEP_G if self.scale is None else self.scale.step_g

    @property
    def is_done(self) -> bool:
        """A weighing of it came out as meant, or a person let one stand."""
        return any(row.stands or not is_off(row.amount_g, row.target_g, row.step_g) for row in self.rows)


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
            return Line(slot, rows, self.scale_of(slot), self.lye_left_g(slot))
        left_g = (slot.target_g or Decimal(0)) - sum((row.amount_g for row in rows), Decimal(0))
        return Line(slot, rows, self.scale_of(slot), max(Decimal(0), left_g))

    @property
    def is_past_trace(self) -> bool:
        """Lye and fats have met."""
        return self.said(Kind.TRACE) is not None

    @property
    def has_lye(self) -> bool:
        """Lye was weighed, or something is wrong with it."""
        return any(slot.role == LYE and self.rows(slot) for slot in self.sheet.slots)

    @cached_property
    def found(self) -> AtTable:
        """What to do, by the low end of the superfat."""
        doubts = [DOUBT_OF.get(step.words, Why.DOUBTED) for step in self._doubts]
        trace = self.said(Kind.TRACE)
        if trace is not None and any(row.pk > trace.pk and self._decides(row) for row in self.steps):
            # A weight of lye or fat that is told otherwise once they have met is a doubt about what they are.
            doubts.append(Why.DOUBTED)
        for slot in self.sheet.slots:
            alkalis = {self.part_of(slot, row).alkali for row in self.rows(slot)}
            if slot.role == LYE and alkalis - {Alkali(slot.key)}:
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
        return [step for step in self.steps if step.kind == Kind.DOUBT]

    def _decides(self, row: PourStep) -> bool:
        return row.slot in self.lines and self.lines[row.slot].slot.role in (Role.FAT, LYE)

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
        return self.lines[key].is_done if key in self.lines else self.said(key) is not None

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
