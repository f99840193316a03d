"""The forms of what a supplier sells and asks beside it."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.units import LARGEST_G, from_grams
from curehouse.web.forms.amounts import in_grams, unit_field
from curehouse.web.forms.fields import HouseForm, NumberField, TextField, WholeField, required
from curehouse.workshops.models import Workshop
from inventory.models import MOST_LEAD_DAYS, MOST_PACKS, MOST_SHELF_DAYS, Material, Offer, Supplier
from inventory.services.offers import OfferEntry, TermsEntry

BREAKS = 3
_MOST_MONEY = Decimal(9_999_999)
_PIECES = "pieces"


class MoneyField(NumberField):
    """An amount of the workshop's currency."""

    def __init__(self, *, what: str, label: str, workshop: Workshop, places: int = 2, **kwargs: Any) -> None:
        label = f"{label}, {workshop.currency}"
        super().__init__(what=what, above=Decimal(-1), most=_MOST_MONEY, places=places, label=label, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        """Show money with its cents, and more places where a price has them."""
        if not isinstance(value, Decimal):
            return value
        cents = value.quantize(Decimal("0.01"))
        return f"{cents if cents == value else value.normalize():f}"


class TermsForm(HouseForm):
    """What a supplier asks beside the goods, and how long they say it takes."""

    def __init__(self, *args: Any, workshop: Workshop, supplier: Supplier, **kwargs: Any) -> None:
        names = ("freight", "free_freight_from", "hazard_surcharge", "lead_days")
        super().__init__(*args, initial={name: getattr(supplier, name) for name in names}, **kwargs)
        money = {"workshop": workshop, "required": False}
        self.fields["freight"] = MoneyField(what="The freight", label="Freight of an order", **money)
        self.fields["free_freight_from"] = MoneyField(
            what="The amount", label="No freight from", help_text="The goods of one order. Empty: never free.", **money
        )
        self.fields["hazard_surcharge"] = MoneyField(
            what="The surcharge",
            label="Hazard surcharge",
            help_text="Once an order that holds anything hazardous, such as lye.",
            **money,
        )
        self.fields["lead_days"] = WholeField(
            what="The days", least=0, most=MOST_LEAD_DAYS, required=False, label="Comes after, days",
            help_text="As they say, from sending to receipt; what the house sees counts for more.",
        )  # fmt: skip

    def terms(self) -> TermsEntry:
        """Return the terms as entered."""
        return TermsEntry(**self.cleaned_data)


class OfferForm(HouseForm):
    """A material as a supplier sells it; of another pack or price it is another offer."""

    def __init__(
        self,
        *args: Any,
        workshop: Workshop,
        materials: Sequence[Material],
        offer: Offer | None = None,
        chosen: str = "",
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, initial=_as_typed(offer, workshop) | ({"material": chosen} if chosen else {}), **kwargs)
        self._offer, self._materials = offer, {str(one.pk): one for one in materials}
        if offer is None:
            self.fields["material"] = forms.ChoiceField(
                label="Material", choices=[("", "Choose…"), *((key, one.name) for key, one in self._materials.items())],
                error_messages=required("The material", "choose it") | {"invalid_choice": "Choose the material from the list."},
            )  # fmt: skip
        self.fields["pack"] = NumberField(what="The pack", above=Decimal(0), most=LARGEST_G, label="A pack holds")
        self.fields["unit"] = unit_field(workshop)
        self.fields["unit"].choices = [*self.fields["unit"].choices, (_PIECES, _PIECES)]
        self.fields["price"] = MoneyField(what="The price", label="Price of a pack", workshop=workshop, places=4)
        for row in range(BREAKS):
            self.fields[f"from_{row}"] = WholeField(
                what="The packs", least=2, most=MOST_PACKS, required=False, label="From so many packs"
            )  # fmt: skip
            self.fields[f"price_{row}"] = MoneyField(
                what="The price", label="a pack costs", workshop=workshop, places=4, required=False
            )  # fmt: skip
        self.fields["min_packs"] = WholeField(
            what="The packs", least=1, most=MOST_PACKS, required=False, label="Sold from so many packs"
        )
        self.fields["article"] = TextField(what="Their number", longest=80, required=False, label="Their number of it")
        self.fields["shelf_days"] = WholeField(
            what="The days", least=1, most=MOST_SHELF_DAYS, required=False, label="Keeps as it comes in, days",
            help_text="To its best-before, as a rule. Empty: it keeps, or nobody knows.",
        )  # fmt: skip
        self.fields["lead_days"] = WholeField(
            what="The days", least=0, most=MOST_LEAD_DAYS, required=False, label="Comes after, days",
            help_text="Only where it differs from their other goods.",
        )  # fmt: skip
        self.fields["is_hazardous"] = forms.BooleanField(required=False, label="Their hazard surcharge comes with it")

    @property
    def price_rows(self) -> list[list[Any]]:
        """Return the bound fields of the cheaper prices, row by row."""
        return [[self[f"from_{row}"], self[f"price_{row}"]] for row in range(BREAKS)]

    @property
    def material(self) -> Material | None:
        """Return the material that is sold."""
        return self._offer.material if self._offer else self._materials.get(self.cleaned_data.get("material", ""))

    def clean(self) -> dict[str, Any]:
        """Ask for both parts of a cheaper price, and for a unit that fits the material."""
        values, material = super().clean() or {}, self.material
        if material and "unit" in values and (values["unit"] == _PIECES) != (material.measure == Material.Measure.PIECES):
            said = "is counted in pieces" if material.measure == Material.Measure.PIECES else "is kept in grams"
            self.add_error("unit", f"{material} {said}: choose the unit again.")
        for row in range(BREAKS):
            packs, price = values.get(f"from_{row}"), values.get(f"price_{row}")
            if (packs is None) != (price is None) and not {f"from_{row}", f"price_{row}"} & self.errors.keys():
                missing = f"from_{row}" if packs is None else f"price_{row}"
                self.add_error(missing, "A cheaper price needs both: from how many packs, and what a pack costs then.")
        return values

    def entry(self, supplier: Supplier) -> OfferEntry:
        """Return the offer as entered."""
        values = self.cleaned_data
        pack = values["pack"] if values["unit"] == _PIECES else in_grams(values["pack"], values["unit"])
        breaks = [(values[f"from_{row}"], values[f"price_{row}"]) for row in range(BREAKS)]
        return OfferEntry(
            supplier=supplier, material=self.material, pack=pack, price=values["price"],
            breaks=[one for one in breaks if one[0] is not None], min_packs=values["min_packs"] or 1,
            article=values["article"], is_hazardous=values["is_hazardous"], shelf_days=values["shelf_days"],
            lead_days=values["lead_days"],
        )  # fmt: skip


def _as_typed(offer: Offer | None, workshop: Workshop) -> dict[str, Any]:
    """Return an offer as its form shows it."""
    if offer is None:
        return {"min_packs": 1}
    is_counted = offer.material.measure == Material.Measure.PIECES
    unit = _PIECES if is_counted else str(workshop.unit)
    names = ("price", "min_packs", "article", "shelf_days", "lead_days", "is_hazardous")
    now = {name: getattr(offer, name) for name in names}
    for row, one in enumerate(sorted(offer.breaks.all(), key=lambda one: one.from_packs)[:BREAKS]):
        now |= {f"from_{row}": one.from_packs, f"price_{row}": one.price}
    return now | {"pack": offer.pack if is_counted else from_grams(offer.pack, workshop.unit), "unit": unit}
