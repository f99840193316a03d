"""The forms at the door: signing in, and the first run."""

from typing import Any

from django import forms

from curehouse.common.errors import DomainError
from curehouse.common.units import parse_step_g
from curehouse.flows.set_up import SetUpEntry
from curehouse.web.forms.choices import CURRENCY_CHOICES, OTHER_CURRENCY, WEEKDAY_CHOICES, time_zone_choices
from curehouse.web.forms.fields import HouseForm, NameField, TextField, required
from curehouse.workshops.models import Workshop

# Longer ones only cost time to digest.
LONGEST_PASSWORD = 200
LONGEST_CODE = 40
CODE_ATTRS = {"inputmode": "numeric", "autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}


class SignInForm(HouseForm):
    """E-mail address and password."""

    email = TextField(
        what="The e-mail address",
        longest=254,
        label="E-mail address",
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    password = TextField(
        what="The password",
        longest=LONGEST_PASSWORD,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class CodeForm(HouseForm):
    """What the app shows, or a recovery code."""

    code = TextField(what="The code", longest=LONGEST_CODE, widget=forms.TextInput(attrs=CODE_ATTRS))

    def __init__(self, *args: Any, recovery: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if recovery:
            field = self.fields["code"]
            field.label, field.widget = "Recovery code", forms.TextInput(attrs={**CODE_ATTRS, "inputmode": "text"})


class CurrencyFields(HouseForm):
    """A currency from the list, or the code of another."""

    currency = forms.ChoiceField(
        choices=CURRENCY_CHOICES,
        error_messages={"invalid_choice": "Choose a currency from the list."} | required("The currency", "choose one"),
    )
    currency_other = TextField(
        what="The currency's code",
        longest=3,
        required=False,
        label="Code of the other currency",
        help_text="Three letters, such as SGD.",
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}),
    )

    def clean(self) -> dict[str, Any]:
        """Put the other currency's code in the list's place."""
        values = super().clean()
        if values.get("currency") == OTHER_CURRENCY:
            if values.get("currency_other"):
                values["currency"] = values["currency_other"]
            elif "currency_other" in values:
                self.add_error("currency_other", "The other currency's code is missing: type three letters, such as SGD.")
        return values


class HouseholdFields(CurrencyFields):
    """What a workshop chooses for itself from the first day."""

    workshop_name = NameField(what="The workshop's name", label="Workshop's name")
    unit = forms.ChoiceField(
        label="Weights in",
        choices=Workshop.Unit.choices,
        initial=Workshop.Unit.GRAM,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose grams or ounces."} | required("The unit", "choose grams or ounces"),
    )
    time_zone = forms.ChoiceField(
        choices=time_zone_choices,
        help_text="The nearest place on your side of the border; days and mornings go by its clock.",
        error_messages={"invalid_choice": "The time zone is not known: choose one from the list."}
        | required("The time zone", "choose the nearest place"),
    )
    round_days = forms.MultipleChoiceField(
        label="Round days",
        choices=WEEKDAY_CHOICES,
        widget=forms.CheckboxSelectMultiple,
        help_text="The days on which you weigh the sample bars.",
        error_messages={"invalid_choice": "Choose weekdays from the list."}
        | required("The round", "choose at least one weekday"),
    )


class PersonFields(HouseForm):
    """Who somebody is that has no account yet."""

    name = NameField(what="Your name", label="Your name", widget=forms.TextInput(attrs={"autocomplete": "name"}))
    email = TextField(
        what="The e-mail address",
        longest=254,
        label="Your e-mail address",
        help_text="You sign in with it, and notices go to it once mail is set up.",
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    password = TextField(
        what="The password",
        longest=LONGEST_PASSWORD,
        strip=False,
        help_text="At least 10 characters; a few words that do not belong together do well.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )


class WorkshopForm(HouseholdFields):
    """What a workshop begins with."""

    field_order = ("workshop_name", "unit", "time_zone", "currency", "currency_other", "round_days")

    scale_name = NameField(what="The scale's name", longest=80, label="Your scale's name", initial="Kitchen scale")
    step_g = TextField(
        what="The scale's step",
        longest=20,
        label="Its step",
        initial="0.1",
        help_text="The smallest difference it shows, in g or oz as chosen above.",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )

    def clean(self) -> dict[str, Any]:
        """Read the scale's step in the unit chosen in the same form."""
        values = super().clean()
        if "step_g" in values and "unit" in values:
            try:
                values["step_g"] = parse_step_g(values["step_g"], values["unit"], field="step_g", what="The scale's step")
            except DomainError as error:
                self.add_error("step_g", error.message)
        return values

    def beginning(self) -> dict[str, Any]:
        """Return what was typed of the workshop, by the flow's names."""
        values = self.cleaned_data
        return {
            "workshop_name": values["workshop_name"],
            "unit": values["unit"],
            "time_zone": values["time_zone"],
            "currency": values["currency"],
            "round_days": tuple(int(day) for day in values["round_days"]),
            "scale_name": values["scale_name"],
            "scale_step_g": values["step_g"],
        }


class SetUpForm(PersonFields, WorkshopForm):
    """Everything the first page asks for."""

    field_order = ("name", "email", "password", *WorkshopForm.field_order)

    def entry(self) -> SetUpEntry:
        """Return what was typed, as the flow takes it."""
        values = self.cleaned_data
        return SetUpEntry(owner_name=values["name"], email=values["email"], password=values["password"], **self.beginning())
