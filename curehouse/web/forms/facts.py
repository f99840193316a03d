"""What a material is made of, as the workshop knows it."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.core.chemistry.liquids import LiquidKind
from curehouse.making.fats import fat_kinds
from curehouse.making.liquids import liquid_kinds
from curehouse.making.services.facts import LONGEST_ALLERGEN, FactsEntry
from curehouse.web.forms.fields import HouseForm, NumberField, TextField, trimmed
from curehouse.web.forms.formula_lines import choice_error
from inventory.models import Material

_VALUE = {"above": Decimal(59), "most": Decimal(400), "places": 2, "required": False}
_PERCENT = {"above": Decimal("-0.01"), "most": Decimal(100), "places": 2, "required": False}
# Which figures are asked for, by the kind of the material.
_ASKED: Mapping[str, tuple[str, ...]] = {
    "fat": ("key", "saponification_low", "saponification_high", "allergen", "source"),
    "liquid": (
        "key", "liquid_kind", "water_pct", "fat_pct", "sugar_pct", "saponification_low", "saponification_high", "is_thickened",
        "allergen", "source",
    ),
    "fragrance": ("most_pct", "allergen", "source"),
    "additive": ("allergen", "source"),
    "colour": ("allergen", "source"),
}  # fmt: skip
_LIQUIDS = (
    ("", "as the list says, or not known"),
    (LiquidKind.WATER, "water, or as good as water"),
    (LiquidKind.MILK, "milk of an animal"),
    (LiquidKind.PLANT_MILK, "milk of a plant"),
    (LiquidKind.POWDER, "powder of milk"),
    (LiquidKind.OTHER, "something else"),
)


class FactsForm(HouseForm):
    """The workshop's own figures of a material; what is left empty is the list's."""

    key = forms.ChoiceField(label="It is", required=False, error_messages=choice_error("This"))
    saponification_low = NumberField(
        what="The low end", label="Saponification value, from", help_text="mg KOH per g; empty: the published range.", **_VALUE
    )
    saponification_high = NumberField(what="The high end", label="up to", help_text="A lot’s certificate beats both.", **_VALUE)
    water_pct = NumberField(what="The water part", label="Its water part, %", **_PERCENT)
    fat_pct = NumberField(
        what="The fat",
        label="Its fat, %",
        help_text="A herd’s fat moves over the year: a lot’s own goes on the lot.",
        **_PERCENT,
    )
    sugar_pct = NumberField(
        what="The sugar", label="Its sugar, %", help_text="Sugar heats the batch; 0 where it has none.", **_PERCENT
    )
    liquid_kind = forms.ChoiceField(
        label="What it is",
        help_text="A milk counts as such, is asked for thickeners or held cold; a powder is no liquid by itself.",
        choices=[(str(value), words) for value, words in _LIQUIDS],
        required=False,
        error_messages=choice_error("This"),
    )
    is_thickened = forms.ChoiceField(
        label="Thickeners (plant milk)",
        choices=[("", "not known"), ("no", "none"), ("yes", "has some")],
        required=False,
        error_messages=choice_error("This"),
    )
    most_pct = NumberField(
        what="The maximum", label="Maximum in the finished bar, %", help_text="From its supplier’s paper, for soap.", **_PERCENT
    )
    allergen = TextField(
        what="The allergen",
        longest=LONGEST_ALLERGEN,
        required=False,
        label="Allergens to be named",
        help_text="Milk, almond, parts of a scent: several with a comma between them.",
    )
    source = TextField(what="The source", longest=200, required=False, label="Where these figures are from")

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows: Mapping[str, Any] = {"fat": fat_kinds(), "liquid": liquid_kinds()}.get(material.kind, {})
        self.fields["key"].choices = [("", "told by its name, or not known"), *((key, row.name) for key, row in rows.items())]
        if material.kind == Material.Kind.LIQUID:
            self.fields["saponification_low"].label = "Saponification value of its fat, from"
            self.fields["saponification_low"].help_text = "mg KOH per g; empty: as milk fat, or the list’s."
            self.fields["saponification_high"].help_text = ""
            self.order_fields(_ASKED["liquid"])
        for name in set(self.fields) - set(_ASKED.get(material.kind, ())):
            del self.fields[name]

    @property
    def key_as_confirmed(self) -> str:
        """Return the row of the list that a person said it is though it is called like another; nothing where none was."""
        read = self.data.get("key_confirmed", "")
        return read if read == self.data.get("key", "") else ""

    def entry(self) -> FactsEntry:
        """Return the figures as the service takes them."""
        values = self.cleaned_data

        def share(name: str) -> Decimal | None:
            percent = values.get(name)
            return None if percent is None else percent / 100

        return FactsEntry(
            key=values.get("key", ""),
            saponification_low=values.get("saponification_low"),
            saponification_high=values.get("saponification_high"),
            water_fraction=share("water_pct"),
            fat_fraction=share("fat_pct"),
            sugar_fraction=share("sugar_pct"),
            liquid_kind=values.get("liquid_kind", ""),
            most_share=share("most_pct"),
            is_thickened={"yes": True, "no": False}.get(values.get("is_thickened", "")),
            allergen=values.get("allergen", ""),
            source=values.get("source", ""),
        )


def facts_start(entry: FactsEntry) -> dict[str, Any]:
    """Return how the form begins."""

    def percent(share: Decimal | None) -> str:
        return "" if share is None else trimmed(share * 100)

    return {
        "key": entry.key,
        "saponification_low": entry.saponification_low,
        "saponification_high": entry.saponification_high,
        "water_pct": percent(entry.water_fraction),
        "fat_pct": percent(entry.fat_fraction),
        "sugar_pct": percent(entry.sugar_fraction),
        "liquid_kind": entry.liquid_kind,
        "most_pct": percent(entry.most_share),
        "is_thickened": {True: "yes", False: "no", None: ""}[entry.is_thickened],
        "allergen": entry.allergen,
        "source": entry.source,
    }
