"""Batches whose bars were turned, ticked on a walk past the racks."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from curehouse.making.models import Batch
from curehouse.web.forms.fields import HouseForm, MomentField
from curehouse.workshops.models import Workshop

_LONGEST_KEY = 18


def _is_key(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) <= _LONGEST_KEY


class _BatchesField(forms.Field):
    """The keys of batches; whether they are here is for the verb to say."""

    widget = forms.MultipleHiddenInput

    def clean(self, value: Any) -> list[int]:
        texts = value or []
        if not texts:
            raise ValidationError("No batch is ticked: tick those whose bars you turned.")
        if not all(map(_is_key, texts)):
            raise ValidationError("A batch you ticked is not in the list: load the page again.")
        return [int(text) for text in texts]


class TurningForm(HouseForm):
    """Which batches' bars were turned, and when; without a time, just now."""

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.workshop = workshop
        self.fields["batches"] = _BatchesField()
        self.fields["turned_at"] = MomentField(
            what="The time",
            time_zone=workshop.time_zone,
            required=False,
            label="When",
            help_text="Leave it empty for just now.",
        )

    def ticked(self) -> set[int]:
        """Return what was ticked, as far as it can be read."""
        texts = self["batches"].value() or []
        return {int(text) for text in texts if _is_key(text)}

    def names_of(self, keys: Iterable[int]) -> list[str]:
        """Return what batches are called."""
        rows = Batch.objects.within(self.workshop).filter(pk__in=keys).select_related("formula").order_by("number")
        return [str(row) for row in rows]
