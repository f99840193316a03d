"""What is seen at a cut: said with it, or later."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.units import parse_number
from curehouse.making.models import CutNote
from curehouse.making.services import LONGEST_CUT_NOTE, CutSeen
from curehouse.web.forms.fields import HouseForm, MassField, TextField
from curehouse.workshops.models import Workshop

NOTHING_SEEN = {"gel": "", "trim_g": None, "cut_note": ""}


class _TrimField(MassField):
    """The weight of the trimmings; there may have been none."""

    def read(self, text: str) -> Decimal:
        """Return the grams that *text* spells, 0 where there were none."""
        return Decimal(0) if parse_number(text, field="", what=self.what) == 0 else super().read(text)


def seen_fields(unit: str) -> dict[str, forms.Field]:
    """Return the fields for what is seen at a cut; all of them may stay empty."""
    return {
        "gel": forms.ChoiceField(
            label="Gel",
            choices=[("", "nobody looked"), *CutNote.Gel.choices],
            required=False,
            error_messages={"invalid_choice": "The gel is seen all through, in part, or not: choose one from the list."},
            help_text="A darker, translucent core. Harmless, but not the same as without it.",
        ),
        "trim_g": _TrimField(
            unit=unit,
            what="The weight of the trimmings",
            required=False,
            label=f"Trimmings, {unit}",
            help_text="All that was cut off; 0 if there were none.",
        ),
        "cut_note": TextField(
            what="The note on the cut",
            longest=LONGEST_CUT_NOTE,
            required=False,
            label="Note on the cut",
            widget=forms.Textarea(attrs={"rows": 2}),
        ),
    }


def seen_in(values: Mapping[str, Any]) -> CutSeen:
    """Return what was seen, by the values of a form."""
    return CutSeen(values["gel"], values["trim_g"], values["cut_note"])


class CutSeenForm(HouseForm):
    """What is seen at a cut, said after it; begun with what was said last."""

    def __init__(self, *args: Any, workshop: Workshop, newest: CutNote | None, **kwargs: Any) -> None:
        begin = {} if newest is None else {"gel": newest.gel, "trim_g": newest.trim_g, "cut_note": newest.note}
        super().__init__(*args, initial=begin, **kwargs)
        self.fields |= seen_fields(workshop.unit)
