"""The forms about people: what they are here, who is invited, and whoever comes in."""

from django import forms

from curehouse.flows.join import Newcomer
from curehouse.web.forms.door import LONGEST_PASSWORD
from curehouse.web.forms.fields import HouseForm, NameField, TextField, required
from curehouse.workshops.models import Member


def _role_field(label: str, help_text: str = "") -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label,
        help_text=help_text,
        choices=Member.Role.choices,
        initial=Member.Role.MAKER,
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose from the list."} | required("The role", "choose one"),
    )


class RoleForm(HouseForm):
    """What a member is here."""

    role = _role_field("Here as")


class InviteForm(HouseForm):
    """Who is invited, as what."""

    role = _role_field("To be here as")
    email = TextField(
        what="The e-mail address",
        longest=254,
        required=False,
        label="Their e-mail address",
        help_text="So that you know whose link it is; no mail goes out.",
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )


class JoinForm(HouseForm):
    """Whoever comes in for the first time."""

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

    def newcomer(self) -> Newcomer:
        """Return who it is, as the flow takes it."""
        return Newcomer(**self.cleaned_data)
