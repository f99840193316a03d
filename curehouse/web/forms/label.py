"""What a label weight is to satisfy; the weight itself is worked out, and typed nowhere."""

from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.units import GRAM, to_grams
from curehouse.curing.labels import PROBABILITIES, SHELF_MONTHS, LabelAsked
from curehouse.curing.models import LabelWeight
from curehouse.web.forms.amounts import DayField
from curehouse.web.forms.fields import HouseForm, required
from curehouse.workshops.models import Workshop

# Labels that are usual on bars: every 5 g, every quarter of an ounce.
_WANTED = {GRAM: (Decimal(5), 4, 60), "oz": (Decimal("0.25"), 4, 48)}


def months_words(months: int) -> str:
    """Return up to when a label has to hold."""
    if months == 0:
        return "on the day it is packed"
    return f"after {months} {'month' if months == 1 else 'months'} on the shelf"


def _choice(what: str, **kwargs: Any) -> forms.ChoiceField:
    messages = required(what, "choose it from the list") | {"invalid_choice": f"{what} is not in the list: choose from it."}
    return forms.ChoiceField(error_messages=messages, **kwargs)


class LabelForm(HouseForm):
    """The rule, the moment and the probability; ``seen`` is the basis of the figure that was looked at."""

    rule = _choice("The rule", label="By the rule", choices=LabelWeight.Rule.choices)
    wrap = _choice("The wrap", label="Sold", choices=LabelWeight.Wrap.choices)
    packed_on = DayField(what="The day of packing", label="Packed on")
    shelf_months = _choice(
        "The moment", label="It holds", choices=[(str(months), months_words(months)) for months in SHELF_MONTHS]
    )
    probability = _choice(
        "The probability", label="How surely", choices=[(str(one), f"{100 * one:.0f}\u00a0%") for one in PROBABILITIES]
    )
    seen = forms.CharField(required=False, max_length=100, widget=forms.HiddenInput)

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        step, first, last = _WANTED[workshop.unit]
        labels = [step * number for number in range(first, last + 1)]
        self.fields["wanted"] = forms.ChoiceField(
            label="A label you would like",
            required=False,
            choices=[
                ("", "none"),
                *((str(to_grams(one, workshop.unit)), f"{one.normalize():f} {workshop.unit}") for one in labels),
            ],
            error_messages={"invalid_choice": "The label you would like is not in the list: choose from it."},
        )

    def asked(self) -> LabelAsked:
        """Return what the label is to satisfy."""
        values = self.cleaned_data
        return LabelAsked(
            rule=values["rule"],
            wrap=values["wrap"],
            packed_on=values["packed_on"],
            shelf_months=int(values["shelf_months"]),
            probability=Decimal(values["probability"]),
        )

    @property
    def wanted_g(self) -> float | None:
        """Return the label that would be liked, in grams."""
        wanted = self.cleaned_data.get("wanted")
        return float(wanted) if wanted else None
