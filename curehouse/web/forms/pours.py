"""A pour at the table: begun, told step by step, stopped."""

import uuid
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.units import LARGEST_G, to_grams
from curehouse.making.pouring.saying import COLDEST_C, HOTTEST_C
from curehouse.making.pouring.table import Kind
from curehouse.web.forms.fields import HouseForm, MassField, NumberField, TextField
from curehouse.workshops.models import Scale, Workshop
from inventory.models import Lot

STANDS, PART = "stands", "part"


class BeginPourForm(HouseForm):
    """How much of the oils a pour is of; the run it is of has its own size."""

    run = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        size = MassField(unit=workshop.unit, what="The weight of the oils", label=f"Oils, {workshop.unit}")
        self.fields = {"fats_g": size, **self.fields}


class StepForm(HouseForm):
    """What is said of one step; which of its fields counts, the step says."""

    step = forms.CharField(max_length=20, widget=forms.HiddenInput, error_messages={"required": "Load the page again."})
    step_id = forms.UUIDField(
        widget=forms.HiddenInput, error_messages={"required": "Load the page again.", "invalid": "Load the page again."}
    )
    corrects = forms.IntegerField(required=False, widget=forms.HiddenInput, error_messages={"invalid": "Load the page again."})
    mend = forms.CharField(required=False, widget=forms.HiddenInput)
    answer = forms.CharField(required=False, widget=forms.HiddenInput)
    words = TextField(what="The note", longest=400, required=False, label="Note")
    ticked = forms.BooleanField(required=False)

    def __init__(
        self, *args: Any, workshop: Workshop, lots: Sequence[tuple[str, str]] = (), scales: Iterable[Scale] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self._unit = workshop.unit
        invalid = {"invalid_choice": "Choose from the list."}
        self.fields["lot"] = forms.ChoiceField(
            label="Lot", required=False, choices=[*lots, ("", "of no lot")], error_messages=invalid
        )
        self.fields["number"] = TextField(what="The lot's number", longest=20, required=False, label="Or its number")
        self.fields["number"].widget.attrs |= {"inputmode": "numeric", "autocomplete": "off"}
        self.fields["amount"] = NumberField(
            what="The weight", above=Decimal(-1), most=LARGEST_G, required=False, label="The scale shows"
        )
        self.fields["celsius"] = NumberField(
            what="The temperature", above=COLDEST_C - 1, most=HOTTEST_C, places=1, required=False, label="Degrees, °C"
        )
        choices = [(f"{one.pk}", f"{one.name} ({one.step_g.normalize():f} g)") for one in scales]
        self.fields["scale"] = forms.ChoiceField(
            label="Scale", required=False, choices=choices or [("", "none written down")], error_messages=invalid
        )

    def clean(self) -> dict[str, Any]:
        """Ask that what stands with the cautions is so."""
        values = super().clean() or {}
        if values.get("step") == Kind.CAUTION and not values.get("ticked"):
            self.add_error("ticked", "Tick it once it is so: nothing is weighed before.")
        return values

    @property
    def amount_g(self) -> Decimal | None:
        """Return what the scale shows, in grams."""
        amount = self.cleaned_data["amount"]
        return None if amount is None else to_grams(amount, self._unit)

    @property
    def step_id_shown(self) -> str:
        """Return the id of the step: as it was sent, so that the same is there once, or a new one."""
        return str(self["step_id"].value() or uuid.uuid4())


class StopPourForm(HouseForm):
    """Why a pour is stopped, whether lye and fats had met, and what is spoilt."""

    why = TextField(what="The reason", longest=300, label="Why is it stopped?")
    outcome = forms.ChoiceField(
        label="What became of it",
        widget=forms.RadioSelect,
        error_messages={"required": "Say what became of it: choose one.", "invalid_choice": "Choose one from the list."},
    )
    spoilt = forms.MultipleChoiceField(
        label="What is spoilt, and written off",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Choose from what was weighed."},
    )

    def __init__(self, *args: Any, weighed: Sequence[tuple[str, str]], is_past_trace: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        met = ("met", "Lye and fats have met: a batch is written, and held until a person lifts it")
        apart = [
            ("apart", "They have not met: what is ticked below is written off, the rest was put back"),
            ("batch", "They have not met, and it is kept as a batch all the same: written, and held"),
        ]
        self.fields["outcome"].choices = [met] if is_past_trace else [met, *apart]
        self.fields["spoilt"].choices = weighed
        if is_past_trace:
            self.fields["outcome"].initial = "met"
        if is_past_trace or not weighed:
            del self.fields["spoilt"]


def lot_said(form: StepForm, lots: Iterable[Lot]) -> Lot | None:
    """Return the lot that a form names: by the number typed or scanned, else as chosen; None of none."""
    number, key = form.cleaned_data.get("number", "").lstrip("#"), form.cleaned_data.get("lot", "")
    if number:
        return next((lot for lot in lots if f"{lot.number}" == number), None)
    return next((lot for lot in lots if f"{lot.pk}" == key), None)
