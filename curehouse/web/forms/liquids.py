"""The liquids of a batch: as many rows as it takes."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.making.liquids import liquid_kinds
from curehouse.making.models import BatchLiquid
from curehouse.making.services import LiquidEntry
from curehouse.web.forms.fields import HouseForm, MassField, NumberField

PREFIX = "liquids"
MOST_ROWS = 12
LONGEST_NAME = 40
_FIRST_ROWS = [{"kind": "water"}, {"place": BatchLiquid.Place.TRACE}]
_FIELDS = ("kind", "mass_g", "place", "water_pct")


def _kinds() -> list[tuple[str, str]]:
    return [("", "none"), *((kind.key, kind.name) for kind in liquid_kinds().values())]


class LiquidForm(HouseForm):
    """One liquid; a row without a kind and without a mass is no liquid."""

    kind = forms.ChoiceField(
        label="Kind",
        choices=_kinds,
        required=False,
        error_messages={"invalid_choice": "This liquid is not in the list: choose one."},
    )
    place = forms.ChoiceField(
        label="Goes in",
        choices=[(BatchLiquid.Place.FRONT, "with the lye"), (BatchLiquid.Place.TRACE, "at trace")],
        initial=BatchLiquid.Place.FRONT,
        required=False,
        error_messages={"invalid_choice": "A liquid goes in with the lye or at trace: choose one."},
    )
    water_pct = NumberField(
        what="The water part",
        above=Decimal("-0.01"),
        most=Decimal(100),
        places=2,
        required=False,
        label="Its water part, % (if measured)",
    )

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = str(self["kind"].value() or "")[:LONGEST_NAME]
        if own and own not in liquid_kinds():
            # A liquid of the workshop's own, as its formula names it.
            self.fields["kind"].choices = [*_kinds(), (own, own)]
        self.fields["mass_g"] = MassField(unit=unit, what="The liquid's mass", required=False, label=f"Mass, {unit}")
        self.order_fields(_FIELDS)

    def clean(self) -> dict[str, Any]:
        """Hold kind and mass to coming together."""
        values = super().clean()
        kind, mass_g = values.get("kind"), values.get("mass_g")
        if kind and kind not in liquid_kinds() and values.get("water_pct") is None and "water_pct" in values:
            self.add_error("water_pct", "This liquid is not in the list: choose one. If it is your own, type its water part.")
        if kind and mass_g is None and "mass_g" in values:
            name = liquid_kinds()[kind].name if kind in liquid_kinds() else kind
            self.add_error("mass_g", f"The mass of {name} is missing: type it, or choose “none”.")
        if "kind" in values and not kind and (mass_g is not None or values.get("water_pct") is not None):
            self.add_error("kind", "Say which liquid this is: choose one, or empty its row.")
        return values

    def entry(self) -> LiquidEntry | None:
        """Return the liquid, or None for an empty row."""
        values = self.cleaned_data
        if not values.get("kind") or values.get("mass_g") is None:
            return None
        own = values.get("water_pct")
        return LiquidEntry(
            kind=values["kind"],
            mass_g=values["mass_g"],
            water_fraction=None if own is None else own / 100,
            place=values.get("place") or BatchLiquid.Place.FRONT,
        )


class LiquidRows(forms.BaseFormSet):
    """The rows together."""

    default_error_messages = {
        **forms.BaseFormSet.default_error_messages,
        "missing_management_form": "This page is incomplete: open it anew and type the liquids again.",
    }

    def entries(self) -> list[LiquidEntry]:
        """Return the liquids that are right."""
        rows = (row.entry() for row in self.forms if row.is_valid())
        return [entry for entry in rows if entry is not None]


def liquid_rows(
    data: Mapping[str, Any] | None, *, unit: str, start: list[dict[str, Any]] | None = None, extra: int = 0
) -> LiquidRows:
    """Return the rows as sent in *data*, or as they begin: *start* and so many *extra*."""
    rows = forms.formset_factory(
        LiquidForm, formset=LiquidRows, extra=extra, max_num=MOST_ROWS, absolute_max=MOST_ROWS, validate_max=False
    )
    begin = None if data is not None else (_FIRST_ROWS if start is None else start)
    return rows(data, prefix=PREFIX, initial=begin, form_kwargs={"unit": unit})


def typed_rows(data: Mapping[str, str]) -> list[dict[str, str]]:
    """Return what was typed into the rows, unread, so that it can be shown again beside one more."""
    numbers = [number for number in range(MOST_ROWS) if f"{PREFIX}-{number}-kind" in data]
    return [{name: data.get(f"{PREFIX}-{number}-{name}", "") for name in _FIELDS} for number in numbers]
