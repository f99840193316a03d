"""How large a formula is to be made."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.units import OUNCE
from curehouse.making.formulas.sizes import Mould, Size
from curehouse.web.forms.fields import HouseForm, MassField, NumberField, WholeField
from curehouse.web.forms.formula_lines import choice_error, two_ways
from curehouse.web.forms.thousands import reads_two_ways

_CM = {"above": Decimal(0), "most": Decimal(500), "places": 2, "required": False}
_CM_PER_INCH = Decimal("2.54")
_MEASURES = ("length_cm", "width_cm", "diameter_cm", "height_cm")
_MOST = 5000
# What each way of saying the size needs.
_NEEDS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "fats": (("fats_g", "The mass of the fats is missing: type it."),),
    "block": (
        ("length_cm", "The length of the mould is missing: type it in cm."),
        ("width_cm", "The width of the mould is missing: type it in cm."),
        ("height_cm", "The height to fill is missing: type it in cm."),
    ),
    "tube": (
        ("diameter_cm", "The diameter of the mould is missing: type it in cm."),
        ("height_cm", "The height to fill is missing: type it in cm."),
    ),
    "bars": (
        ("bars", "The number of bars is missing: type a whole number."),
        ("cut_g", "The weight of a bar at the cut is missing: type it."),
    ),
}


class WantedForm(HouseForm):
    """A superfat that is wanted with the milk's own fat; asked with GET, and writes nothing."""

    effective = NumberField(
        what="The superfat wanted",
        above=Decimal("-0.01"),
        most=Decimal(50),
        places=2,
        label="Wanted with the milk’s fat, %",
    )


class SizeForm(HouseForm):
    """A size, said in one of four ways; it is asked with GET and writes nothing."""

    by = forms.ChoiceField(
        label="Make it",
        choices=[
            ("fats", "with so much of fats"),
            ("block", "for a mould with corners"),
            ("tube", "for a round mould"),
            ("bars", "for so many bars"),
        ],
        widget=forms.RadioSelect,
        error_messages=choice_error("This way"),
    )
    length_cm = NumberField(what="The length", label="Length, cm", **_CM)
    width_cm = NumberField(what="The width", label="Width, cm", **_CM)
    diameter_cm = NumberField(what="The diameter", label="Diameter, cm", **_CM)
    height_cm = NumberField(what="The height", label="Height to fill, cm", **_CM)
    count = WholeField(what="The number of moulds", least=1, most=_MOST, required=False, label="Moulds of this size")
    bars = WholeField(what="The number of bars", least=1, most=_MOST, required=False, label="Bars")
    loss_pct = NumberField(
        what="What is lost",
        above=Decimal("-0.01"),
        most=Decimal(50),
        places=2,
        required=False,
        label="Lost in pot and trim, %",
    )

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["fats_g"] = MassField(unit=unit, what="The mass of the fats", required=False, label=f"Fats, {unit}")
        self.fields["cut_g"] = MassField(
            unit=unit, what="The weight of a bar", required=False, label=f"Weight of a bar at the cut, {unit}"
        )
        # Who weighs in ounces measures in inches.
        self.length, self.cm_per_length = ("inches", _CM_PER_INCH) if unit == OUNCE else ("cm", Decimal(1))
        for name in _MEASURES:
            self.fields[name].label = self.fields[name].label.replace("cm", self.length)

    def clean(self) -> dict[str, Any]:
        """Ask for what the chosen way needs; a figure whose mark may be one of thousands is refused."""
        values = super().clean() or {}
        for name, remedy in _NEEDS.get(values.get("by", ""), ()):
            if name in values and values[name] is None:
                self.add_error(name, remedy.replace("in cm", f"in {self.length}"))
        for name in self.fields:
            typed = self[name].value() or ""
            if values.get(name) is not None and isinstance(typed, str) and reads_two_ways(typed):
                self.add_error(name, two_ways(typed))
        return values

    def size(self) -> Size:
        """Return the size asked for."""
        values = self.cleaned_data
        if values["by"] == "fats":
            return Size(fats_g=values["fats_g"])
        if values["by"] == "bars":
            return Size(bars=values["bars"], cut_g=values["cut_g"], loss=(values["loss_pct"] or Decimal(0)) / 100)
        asked = ("diameter_cm", "height_cm") if values["by"] == "tube" else ("length_cm", "width_cm", "height_cm")
        measures = {name: values[name] * self.cm_per_length for name in asked}
        return Size(mould=Mould(count=values["count"] or 1, **measures))
