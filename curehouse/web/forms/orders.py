"""The forms of orders: what is wanted, when it was sent, what was named, why it is called off."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms

from curehouse.web.forms.amounts import DayField, ReasonField
from curehouse.web.forms.fields import HouseForm, WholeField
from curehouse.web.forms.weighing import RowField
from inventory.models import MOST_PACKS, Offer, OrderLine


class OrderForm(HouseForm):
    """How many packs of each offer; only what was changed on the page is sent on, so that two can write at once."""

    # The order that was shown; empty where none was written.
    order = RowField()

    def __init__(
        self, *args: Any, offers: Sequence[Offer], packs: Mapping[int, int], note: str, order: int | None,
        more: Mapping[int, int] | None = None, **kwargs: Any,
    ) -> None:  # fmt: skip
        now = {f"packs_{offer.pk}": packs.get(offer.pk, 0) + (more or {}).get(offer.pk, 0) for offer in offers}
        super().__init__(*args, initial={**now, "note": note, "order": order}, **kwargs)
        self._offers = offers
        for offer in offers:
            self.fields[f"packs_{offer.pk}"] = WholeField(
                what=f"Packs of {offer.material}", least=0, most=MOST_PACKS, required=False, label=f"Packs of {offer.material}"
            )  # fmt: skip
            self.fields[f"was_{offer.pk}"] = forms.CharField(
                required=False, widget=forms.HiddenInput, initial=packs.get(offer.pk, 0)
            )  # fmt: skip
        self.fields["note"] = forms.CharField(
            label="Note to the supplier", required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=4000,
            error_messages={"max_length": "The note is too long: keep it to 4000 characters."},
        )  # fmt: skip
        self.fields["note_was"] = forms.CharField(required=False, widget=forms.HiddenInput, initial=note)

    def wanted(self) -> dict[int, int]:
        """Return the packs that were changed, by the key of the offer."""
        values = self.cleaned_data
        return {
            offer.pk: packs
            for offer in self._offers
            if str(packs := values[f"packs_{offer.pk}"] or 0) != (values[f"was_{offer.pk}"] or "0")
        }

    def more(self) -> dict[int, int]:
        """Return how many packs more than were shown are wanted, by the key of the offer."""
        values = self.cleaned_data
        typed = {offer.pk: values[f"was_{offer.pk}"] for offer in self._offers}
        was = {key: int(one) if one.isdecimal() else 0 for key, one in typed.items()}
        return {key: packs - was[key] for key, packs in self.wanted().items() if packs > was[key]}

    def note(self) -> str | None:
        """Return the note, or None where it was left as shown."""
        values = self.cleaned_data
        return None if values["note"].split() == values["note_was"].split() else values["note"]


class SendForm(HouseForm):
    """On which day an order was sent, and which day was named."""

    sent_on = DayField(what="The day", label="Sent on")
    promised_on = DayField(
        what="The day",
        required=False,
        label="They named a day",
        help_text="Empty: reckoned by how long they took so far, or as they say.",
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, initial={"sent_on": today}, **kwargs)


class PromiseForm(HouseForm):
    """The day that is named now."""

    promised_on = DayField(what="The day", required=False, label="To come on", help_text="Empty: no day is named any more.")
    why = ReasonField(label="What they said", required=False)


class CallOffForm(HouseForm):
    """What of an order will not come, and why; without *lines* all of it."""

    def __init__(self, *args: Any, lines: Sequence[OrderLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["why"] = ReasonField()
        if not lines:
            return
        choices = [("", "all that is still to come"), *((str(line.pk), line.material.name) for line in lines)]
        self.fields["line"] = forms.ChoiceField(
            label="Called off", choices=choices, required=False,
            error_messages={"invalid_choice": "Choose what is called off from the list."},
        )  # fmt: skip
        self.order_fields(["line", "why"])

    def lines(self) -> list[int] | None:
        """Return the key of the one line, or None for all."""
        line = self.cleaned_data.get("line")
        return [int(line)] if line else None


class PutOffForm(HouseForm):
    """Until when a material is not to be ordered, and why."""

    until = DayField(what="The day", label="Not before", help_text="From that day on it is proposed again where it is needed.")
    why = ReasonField()
