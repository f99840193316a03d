"""The forms of a batch's cure: its safety check, its sample bars, its way out."""

from collections.abc import Sequence
from typing import Any

from django import forms

from curehouse.curing.services.bars import LETTERS
from curehouse.making.models import TakeOut
from curehouse.making.services import METHOD_REMEDY, MOST_BARS, VALUE_REMEDY
from curehouse.web.forms.fields import HouseForm, MomentField, NameField, TextField, WholeField, required
from curehouse.workshops.models import Workshop

PASSED, FAILED = "passed", "failed"


class CheckForm(HouseForm):
    """What a person found, and whether it passes by their own written limit."""

    method = NameField(what="The method", remedy=METHOD_REMEDY, label="Method", help_text="What you tested with, and how.")
    value = NameField(what="The value found", longest=60, remedy=VALUE_REMEDY, label="What you found")
    passed = forms.ChoiceField(
        label="By your limit it has",
        choices=[(PASSED, "passed"), (FAILED, "failed")],
        widget=forms.RadioSelect,
        error_messages=required("Passed or failed", "choose one, by your own limit"),
    )
    note = TextField(what="The note", longest=400, required=False, label="Note")

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, initial={"method": workshop.check_method}, **kwargs)
        if not workshop.check_limit:
            self.fields["passed"].label = "It has"
        self.fields["checked_at"] = _when(workshop)


class TakeOutForm(HouseForm):
    """Bars that leave the cure."""

    def __init__(
        self, *args: Any, workshop: Workshop, is_ready: bool, is_refused: bool, letters: Sequence[str] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bars"] = WholeField(what="The number of bars", least=1, most=MOST_BARS, label="Bars")
        if letters:
            self.fields["sample_bars"] = forms.MultipleChoiceField(
                label="Sample bars among them",
                required=False,
                choices=[(letter, letter) for letter in letters],
                widget=forms.CheckboxSelectMultiple,
                help_text="Tick those that go too; they are not weighed any more. With the last bar all of them go.",
                error_messages={"invalid_choice": "A sample bar you ticked is gone already: load the page again."},
            )
        if is_refused:
            self.initial["purpose"] = TakeOut.Purpose.DESTROYED
        only = [TakeOut.Purpose.DESTROYED] if is_refused else list(TakeOut.Purpose)
        self.fields["purpose"] = forms.ChoiceField(
            label="What for",
            choices=[(purpose.value, purpose.label) for purpose in only],
            widget=forms.RadioSelect,
            error_messages=required("The purpose", "choose what the bars are for")
            | {"invalid_choice": _ONLY_DESTROYED if is_refused else "Choose what the bars are for from the list."},
        )
        if not is_ready:
            self.fields["forced_reason"] = TextField(
                what="The reason", longest=400, label="Why now", help_text="It is not ready; say why it leaves."
            )
        self.fields["taken_at"] = _when(workshop)


_ONLY_DESTROYED = "The last safety check failed, so these bars go to nobody: test again after a week or more, or destroy them."


class MarkBarsForm(HouseForm):
    """How many more sample bars are marked."""

    sample_bars = WholeField(
        what="The number of sample bars", least=1, most=len(LETTERS), label="More sample bars", help_text="3 to 5 are usual."
    )


class BarGoneForm(HouseForm):
    """What became of a sample bar."""

    why = TextField(what="What became of it", longest=200, label="What became of it", help_text="Such as sold early.")


def _when(workshop: Workshop) -> MomentField:
    return MomentField(
        what="The time", time_zone=workshop.time_zone, required=False, label="When", help_text="Empty means now."
    )
