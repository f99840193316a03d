"""What a person found of a lot: weighed, counted or judged by eye, as of the moment the figure was typed."""

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.errors import DomainError
from curehouse.web.forms.amounts import AmountForm, ReasonField
from curehouse.web.forms.fields import MomentField
from curehouse.web.forms.weighing import RowField, StampField
from curehouse.workshops.models import Workshop
from inventory.models import MOST_ON_HAND, Material

# A figure that was typed, and sent later than that, is not what is there any more.
_LONGEST = timedelta(days=2)
_TYPED_LONG_AGO = "This figure was typed over two days ago: look again, and type it anew."
_HIDDEN = ("seen", "store_count", "typed_s", "typed_at", "figure")
_INCOMPLETE = "This page is incomplete: load it again, and type the figure anew."
# Why a count differs, as a rule; offered while the reason is typed.
REASONS = (
    "used and not written down",
    "spilt",
    "left in the container",
    "dried out",
    "the scale rounds it",
    "counted wrongly before",
)


class _SaidBack:
    """A hidden field; on a page that is shown again it says what the house knows by then, if that is another thing."""

    now: Any = None

    def bound_data(self, data: Any, initial: Any) -> Any:
        """Return what the page is made with."""
        return data if self.now is None else self.now


class _Seen(_SaidBack, RowField):
    """The newest count of the lot that the page knew of."""


class _TypedAt(_SaidBack, StampField):
    """When the figure was typed, as the page was told it."""


class _Figure(_SaidBack, forms.CharField):
    """The figure that was typed then: of another one the moment says nothing."""

    widget = forms.HiddenInput


class _Seconds(forms.IntegerField):
    """How long ago the figure was typed, by the device's own clock; a page that is shown again does not know."""

    widget = forms.HiddenInput

    def bound_data(self, data: Any, initial: Any) -> Any:
        """Return nothing."""
        return None


class CountForm(AmountForm):
    """What a person found of a lot; nothing is a count too.

    The moment of a count is that of its figure: of a figure that is sent long after it was typed, or again with
    the reason that was asked for, what was used meanwhile is no difference.
    """

    amount_label = "You count"
    amount_what = "The count"
    least = Decimal(-1)
    most = Decimal(MOST_ON_HAND)

    seen = _Seen()
    store_count = RowField()
    typed_s = _Seconds(required=False, min_value=0)
    typed_at = _TypedAt(required=False)
    figure = _Figure(required=False)

    def __init__(self, *args: Any, workshop: Workshop, material: Material, at: datetime, **kwargs: Any) -> None:
        super().__init__(*args, workshop=workshop, material=material, **kwargs)
        self._at, self._zone = at, workshop.time_zone
        how = "counted" if self.is_counted else "weighed"
        self.fields["is_estimate"] = forms.BooleanField(required=False, label=f"Judged by eye, not {how}")
        self.fields["reason"] = ReasonField(label="Why it differs", required=False)
        self.fields["reason"].widget.attrs["list"] = "count_reasons"
        self.fields["moment"] = MomentField(
            what="The time", time_zone=workshop.time_zone, required=False, label="When", help_text="Empty means now."
        )

    def clean(self) -> dict[str, Any]:
        """Refuse less than nothing, and a figure whose moment nobody knows any more."""
        values = super().clean()
        amount = values.get("amount")
        if amount is not None and amount < 0:
            self.add_error("amount", "The count is 0 or more: check the figure.")
        if any(name in self.errors for name in _HIDDEN):
            self.add_error("amount", _INCOMPLETE)
        typed_at = self._typed_at(values)
        if typed_at < self._at - _LONGEST:
            self.add_error("amount", _TYPED_LONG_AGO)
        else:
            self.fields["typed_at"].now, self.fields["figure"].now = typed_at.isoformat(), self._figure()
        return values

    def _figure(self) -> str:
        return " ".join(self.data.get(name, "").strip() for name in ("amount", "unit"))

    def _typed_at(self, values: dict[str, Any]) -> datetime:
        """Return when the figure was typed: as the device says, as the page said of this very figure, or now."""
        if values.get("typed_s") is not None:
            return self._at - timedelta(seconds=min(values["typed_s"], 2 * int(_LONGEST.total_seconds())))
        known = values.get("typed_at")
        return min(known, self._at) if known is not None and values.get("figure") == self._figure() else self._at

    @property
    def fits_asked(self) -> bool:
        """Whether a person is asked if what they judged by eye may be what is booked."""
        return self.refusal is not None and self.refusal.code in ("reason", "counted_meanwhile") and self.is_by_eye

    @property
    def is_by_eye(self) -> bool:
        """Whether it was judged by eye."""
        return bool(self.cleaned_data.get("is_estimate"))

    def ask(self, error: DomainError) -> DomainError:
        """Let the page know what was asked about, so that the answer is to that."""
        error.field = "amount" if error.field == "counted" else error.field
        if error.code == "counted_meanwhile":
            self.fields["seen"].now, error.field = error.data["count"], None
            # They are asked to look once more: what they keep then is of a later moment than the other's figure.
            self.fields["typed_at"].now = self._at.isoformat()
        if error.code in ("reason", "counted_meanwhile"):
            self.fields["reason"].required = True
        return error

    def found(self) -> dict[str, Any]:
        """Return what the flow takes: the figure (None: by eye what is booked), its moment and what was known of others."""
        values = self.cleaned_data
        fits = values["is_estimate"] and "fits" in self.data
        return {
            "counted": None if fits else values["amount"],
            "moment": values["moment"] or self._typed_at(values),
            "reason": "" if fits else values["reason"],
            "is_estimate": values["is_estimate"],
            "seen": values["seen"] or 0 if "seen" in self.data else None,
            "of": values["store_count"],
        }
