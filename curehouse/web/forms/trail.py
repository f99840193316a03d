"""What to look for in the trail: whose deeds, of which day, with which words."""

from collections.abc import Sequence
from datetime import time, timedelta
from typing import Any

from django import forms

from curehouse.common.time import local_moment
from curehouse.web.forms.amounts import DayField
from curehouse.web.forms.fields import HouseForm, TextField
from curehouse.workshops.models import AuditEntry, DeviceToken, Member, Workshop
from curehouse.workshops.queries import AuditEntryQuerySet

LONGEST_WORDS = 120
BY_COMMAND = "shell"
MIDNIGHT = time()


class TrailForm(HouseForm):
    """The filters of the page and of the list that is taken along."""

    day = DayField(what="What was typed", required=False, label="Day")
    q = TextField(
        what="The words",
        longest=LONGEST_WORDS,
        required=False,
        label="Words",
        widget=forms.TextInput(attrs={"type": "search", "enterkeyhint": "search"}),
    )

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.workshop = workshop
        self.fields["who"] = forms.ChoiceField(
            required=False,
            label="Who",
            choices=_people(workshop),
            error_messages={"invalid_choice": "Choose somebody from the list."},
        )
        self.order_fields(["who", "day", "q"])

    def found(self) -> AuditEntryQuerySet:
        """Return the entries that are asked for, newest first; none where a filter cannot be read."""
        rows = AuditEntry.objects.within(self.workshop).newest_first()
        if not self.is_bound:
            return rows
        if not self.is_valid():
            return rows.none()
        values = self.cleaned_data
        if values["who"]:
            rows = rows.by_whom(values["who"])
        if values["day"]:
            zone = self.workshop.time_zone
            ends = [local_moment(day, MIDNIGHT, zone) for day in (values["day"], values["day"] + timedelta(days=1))]
            rows = rows.between(*ends)
        return rows.saying(values["q"]) if values["q"] else rows


def _people(workshop: Workshop) -> Sequence[tuple[str, str]]:
    """Return everybody whose deeds there may be: people who are or were here, devices, the shell."""
    people = Member.objects.ever_within(workshop).by_name()
    named = {f"u{place.user_id}": place.user.name for place in people}
    devices = [(f"d{device.pk}", device.name) for device in DeviceToken.objects.within(workshop).order_by("name", "pk")]
    return [("", "Everybody"), *named.items(), *devices, (BY_COMMAND, "A command of the shell")]
