"""What is typed of a run that is planned: how much, for when, and why it changed."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from curehouse.making.models import Batch
from curehouse.making.services import MOST_BARS
from curehouse.web.forms.amounts import DayField
from curehouse.web.forms.fields import HouseForm, MassField, TextField, WholeField, required
from curehouse.web.forms.formula_lines import two_ways
from curehouse.web.forms.thousands import reads_two_ways
from curehouse.workshops.models import Workshop


def _bars_field() -> WholeField:
    return WholeField(
        what="The number of bars", least=1, most=MOST_BARS, required=False, label="Bars",
        help_text="Empty means as many as its batches gave so far.",
    )  # fmt: skip


class RunForm(HouseForm):
    """A run to be looked at (with GET) or announced (with POST); asked backwards it has no day to pour on yet."""

    bars = _bars_field()
    pour_on = DayField(what="The day of the pour", required=False, label="Pour on")
    wanted_on = DayField(what="The day the bars are wanted", required=False, label="Bars wanted by")
    note = TextField(what="The note", required=False, longest=4000, label="Note")

    def __init__(self, *args: Any, workshop: Workshop, is_planned: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_planned = is_planned
        size = MassField(unit=workshop.unit, what="The weight of the oils", label=f"Oils, {workshop.unit}")
        self.fields = {"fats_g": size, **self.fields}

    def clean_fats_g(self) -> Decimal:
        """Refuse a figure whose mark may be one of thousands: it is ten times, or a thousandth, of what is meant."""
        typed = self["fats_g"].value() or ""
        if isinstance(typed, str) and reads_two_ways(typed):
            raise ValidationError(two_ways(typed))
        return self.cleaned_data["fats_g"]

    def clean(self) -> dict[str, Any]:
        """Ask for a day where none was typed, and for the day of the pour where the run is to be planned."""
        values = super().clean()
        if "pour_on" in values and values["pour_on"] is None and "wanted_on" in values:
            if self.is_planned:
                self.add_error("pour_on", "The day of the pour is missing: choose a day.")
            elif values["wanted_on"] is None:
                self.add_error("pour_on", "Say on which day you pour, or by which day you want the bars.")
        return values

    @property
    def fats_g(self) -> Decimal:
        """Return the oils in grams."""
        return self.cleaned_data["fats_g"]


class MoveForm(HouseForm):
    """Another day for a run."""

    pour_on = DayField(what="The day of the pour", label="Pour on")
    why = TextField(what="The reason", longest=400, required=False, label="Why")


class PouredForm(HouseForm):
    """The batch that came of a run."""

    def __init__(self, *args: Any, batches: Iterable[Batch], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["batch"] = forms.ChoiceField(
            label="The batch", choices=[(str(batch.pk), str(batch)) for batch in batches],
            error_messages={"invalid_choice": "Choose a batch from the list."} | required("The batch", "choose it"),
        )  # fmt: skip


class RunPlacesForm(HouseForm):
    """How many bars places are kept for."""

    bars = _bars_field()


class CallOffRunForm(HouseForm):
    """Why a run is called off."""

    why = TextField(what="The reason", longest=400, label="Why is it called off?")
