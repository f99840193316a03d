"""What is said and done about a lot."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from curehouse.common.errors import DomainError
from curehouse.common.units import LARGEST_G
from curehouse.web.forms.amounts import AmountForm, DayField, ReasonField
from curehouse.web.forms.fields import HouseForm, MomentField, NameField, NumberField, TextField, required
from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material
from inventory.services.lots import LotPapers
from inventory.services.papers import MOST_BYTES, Paper, look_through


class _MovedForm(AmountForm):
    """An amount that came to a lot or left it, when, and why."""

    reason_label = "Why"
    needs_reason = True

    def __init__(self, *args: Any, workshop: Workshop, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, workshop=workshop, material=material, **kwargs)
        self.fields["reason"] = ReasonField(label=self.reason_label, required=self.needs_reason)
        self.fields["moment"] = MomentField(
            what="The time", time_zone=workshop.time_zone, required=False, label="When", help_text="Empty means now."
        )


class WriteOffForm(_MovedForm):
    """What was spilt, spoilt or thrown away."""

    reason_label = "What became of it"


class GiveBackForm(_MovedForm):
    """What went back to the supplier."""


class MoreForm(_MovedForm):
    """More of the same lot that came in."""

    reason_label = "Note"
    needs_reason = False


class RulingForm(HouseForm):
    """A person's word on a lot."""

    why = ReasonField()

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = {
            Lot.Standing.RELEASED: "released: may be used",
            Lot.Standing.QUARANTINE: "in quarantine: waits for its papers or a test",
            Lot.Standing.REJECTED: "rejected: not to be used",
        }
        self.fields["standing"] = forms.ChoiceField(
            label="It is now",
            widget=forms.RadioSelect,
            choices=[(value, word) for value, word in words.items() if value != lot.standing],
            error_messages=required("What it is now", "choose one") | {"invalid_choice": "Choose what it is from the list."},
        )
        self.order_fields(["standing", "why"])


class PapersForm(HouseForm):
    """What a lot's papers say, corrected."""

    supplier_lot = TextField(what="The supplier's lot number", longest=120, required=False, label="Supplier’s lot number")
    best_before = DayField(what="The best-before", required=False, label="Best before")
    received_on = DayField(
        what="The day of receipt",
        required=False,
        label="Received on",
        help_text="Not later than what was first used of it or counted.",
    )

    def __init__(self, *args: Any, lot: Lot, workshop: Workshop, **kwargs: Any) -> None:
        self.is_counted = lot.material.measure == Material.Measure.PIECES
        self._unit_cost, cost = lot.unit_cost, lot.unit_cost
        if cost is not None and not self.is_counted:
            cost *= 1000
        now = {"supplier_lot": lot.supplier_lot, "best_before": lot.best_before, "cost": cost, "received_on": lot.received_on}
        super().__init__(*args, initial=now, **kwargs)
        self.fields["cost"] = NumberField(
            what="The cost",
            most=LARGEST_G,
            places=6,
            required=False,
            label=f"Cost of a {'piece' if self.is_counted else 'kilogram'}, {workshop.currency}",
        )
        self.fields["why"] = ReasonField(label="Why it is corrected")

    def papers(self) -> LotPapers:
        """Return what the papers say now; a cost that was left as shown stays exact."""
        values, cost = self.cleaned_data, self.cleaned_data["cost"]
        if "cost" not in self.changed_data:
            cost = self._unit_cost
        elif cost is not None and not self.is_counted:
            cost /= 1000
        return LotPapers(values["supplier_lot"], values["best_before"], cost, values["received_on"])


class ValueForm(HouseForm):
    """A figure of a lot's certificate, or of a measurement."""

    name = NameField(what="The value's name", longest=80, label="What", help_text="Such as purity, or fat of the milk.")
    value = NumberField(what="The value", most=Decimal(99_999_999), places=5, label="Value")
    unit = TextField(what="The unit", longest=40, required=False, label="Unit", help_text="Such as % or mg KOH/g.")
    # The figure somebody said the certificate really has; another one is asked about again.
    value_confirmed = forms.CharField(required=False, widget=forms.HiddenInput)

    @property
    def figure(self) -> str:
        """Return what is asked about: the figure with its name, as it is typed."""
        return f"{self.data.get('name', '').strip()} {self.data.get('value', '').strip()}"

    @property
    def is_as_confirmed(self) -> bool:
        """Whether a person said that the certificate really has this figure."""
        return self.data.get("value_confirmed", "") == self.figure

    @property
    def question(self) -> str:
        """Return what a person confirms of a figure that is asked about; nothing where none is."""
        return self.figure if self.refusal is not None and self.refusal.code == "value_doubtful" else ""

    def given(self) -> dict[str, Any]:
        """Return the figure as it is recorded, and whether it was confirmed."""
        return {**self.cleaned_data, "value_confirmed": self.cleaned_data["value_confirmed"] == self.figure}


class PaperForm(HouseForm):
    """A paper of a lot, as a file."""

    file = forms.FileField(
        label="A paper",
        help_text="PDF, picture, XLSX, CSV or text, up to 10 MB.",
        error_messages={"empty": "The file is empty: choose it again.", **required("The file", "choose it")},
    )
    without_prices = forms.BooleanField(
        required=False,
        label="It shows no prices",
        help_text="Then helpers can open it too. Left empty, only those who see costs can.",
    )

    def clean_file(self) -> Paper:
        """Return the file, looked through: here, before the transaction in which it is kept begins."""
        given: UploadedFile = self.cleaned_data["file"]
        try:
            # One byte more than is taken tells that there is too much.
            return look_through(given.name or "", given.read(MOST_BYTES + 1))
        except DomainError as error:
            raise forms.ValidationError(error.message, code=error.code) from error


class TakeBackForm(HouseForm):
    """Why a movement never happened."""

    reason = ReasonField(label="Why it is taken back")


class LiftForm(HouseForm):
    """Why a batch may leave all the same."""

    why = ReasonField(label="Why the bars may leave all the same")
