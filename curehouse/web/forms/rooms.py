"""The forms of rooms and of the log of their air."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from curehouse.curing.models import Room, RoomReading
from curehouse.curing.services.room_log import LONGEST_REASON, AirEntry, celsius_of
from curehouse.curing.services.rooms import LONGEST_NAME
from curehouse.web.access import Visit
from curehouse.web.forms.fields import HouseForm, MomentField, NameField, NumberField, TextField, required
from curehouse.workshops.models import Workshop

CELSIUS, FAHRENHEIT = "c", "f"
_NOT_LISTED = {"invalid_choice": "This is not in the list any more: choose another one."}


class RoomForm(HouseForm):
    """A room's name."""

    name = NameField(
        what="The room's name", longest=LONGEST_NAME, label="Name", help_text="As you call it, such as Drying room."
    )


def room_field(workshop: Workshop, *, label: str) -> forms.ModelChoiceField:
    """Return a field that chooses one of the rooms."""
    rooms = Room.objects.within(workshop).order_by("pk")
    return forms.ModelChoiceField(
        rooms, label=label, empty_label=None, error_messages=required("The room", "choose one") | _NOT_LISTED
    )  # fmt: skip


class AirForm(HouseForm):
    """What a thermometer and a hygrometer show."""

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["room"] = room_field(workshop, label="Room")
        self.fields["humidity_pct"] = NumberField(what="The humidity", places=2, label="Humidity, %")
        self.fields["temperature"] = NumberField(what="The temperature", places=2, required=False, label="Temperature")
        self.fields["temperature"].widget.attrs |= {"inputmode": "text"}
        self.fields["degrees"] = forms.ChoiceField(
            label="In",
            choices=[(CELSIUS, "°C"), (FAHRENHEIT, "°F")],
            initial=FAHRENHEIT if workshop.unit == Workshop.Unit.OUNCE else CELSIUS,
            widget=forms.RadioSelect,
            error_messages={"invalid_choice": "Choose °C or °F."} | required("The unit", "choose °C or °F"),
        )
        self.fields["moment"] = MomentField(
            what="The time", time_zone=workshop.time_zone, required=False, label="When", help_text="Empty means now."
        )

    def clean_humidity_pct(self) -> Decimal:
        """Refuse what is no relative humidity."""
        value = self.cleaned_data["humidity_pct"]
        if not 0 <= value <= 100:
            raise ValidationError("The humidity lies between 0 and 100 %: check the figure.")
        return value

    def entry(self, visit: Visit) -> AirEntry:
        """Return what was typed, in °C."""
        values = self.cleaned_data
        celsius, typed = values["temperature"], ""
        if celsius is not None and values["degrees"] == FAHRENHEIT:
            typed, celsius = f"{celsius.normalize():f} °F", celsius_of(celsius)
        return AirEntry(
            moment=values["moment"] or visit.at,
            humidity_pct=values["humidity_pct"],
            temperature_c=celsius,
            source=RoomReading.Source.FORM,
            key=f"form:{self.data.get('form_key', '')[:40]}",
            typed=typed,
        )


class WithdrawForm(HouseForm):
    """Why a reading is withdrawn."""

    reason = TextField(what="The reason", longest=LONGEST_REASON, label="Why", help_text="Such as: held in the hand.")


class RackRoomForm(HouseForm):
    """Where a rack stands, and since when."""

    since = forms.DateField(
        required=False,
        label="Since",
        help_text="The day it was carried there. Empty means it has always stood there.",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        error_messages={"invalid": "This is no day: choose it, like 2026-03-10."},
    )

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["room"] = room_field(workshop, label="Room")
