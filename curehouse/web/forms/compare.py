"""Runs that are laid side by side before one of them is planned."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.making.services import MOST_BARS
from curehouse.web.forms.amounts import DayField
from curehouse.web.forms.fields import HouseForm, MassField, WholeField

# So many are looked at at once: more would not stand side by side on a screen.
MOST = 4


class CompareRow(HouseForm):
    """One of the runs; without a formula nothing is asked."""

    def __init__(self, sent: Mapping[str, str] | None, *, number: int, formulas: Sequence[tuple[str, str]], unit: str) -> None:
        super().__init__(sent, prefix=str(number))
        self.fields["version"] = forms.ChoiceField(
            label=f"Formula {number + 1}",
            required=False,
            choices=[("", "none"), *formulas],
            error_messages={"invalid_choice": "This formula is not in use: choose one from the list."},
        )
        self.fields["fats_g"] = MassField(unit=unit, what="The weight of the oils", required=False, label=f"Oils, {unit}")
        self.fields["pour_on"] = DayField(what="The day of the pour", required=False, label="Pour on")
        self.fields["bars"] = WholeField(
            what="The number of bars", least=1, most=MOST_BARS, required=False, label="Bars"
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Ask for size and day where a formula is chosen."""
        values = super().clean()
        if values.get("version"):
            for name, what in (("fats_g", "weight of the oils"), ("pour_on", "day of the pour")):
                if name in values and values[name] is None:
                    self.add_error(name, f"The {what} is missing.")
        return values

    @property
    def is_asked(self) -> bool:
        """Return whether a formula is chosen."""
        return bool(self.cleaned_data.get("version"))

    @property
    def version(self) -> int:
        """Return the key of the version."""
        return int(self.cleaned_data["version"])

    @property
    def fats_g(self) -> Decimal:
        """Return the oils in grams."""
        return self.cleaned_data["fats_g"]

    @property
    def pour_on(self) -> date:
        """Return the day."""
        return self.cleaned_data["pour_on"]


class WantedForm(HouseForm):
    """By which day the bars are wanted, of whichever run."""

    wanted_on = DayField(what="The day the bars are wanted", required=False, label="Bars wanted by")
