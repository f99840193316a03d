"""The forms about people: what they are here, who is invited, and whoever comes in."""

from django import forms

from curehouse.flows.join import Newcomer
from curehouse.web.forms.door import PersonFields
from curehouse.web.forms.fields import HouseForm, TextField, required
from curehouse.workshops.models import Member

# What each may do, as workshops/roles.py has it; the one who may least stands first.
_ROLES = (
    (Member.Role.HELPER, "helper: weighs on the round, counts, pours, cuts and checks; sees no costs"),
    (Member.Role.READER, "reader: sees everything, costs too, and writes nothing"),
    (Member.Role.MAKER, "maker: all of making soap: batches, formulas, rules, the storeroom with its costs"),
    (Member.Role.OWNER, "owner: all a maker may, and people, devices, preferences and who did what"),
)


def _role_field(label: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label,
        choices=_ROLES,
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


class JoinForm(PersonFields):
    """Whoever comes in for the first time."""

    def newcomer(self) -> Newcomer:
        """Return who it is, as the flow takes it."""
        return Newcomer(**self.cleaned_data)
