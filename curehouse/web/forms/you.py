"""The forms of a person's own page: name, address, password, the second step of signing in."""

from django import forms

from curehouse.web.forms.door import CODE_ATTRS, LONGEST_CODE, LONGEST_PASSWORD
from curehouse.web.forms.fields import HouseForm, NameField, TextField


def _present_password(*, required: bool, help_text: str) -> TextField:
    return TextField(
        what="The present password",
        longest=LONGEST_PASSWORD,
        strip=False,
        required=required,
        label="Present password",
        help_text=help_text,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class YouForm(HouseForm):
    """A person's own name, and the address they sign in with."""

    name = NameField(what="Your name", label="Your name", widget=forms.TextInput(attrs={"autocomplete": "name"}))
    email = TextField(
        what="The e-mail address",
        longest=254,
        label="E-mail address",
        help_text="You sign in with it, and notices go to it once mail is set up.",
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    present_password = _present_password(required=False, help_text="A new name needs none.")
    present_password.needed = "needed to change the e-mail address"


class PasswordForm(HouseForm):
    """A new password, by whoever knows the present one."""

    present_password = _present_password(required=True, help_text="The one you sign in with now.")
    password = TextField(
        what="The new password",
        longest=LONGEST_PASSWORD,
        strip=False,
        label="New password",
        help_text="At least 10 characters; a few words that do not belong together do well.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )


class PresentPasswordForm(HouseForm):
    """Something that is done by whoever knows the present password."""

    present_password = _present_password(required=True, help_text="The one you sign in with now.")


class SwitchOnForm(PresentPasswordForm):
    """The first code of an app that has the key."""

    field_order = ("code", "present_password")

    code = TextField(
        what="The code",
        longest=LONGEST_CODE,
        label="Code",
        help_text="The six digits the app shows now.",
        widget=forms.TextInput(attrs=CODE_ATTRS),
    )


class NewCodesForm(PresentPasswordForm):
    """New recovery codes in place of the set that was there when the page was shown."""

    codes_set = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=2**31 - 1)
