"""The forms of racks, positions and what stands there."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from curehouse.common.errors import DomainError
from curehouse.curing.models import Position
from curehouse.curing.services.racks import LARGEST_CAPACITY, MOST_LEVELS, MOST_PLACES
from curehouse.making.models import Batch
from curehouse.making.services import MOST_BARS
from curehouse.web.forms.fields import HouseForm, MomentField, NameField, WholeField, required
from curehouse.web.reading.position import Waiting
from curehouse.workshops.models import Workshop

_NOT_LISTED = {"invalid_choice": "This is not in the list any more: choose another one."}


def _capacity(label: str) -> WholeField:
    return WholeField(what="The number of bars", least=1, most=LARGEST_CAPACITY, label=label)


def _bars(**kwargs: Any) -> WholeField:
    return WholeField(what="The number of bars", least=1, most=MOST_BARS, label="Bars", **kwargs)


def _when(workshop: Workshop) -> MomentField:
    return MomentField(
        what="The time", time_zone=workshop.time_zone, required=False, label="When", help_text="Empty means now."
    )


class RackForm(HouseForm):
    """A rack that is put up."""

    name = NameField(what="The rack's name", longest=80, label="Name", help_text="As you call it, such as North wall.")
    levels = WholeField(what="The number of levels", least=1, most=MOST_LEVELS, label="Levels")
    places = WholeField(
        what="The number of places",
        least=1,
        most=MOST_PLACES,
        label="Places on a level",
        help_text="Stretches of board you tell apart: 1, if a level is one.",
    )
    capacity_bars = _capacity("Bars at a place")


class RackNameForm(HouseForm):
    """A rack's other name."""

    name = NameField(what="The rack's name", longest=80, label="Name")


class CapacityForm(HouseForm):
    """How many bars a position holds."""

    capacity_bars = _capacity("Bars it holds")


class PositionField(forms.ModelChoiceField):
    """A position of the workshop, named with the room it has left."""

    def __init__(self, workshop: Workshop, *, what: str, **kwargs: Any) -> None:
        places = Position.objects.within(workshop).in_walking_order()
        super().__init__(places, error_messages=required(what, "choose one") | _NOT_LISTED, empty_label="Choose", **kwargs)

    def label_from_instance(self, obj: Position) -> str:
        """Return the position's name and how many more bars fit."""
        return f"{obj} ({obj.bars_free} free)" if obj.bars_free else f"{obj} (full)"


@dataclass(frozen=True, slots=True)
class FullPosition:
    """A refusal for want of room, with its two ways out."""

    sentence: str
    raise_to: int
    rest: int
    is_all: bool
    where: str

    @classmethod
    def of(cls, error: DomainError) -> "FullPosition":
        """Return what a ``position_full`` refusal offers."""
        data, left, names = error.data, error.data["rest"], []
        for place in data["elsewhere"]:
            if left > 0:
                names.append(place["name"])
                left -= place["free"]
        if names and left > 0:
            names.append(f"{left} without a place")
        return cls(
            sentence=error.message,
            raise_to=data["raise_to"],
            rest=data["rest"],
            is_all=data["free"] == 0,
            where="; ".join(names),
        )


class PlacingForm(HouseForm):
    """Bars that are put somewhere; ``full`` is set once they did not fit there."""

    full: FullPosition | None = None
    when_full = forms.ChoiceField(
        choices=[(way, way) for way in ("refuse", "raise", "elsewhere")], required=False, widget=forms.HiddenInput
    )

    @property
    def way(self) -> str:
        """Return what is to be done if the bars do not fit."""
        return self.cleaned_data["when_full"] or "refuse"


class PlaceForm(PlacingForm):
    """Bars of a batch that stand nowhere, and where they go."""

    def __init__(self, *args: Any, workshop: Workshop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["position"] = PositionField(workshop, what="The place", label="Place")
        self.fields["bars"] = _bars()
        self.fields["moved_at"] = _when(workshop)


class PlaceHereForm(PlacingForm):
    """A batch some of whose bars go to this position."""

    def __init__(self, *args: Any, workshop: Workshop, waiting: Sequence[Waiting], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = {one.batch.pk: one.words for one in waiting}
        batches = Batch.objects.within(workshop).filter(pk__in=words).select_related("formula", "workshop").order_by("number")
        messages = required("The batch", "choose one") | _NOT_LISTED
        self.fields["batch"] = forms.ModelChoiceField(batches, label="Batch", error_messages=messages, empty_label="Choose")
        self.fields["batch"].label_from_instance = lambda batch: words[batch.pk]
        self.fields["bars"] = _bars()
        self.fields["moved_at"] = _when(workshop)


class MoveForm(PlacingForm):
    """Bars that are carried from one position to another."""

    def __init__(self, *args: Any, workshop: Workshop, stands: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["origin"] = _where_it_stands(stands, label="From")
        self.fields["position"] = PositionField(workshop, what="The place", label="To")
        self.fields["bars"] = _bars()
        self.fields["moved_at"] = _when(workshop)


class TurnForm(HouseForm):
    """Bars that were turned where they stand."""

    def __init__(self, *args: Any, workshop: Workshop, stands: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["position"] = _where_it_stands(stands, label="Place")
        self.fields["moved_at"] = _when(workshop)


def _where_it_stands(stands: Sequence[tuple[int, str]], *, label: str) -> forms.TypedChoiceField:
    messages = required("The place", "choose one") | _NOT_LISTED
    return forms.TypedChoiceField(label=label, choices=list(stands), coerce=int, error_messages=messages)
