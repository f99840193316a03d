"""What a batch took from the storeroom: asked for by material, booked by lot."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.units import GRAMS_PER, LARGEST_G
from curehouse.flows.use_stock import Proposal, UseLine
from curehouse.web.forms.amounts import ReasonField, in_grams, unit_field
from curehouse.web.forms.fields import HouseForm, MomentField, NumberField, TextField, trimmed
from curehouse.web.reading.amounts import held_words
from curehouse.web.reading.offered_lots import OfferedLots
from curehouse.web.reading.storeroom import best_before_words
from curehouse.workshops.models import Workshop
from inventory.models import Irregular, Lot, Material

ROWS = 8
_PIECES = "pieces"


def _units(workshop: Workshop) -> forms.ChoiceField:
    field = unit_field(workshop)
    field.choices = [*field.choices, (_PIECES, _PIECES)]
    return field


def _amount(values: dict[str, Any], name: str, unit: str, material: Material) -> Decimal:
    is_counted = material.measure == Material.Measure.PIECES
    return values[name] if is_counted else in_grams(values[name], values[unit])


class AskForm(HouseForm):
    """Materials and how much of each went in."""

    def __init__(self, *args: Any, workshop: Workshop, materials: Sequence[Material], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._materials = {str(one.pk): one for one in materials}
        choices = [("", "–"), *((key, one.name) for key, one in self._materials.items())]
        for row in range(ROWS):
            self.fields[f"material_{row}"] = forms.ChoiceField(
                label="Material", required=False, choices=choices,
                error_messages={"invalid_choice": "Choose the material from the list."},
            )  # fmt: skip
            self.fields[f"amount_{row}"] = NumberField(
                what="The amount", above=Decimal(0), most=LARGEST_G, required=False, label="Amount"
            )  # fmt: skip
            self.fields[f"unit_{row}"] = _units(workshop)
            self.fields[f"unit_{row}"].required = False

    @property
    def rows(self) -> list[list[Any]]:
        """Return the bound fields row by row."""
        return [[self[f"{name}_{row}"] for name in ("material", "amount", "unit")] for row in range(ROWS)]

    def clean(self) -> dict[str, Any]:
        """Ask for the amount of each material that is named, and for at least one."""
        values = super().clean() or {}
        named = [row for row in range(ROWS) if values.get(f"material_{row}")]
        for row in named:
            material = self._materials[values[f"material_{row}"]]
            is_counted = material.measure == Material.Measure.PIECES
            if f"amount_{row}" in values and values[f"amount_{row}"] is None:
                self.add_error(f"amount_{row}", f"The amount of {material} is missing: type it in figures.")
            elif not is_counted and values.get(f"unit_{row}") not in GRAMS_PER:
                self.add_error(f"unit_{row}", f"{material} is kept in grams: choose the unit again.")
        if not named and not self.errors:
            self.add_error(None, "Name at least one material and how much of it went in.")
        return values

    def asked(self) -> list[tuple[Material, Decimal]]:
        """Return each material once, with grams or pieces: named twice, its amounts are added."""
        values = self.cleaned_data
        sums: dict[Material, Decimal] = {}
        for row in range(ROWS):
            if values.get(f"material_{row}"):
                material = self._materials[values[f"material_{row}"]]
                sums[material] = sums.get(material, Decimal(0)) + _amount(values, f"amount_{row}", f"unit_{row}", material)
        return list(sums.items())


class BookForm(HouseForm):
    """What was taken from which lot; a line without an amount was not taken."""

    def __init__(
        self, *args: Any, workshop: Workshop, lots: OfferedLots, lines: int, today: date, now: dict[str, Any], **kwargs: Any
    ) -> None:
        super().__init__(*args, initial=now, **kwargs)
        self._offered, self._count = lots, lines
        said = self.data if self.is_bound else now
        for row in range(lines):
            key = said.get(f"lot_{row}", "")
            chosen = lots.called(key, "")
            offered = lots.of_line(chosen and chosen.material_id, key)
            choices = [("", "–"), *((f"{lot.pk}", _lot_words(lot, workshop.unit, today)) for lot in offered)]
            self.fields[f"lot_{row}"] = forms.ChoiceField(
                label="Lot", required=False, choices=choices, error_messages={"invalid_choice": "Choose the lot from the list."}
            )  # fmt: skip
            self.fields[f"number_{row}"] = TextField(
                what="The lot's number", longest=20, required=False, label="Or another lot, by its number"
            )  # fmt: skip
            self.fields[f"amount_{row}"] = NumberField(
                what="The amount", above=Decimal(0), most=LARGEST_G, required=False, label="Amount"
            )  # fmt: skip
            self.fields[f"unit_{row}"] = _units(workshop)
            self.fields[f"unit_{row}"].required = False
            self.fields[f"reason_{row}"] = ReasonField(label="Why, if the lot is not in order", required=False)
        self.fields["used_at"] = MomentField(
            what="The time", time_zone=workshop.time_zone, required=False, label="When", help_text="Empty means now."
        )

    @property
    def rows(self) -> list[list[Any]]:
        """Return the bound fields line by line."""
        names = ("lot", "number", "amount", "unit", "reason")
        return [[self[f"{name}_{row}"] for name in names] for row in range(self._count)]

    def clean(self) -> dict[str, Any]:
        """Ask for a lot with each amount, for a unit that fits it, and for at least one line."""
        values = super().clean() or {}
        taken = 0
        for row in range(self._count):
            if values.get(f"amount_{row}") is None:
                continue
            lot, number = self._lot(row), values.get(f"number_{row}", "")
            taken += 1
            if lot is None and number:
                self.add_error(f"number_{row}", f"There is no lot {number} here of a material in use: check its number.")
            elif lot is None:
                self.add_error(f"lot_{row}", "Say which lot it was taken from.")
            elif lot.material.measure == Material.Measure.GRAMS and values.get(f"unit_{row}") not in GRAMS_PER:
                self.add_error(f"unit_{row}", f"{lot.material} is kept in grams: choose the unit again.")
        if not taken and not self.errors:
            self.add_error(None, "No line has an amount: type what was taken.")
        return values

    def _lot(self, row: int) -> Lot | None:
        values = self.cleaned_data
        return self._offered.called(values.get(f"lot_{row}", ""), number_said(values.get(f"number_{row}", "")))

    def lines(self) -> list[UseLine]:
        """Return what was taken."""
        values = self.cleaned_data
        found = [(row, self._lot(row)) for row in range(self._count) if values[f"amount_{row}"] is not None]
        return [
            UseLine(lot, _amount(values, f"amount_{row}", f"unit_{row}", lot.material), values[f"reason_{row}"])
            for row, lot in found
            if lot is not None
        ]


def number_said(text: str) -> str:
    """Return the number of a lot as it is typed: ``31``, ``lot 31``."""
    return text.casefold().removeprefix("lot").strip().lstrip("0")


def _lot_words(lot: Lot, unit: str, today: date) -> str:
    irregular = lot.irregular_on(today)
    state = f", {Irregular(irregular).label}" if irregular else ""
    return f"{lot}: {held_words(lot, unit)}, {best_before_words(lot, today)}{state}"


def first_lines(proposals: Sequence[Proposal], unit: str) -> dict[str, Any]:
    """Return the lines a proposal begins with, as the form shows them."""
    takes = [take for proposal in proposals for take in proposal.takes]
    now: dict[str, Any] = {}
    for row, (lot, amount) in enumerate(takes):
        is_counted = lot.material.measure == Material.Measure.PIECES
        shown = amount if is_counted else amount / GRAMS_PER[unit]
        now |= {f"lot_{row}": str(lot.pk), f"amount_{row}": trimmed(shown), f"unit_{row}": _PIECES if is_counted else unit}
    return now
