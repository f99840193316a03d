"""The forms of the workshop's own pages."""

from decimal import Decimal
from typing import Any

from django import forms

from curehouse.web.forms.choices import CURRENCIES, OTHER_CURRENCY, time_zone_choices
from curehouse.web.forms.door import HouseholdFields
from curehouse.web.forms.fields import HouseForm, MassField, NameField, NumberField, StepField, TextField, WholeField, required
from curehouse.web.forms.offers import MoneyField
from curehouse.workshops.models import Scale, Workshop
from curehouse.workshops.roles import Reach
from curehouse.workshops.services.turn_days import MOST_TURN_EVERY, MOST_TURN_FOR

# What the house weighs when it works out what to order.
MONEY = {
    "late_batch_cost": ("What a batch that waits costs", "A batch that waits"),
    "late_day_cost": ("What a day of waiting costs", "Each day that it waits"),
    "order_work_cost": ("What the work of an order costs", "The work of an order"),
}
# How often bars are turned, and for how long.
TURNING = ("turn_every_days", "turn_for_days")


class PreferencesForm(HouseholdFields):
    """Name, units, time zone, currency, round days, the morning, and what waiting and ordering cost."""

    field_order = (
        "workshop_name",
        "unit",
        "currency",
        "currency_other",
        "time_zone",
        "round_days",
        "morning_at",
        *TURNING,
        *MONEY,
    )

    morning_at = forms.TimeField(
        label="Morning",
        help_text="When the day's digest is written.",
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "The morning is not a time: type hours and minutes, like 06:30."}
        | required("The morning", "type a time, like 06:30"),
    )

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        known = workshop.currency in CURRENCIES
        now = {
            "workshop_name": workshop.name,
            "unit": workshop.unit,
            "time_zone": workshop.time_zone,
            "round_days": [str(day) for day in workshop.round_days],
            "morning_at": workshop.morning_at,
            "currency": workshop.currency if known else OTHER_CURRENCY,
            "currency_other": "" if known else workshop.currency,
            **{name: getattr(workshop, name) for name in (*TURNING, *MONEY)},
        }
        super().__init__(*args, initial=now, **kwargs)
        self.fields["time_zone"].choices = time_zone_choices(workshop.time_zone)
        self.fields["turn_every_days"] = WholeField(
            what="How often bars are turned",
            least=1,
            most=MOST_TURN_EVERY,
            required=False,
            label="Every so many days",
            help_text="Leave it empty, and nobody is reminded.",
        )
        self.fields["turn_for_days"] = WholeField(
            what="For how long bars are turned", least=1, most=MOST_TURN_FOR, label="In the first days of the cure"
        )
        for name, (what, label) in MONEY.items():
            self.fields[name] = MoneyField(what=what, label=label, workshop=workshop, required=False)

    def changes(self) -> dict[str, Any]:
        """Return what was chosen, by the names the flow knows."""
        values = self.cleaned_data
        return {
            "name": values["workshop_name"],
            "round_days": [int(day) for day in values["round_days"]],
            **{name: values[name] for name in ("unit", "time_zone", "currency", "morning_at", *TURNING, *MONEY)},
        }


class ReadyRuleForm(HouseForm):
    """When a bar counts as dry enough, and when as too soft."""

    min_days = WholeField(
        what="The minimum age", least=1, most=729, label="Minimum age in days", help_text="Counted from the cut; 28 is usual."
    )
    weekly_loss_limit_pct = NumberField(
        what="The weekly loss",
        above=Decimal(0),
        most=Decimal(10),
        label="Weekly loss at most, in %",
        help_text="What a bar may still lose in a week, of its weight now; 0.5 to 1 is usual.",
    )
    latest_day = WholeField(
        what="The latest day",
        least=2,
        most=730,
        label="Latest day",
        help_text="Still losing after it, a batch is called too soft; 56 is usual.",
    )
    water_left_limit_pct = NumberField(
        what="The water left",
        above=Decimal(0),
        most=Decimal("99.99"),
        places=2,
        required=False,
        label="Water left at most, in %",
        help_text="Of the water that went in. Leave it empty for no such limit.",
    )

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        now = {name: getattr(workshop, name) for name in self.base_fields}
        super().__init__(*args, initial=now, **kwargs)

    def changes(self) -> dict[str, Any]:
        """Return what was chosen, by the names the flow knows."""
        return dict(self.cleaned_data)


class CheckRuleForm(HouseForm):
    """How this maker checks a batch's alkalinity, and by which limit of their own."""

    check_method = TextField(
        what="The method", longest=120, required=False, label="Your method", help_text="What you test with, and how."
    )
    check_limit = TextField(
        what="The limit",
        longest=200,
        required=False,
        label="Your limit",
        help_text="When a batch passes, written so that somebody else would judge as you do.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        now = {name: getattr(workshop, name) for name in self.base_fields}
        super().__init__(*args, initial=now, **kwargs)

    def changes(self) -> dict[str, Any]:
        """Return what was written, by the names the flow knows."""
        return dict(self.cleaned_data)


class ScaleForm(HouseForm):
    """A scale: what it is called, and the smallest difference it shows."""

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"] = NameField(what="The scale's name", longest=80, label="Name", help_text="As you call it.")
        self.fields["step_g"] = StepField(
            unit=unit, what="The scale's step", label=f"Step in {unit}", help_text="The smallest difference it shows."
        )


class ScaleChangeForm(ScaleForm):
    """A scale's name and step, as they are."""

    def __init__(self, *args: Any, unit: str, scale: Scale, **kwargs: Any) -> None:
        self.scale = scale
        super().__init__(*args, unit=unit, initial={"name": scale.name, "step_g": scale.step_g}, **kwargs)

    def clean(self) -> dict[str, Any]:
        """Take a step that stands as it was shown for the same, though ounces are shown rounded."""
        values = super().clean()
        if self.data.get("step_g") == self.fields["step_g"].prepare_value(self.scale.step_g):
            values["step_g"] = self.scale.step_g
        return values


class ScaleCheckForm(HouseForm):
    """A known weight, and what the scale showed for it."""

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["test_weight_g"] = MassField(unit=unit, what="The test weight", label=f"Test weight in {unit}")
        self.fields["shown_g"] = MassField(unit=unit, what="The weight shown", label=f"The scale shows, in {unit}")


class TareForm(HouseForm):
    """What stands on a scale and can be forgotten."""

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"] = NameField(
            what="The tare's name", longest=80, label="Name", help_text="Such as tray: you are asked about it by this name."
        )
        self.fields["weight_g"] = MassField(unit=unit, what="The tare's weight", label=f"Weight in {unit}")


class DeviceForm(HouseForm):
    """A device that is to be let in."""

    name = NameField(
        what="The device's name", longest=80, label="Device's name", help_text="Such as shed tablet: you tell it by this name."
    )
    reach = forms.ChoiceField(
        label="It may do",
        choices=Reach.choices,
        initial=Reach.WEIGHS,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose from the list."} | required("How far it reaches", "choose one"),
    )
