"""The forms of materials, suppliers and of what comes in."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms

from curehouse.common.units import LARGEST_G
from curehouse.web.forms.amounts import DayField, ReasonField, in_grams, unit_field
from curehouse.web.forms.fields import HouseForm, NameField, NumberField, TextField, required
from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material, Supplier
from inventory.services.things import MaterialEntry, SupplierEntry, measure_of

NEW = "new"
_KIND_ERRORS = required("The kind", "choose it from the list") | {"invalid_choice": "Choose the kind from the list."}


class MaterialForm(HouseForm):
    """A material: what it is called, its kind, how it is measured."""

    name = NameField(what="The material's name", label="Name")
    kind = forms.ChoiceField(label="Kind", choices=[("", "Choose…"), *Material.Kind.choices], error_messages=_KIND_ERRORS)
    measure = forms.ChoiceField(
        label="Kept in",
        choices=[("", "as its kind usually is"), *Material.Measure.choices],
        required=False,
        error_messages={"invalid_choice": "Choose grams or pieces from the list."},
    )

    def entry(self) -> MaterialEntry:
        """Return the material as entered."""
        values = self.cleaned_data
        return MaterialEntry(values["name"], values["kind"], values["measure"])


class SupplierForm(HouseForm):
    """A supplier."""

    name = NameField(what="The supplier's name", label="Name")
    contact = TextField(what="The contact", longest=400, required=False, label="Contact", help_text="Telephone, mail or web.")
    note = forms.CharField(
        label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=4000,
        error_messages={"max_length": "The note is too long: keep it to 4000 characters."},
    )  # fmt: skip

    def entry(self) -> SupplierEntry:
        """Return the supplier as entered."""
        values = self.cleaned_data
        return SupplierEntry(values["name"], values["contact"], values["note"])


class ReceiveForm(HouseForm):
    """A lot that came in; material and supplier may be new."""

    new_name = NameField(what="The new material's name", required=False, label="Name of the new material")
    new_kind = forms.ChoiceField(
        label="Kind of the new material", choices=[("", "Choose…"), *Material.Kind.choices], required=False,
        error_messages={"invalid_choice": "Choose the kind from the list."},
    )  # fmt: skip
    new_supplier = NameField(what="The new supplier's name", required=False, label="Name of the new supplier")
    supplier_lot = TextField(
        what="The supplier's lot number",
        longest=120,
        required=False,
        label="Supplier’s lot number",
        help_text="As it stands on the sack.",
    )
    best_before = DayField(what="The best-before", required=False, label="Best before")
    price = NumberField(
        what="The price",
        most=LARGEST_G,
        required=False,
        label="Price of the whole lot",
        help_text="Kept as the cost of a gram or a piece.",
    )
    standing = forms.ChoiceField(
        label="It is",
        widget=forms.RadioSelect,
        choices=[
            (Lot.Standing.RELEASED, "released: looked at, papers in order, may be used"),
            (Lot.Standing.QUARANTINE, "in quarantine: waits for its papers or a test"),
        ],
        error_messages=required("Released or in quarantine", "choose one"),
    )
    why = ReasonField(label="What was checked, or what it waits for", required=False)

    def __init__(
        self, *args: Any, workshop: Workshop, materials: Sequence[Material], suppliers: Sequence[Supplier], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["price"].label = f"Price of the whole lot, {workshop.currency}"
        self._materials = {str(one.pk): one for one in materials}
        self._suppliers = {str(one.pk): one for one in suppliers}
        self.fields["material"] = forms.ChoiceField(
            label="Material",
            choices=[("", "Choose…"), *((key, one.name) for key, one in self._materials.items()), (NEW, "a new material")],
            error_messages=required("The material", "choose it, or a new one")
            | {"invalid_choice": "Choose the material from the list."},
        )
        self.fields["amount"] = NumberField(what="The amount", above=Decimal(0), most=LARGEST_G, label="Amount")
        self.fields["unit"] = unit_field(workshop)
        self.fields["unit"].choices = [*self.fields["unit"].choices, ("pieces", "pieces")]
        self.fields["supplier"] = forms.ChoiceField(
            label="Supplier",
            required=False,
            choices=[("", "not named"), *((key, one.name) for key, one in self._suppliers.items()), (NEW, "a new supplier")],
            error_messages={"invalid_choice": "Choose the supplier from the list."},
        )
        self.fields["received_on"] = DayField(what="The day of receipt", label="Came in on")

    def clean(self) -> dict[str, Any]:
        """Ask for what a new material or supplier needs, and for a unit that fits the material."""
        values = super().clean() or {}
        material = self._materials.get(values.get("material", ""))
        if values.get("material") == NEW:
            if not values.get("new_name"):
                self.add_error("new_name", "The new material's name is missing: type a name.")
            if not values.get("new_kind"):
                self.add_error("new_kind", "The new material's kind is missing: choose it from the list.")
        if values.get("supplier") == NEW and not values.get("new_supplier"):
            self.add_error("new_supplier", "The new supplier's name is missing: type a name.")
        measure = material.measure if material else measure_of(values["new_kind"]) if values.get("new_kind") else ""
        if measure and "unit" in values and (values["unit"] == "pieces") != (measure == Material.Measure.PIECES):
            name = material.name if material else "This kind"
            said = "is counted in pieces" if measure == Material.Measure.PIECES else "is kept in grams"
            self.add_error("unit", f"{name} {said}: choose the unit again.")
        return values

    @property
    def material(self) -> Material | None:
        """Return the material that was chosen, or None for a new one."""
        return self._materials.get(self.cleaned_data["material"])

    @property
    def supplier(self) -> Supplier | None:
        """Return the supplier that was chosen, or None."""
        return self._suppliers.get(self.cleaned_data["supplier"])

    @property
    def amount(self) -> Decimal:
        """Return grams or pieces."""
        values = self.cleaned_data
        return values["amount"] if values["unit"] == "pieces" else in_grams(values["amount"], values["unit"])

    @property
    def unit_cost(self) -> Decimal | None:
        """Return the cost of a gram or a piece."""
        price = self.cleaned_data["price"]
        return None if price is None else price / self.amount
