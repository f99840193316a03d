"""Fields of the storeroom: an amount in a unit people buy in, a day, a price."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from curehouse.common.units import GRAM, GRAMS_PER, LARGEST_G, SMALLEST_G
from curehouse.web.forms.fields import HouseForm, NumberField, TextField, required
from curehouse.workshops.models import Workshop
from inventory.models import Material

_UNITS = {GRAM: ("g", "kg"), "oz": ("oz", "lb")}
_FIRST_YEAR, _LAST_YEAR = 2000, 2100


class DayField(forms.CharField):
    """A day of the calendar."""

    def __init__(self, *, what: str, **kwargs: Any) -> None:
        self.what = what
        super().__init__(error_messages=required(what, "choose a day"), **kwargs)
        self.widget = forms.DateInput(attrs={"type": "date"})
        self.widget.is_required = self.required

    def to_python(self, value: Any) -> date | None:
        """Return the day, or None where nothing was typed."""
        text = super().to_python(value)
        if text in self.empty_values:
            return None
        try:
            day = date.fromisoformat(text)
        except ValueError:
            day = None
        if day is None or not _FIRST_YEAR <= day.year <= _LAST_YEAR:
            raise ValidationError(f"{self.what} is not a day: choose one, like 2026-03-10.")
        return day

    def prepare_value(self, value: Any) -> Any:
        """Show a day as a browser's own field takes it."""
        return value.isoformat() if isinstance(value, date) else value


def unit_field(workshop: Workshop) -> forms.ChoiceField:
    """Return the choice of the unit an amount is typed in."""
    return forms.ChoiceField(
        label="Unit",
        choices=[(unit, unit) for unit in _UNITS[workshop.unit]],
        error_messages=required("The unit", "choose it") | {"invalid_choice": "Choose the unit from the list."},
    )


class AmountForm(HouseForm):
    """An amount of a material, in the unit it is measured in; ``amount`` of the cleaned data is grams or pieces."""

    amount_label = "Amount"
    amount_what = "The amount"
    least: Decimal | None = Decimal(0)
    most: Decimal = LARGEST_G

    def __init__(self, *args: Any, workshop: Workshop, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.material = material
        self.is_counted = material.measure == Material.Measure.PIECES
        label = f"{self.amount_label}, pieces" if self.is_counted else self.amount_label
        self.fields["amount"] = NumberField(what=self.amount_what, above=self.least, most=self.most, label=label)
        if not self.is_counted:
            self.fields["unit"] = unit_field(workshop)
        self.order_fields(["amount", "unit"])

    def clean(self) -> dict[str, Any]:
        """Turn what was typed into grams; pieces stay as they are."""
        values = super().clean() or {}
        amount = values.get("amount")
        if amount is not None and not self.is_counted and "unit" in values:
            values["amount"] = in_grams(amount, values["unit"])
        return values


def in_grams(amount: Decimal, unit: str) -> Decimal:
    """Return an amount in grams, to the milligram."""
    return (amount * GRAMS_PER[unit]).quantize(SMALLEST_G)


class ReasonField(TextField):
    """Why something was done, in a line."""

    def __init__(self, *, label: str = "Why", **kwargs: Any) -> None:
        super().__init__(what="The reason", longest=400, label=label, **kwargs)
