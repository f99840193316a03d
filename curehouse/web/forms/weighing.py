"""Forms about weighings: a weight from the scale, a better figure, a reason."""

import uuid
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from curehouse.curing.models import Reading
from curehouse.curing.services.readings import ReadingEntry
from curehouse.web.forms.fields import HouseForm, MassField, NumberField, TextField
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.weights import step
from curehouse.workshops.models import Scale, Workshop

_LARGEST_ROW = 2**63 - 1
_INCOMPLETE = "This page is incomplete: load it again and type the weight anew."
_NO_FIRMNESS = [("", "not noted")]


class SentIdField(forms.UUIDField):
    """The id under which a weighing is sent, so that it is written once."""

    widget = forms.HiddenInput
    default_error_messages = {"invalid": _INCOMPLETE, "required": _INCOMPLETE}


class RowField(forms.IntegerField):
    """The number of a row the page knew of, or nothing."""

    widget = forms.HiddenInput
    default_error_messages = {"invalid": _INCOMPLETE}

    def __init__(self) -> None:
        super().__init__(required=False, min_value=1, max_value=_LARGEST_ROW)
        for bound in self.validators:
            bound.message = _INCOMPLETE


class StampField(forms.CharField):
    """The moment the device stamped on a weighing, with its offset; empty where it made none."""

    widget = forms.HiddenInput

    def to_python(self, value: Any) -> datetime | None:
        """Return the moment, or None where none came."""
        text = super().to_python(value)
        if text in self.empty_values:
            return None
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            moment = None
        if moment is None or moment.tzinfo is None:
            raise ValidationError("The moment of this weighing cannot be read: load the page again and type the weight anew.")
        return moment


def scale_words(scale: Scale, *, unit: str, calendar: Calendar) -> str:
    """Return a scale with its step and its last check: ``Kitchen scale, step 0.1 g, checked Tue 3 Mar``."""
    checked = f"checked {calendar.day(scale.last_check_at)}" if scale.last_check_at else "not checked yet"
    return f"{scale.name}, step {step(scale, unit)}, {checked}"


def _plain(text: str) -> str:
    """Return the figure as typed, with a point: what swapped digits are looked for in."""
    return text.strip().replace("\u00a0", "").removeprefix("+").replace(",", ".")


class WeighForm(HouseForm):
    """One weighing. The device makes its id and its moment; without a script the house does."""

    # Set where somebody else weighed the bar since the page was shown.
    overtaken = False

    client_id = SentIdField()
    moment = StampField(required=False)
    seen = RowField()
    again = RowField()
    firmness = forms.ChoiceField(
        label="Firmness", required=False, choices=[*_NO_FIRMNESS, *Reading.Firmness.choices], widget=forms.RadioSelect
    )
    dent_mm = NumberField(label="Dent in mm", what="The dent", above=Decimal(-1), most=Decimal(99), places=2, required=False)
    dent_tool = TextField(
        label="Needle and load",
        what="Needle and load",
        longest=80,
        required=False,
        help_text="What made the dent, such as 2 mm needle, 100 g.",
    )

    def __init__(self, *args: Any, workshop: Workshop, scales: Sequence[Scale], calendar: Calendar, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.unit = workshop.unit
        self._scales = {str(scale.pk): scale for scale in scales}
        self.fields["weight"] = MassField(label="Weight", unit=workshop.unit, what="The weight")
        self.fields["scale"] = forms.ChoiceField(
            label="Scale",
            required=False,
            choices=[
                *((pk, scale_words(scale, unit=workshop.unit, calendar=calendar)) for pk, scale in self._scales.items()),
                ("", "another scale, not on the list"),
            ],
            error_messages={"invalid_choice": "This scale is not in use any more: choose another."},
        )

    def entry(self, *, at: datetime) -> ReadingEntry:
        """Return the weighing that was typed; *at* stands in for a moment the device did not stamp."""
        data = self.cleaned_data
        return ReadingEntry(
            client_id=data["client_id"],
            moment=data["moment"] or at,
            weight_g=data["weight"],
            scale=self._scales.get(data["scale"]),
            source=Reading.Source.ROUND,
            firmness=data["firmness"],
            dent_mm=data["dent_mm"],
            dent_tool=data["dent_tool"] if data["dent_mm"] is not None else "",
            typed=_plain(self["weight"].data),
            unit=self.unit,
        )


class CorrectForm(HouseForm):
    """A better figure for a weighing that stands already."""

    client_id = SentIdField()

    def __init__(self, *args: Any, workshop: Workshop, reading: Reading, **kwargs: Any) -> None:
        super().__init__(*args, initial={"client_id": uuid.uuid4()}, **kwargs)
        self._reading, self._unit = reading, workshop.unit
        self.fields["weight"] = MassField(label="What the scale showed", unit=workshop.unit, what="The weight")

    def clean_weight(self) -> Decimal:
        """Refuse the very weight that stands: it would be a correction of nothing."""
        weight_g = self.cleaned_data["weight"]
        if weight_g == self._reading.weight_g:
            raise ValidationError("That is the weight on record: type another one, or leave it as it is.")
        return weight_g

    def entry(self) -> ReadingEntry:
        """Return the weighing as it should have been written, at the moment it was made."""
        return corrected(
            self._reading,
            weight_g=self.cleaned_data["weight"],
            client_id=self.cleaned_data["client_id"],
            typed=_plain(self["weight"].data),
            unit=self._unit,
        )


def corrected(reading: Reading, *, weight_g: Decimal, client_id: uuid.UUID, typed: str = "", unit: str = "g") -> ReadingEntry:
    """Return *reading* with another weight: same bar, moment, scale and firmness."""
    return ReadingEntry(
        client_id=client_id,
        moment=reading.moment,
        weight_g=weight_g,
        scale=reading.scale,
        source=Reading.Source.PAGE,
        firmness=reading.firmness,
        dent_mm=reading.dent_mm,
        dent_tool=reading.dent_tool,
        typed=typed,
        unit=unit,
    )


class TakeForm(HouseForm):
    """Taking the weight the house guessed."""

    client_id = SentIdField()


class StrikeForm(HouseForm):
    """Why a weighing counts no more."""

    reason = TextField(
        label="Why it counts no more",
        what="The reason",
        longest=200,
        help_text="Such as: wrong batch on the scale. The row stays on record, crossed out.",
    )


class GoneForm(HouseForm):
    """What became of a sample bar."""

    why = TextField(
        label="What became of it", what="What became of the bar", longest=200, help_text="Such as: sold early, broken, lost."
    )
