"""Materials, suppliers and lots of a list: those the house knows, and those the list brings."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from curehouse.common.steps import in_steps
from curehouse.flows.bring_in.cells import CellFault
from curehouse.flows.bring_in.header_units import PIECES
from curehouse.flows.bring_in.lines import Line
from curehouse.flows.bring_in.stock_cells import KIND_WORDS, Amount
from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material, Movement, Supplier
from inventory.services.things import MaterialEntry, SupplierEntry, measure_of, write_materials, write_suppliers


class Things:
    """Materials and suppliers by their name in small letters; ``named`` are the materials that the list names."""

    def __init__(self, workshop: Workshop, lines: Iterable[Line], *, unit: str) -> None:
        self._workshop, self._unit = workshop, unit
        self.materials = {row.name.casefold(): row for row in Material.objects.within(workshop)}
        self.suppliers = {row.name.casefold(): row for row in Supplier.objects.within(workshop)}
        self.new_materials: dict[str, MaterialEntry] = {}
        self.new_suppliers: dict[str, SupplierEntry] = {}
        self._kinds: dict[str, tuple[str, int]] = {}
        self.named: set[str] = set()
        for line in lines:
            key = line.facts["material"].casefold()
            self.named.add(key)
            if "material_kind" in line.facts:
                self._kinds.setdefault(key, (line.facts["material_kind"], line.row.number))

    def amount(self, line: Line) -> tuple[Decimal, str] | None:
        """Return a line's grams or pieces, and which of both; None where that is refused.

        A material that is not here is noted as new.
        """
        measure, told = self._measure(line), line.facts["amount"]
        if measure is None:
            return None
        try:
            return told.of(measure, unless_said=self._unit), measure
        except CellFault as fault:
            line.refuse("amount", str(fault))
            return None

    def _measure(self, line: Line) -> str | None:
        name, kind = line.facts["material"], line.facts.get("material_kind")
        key = name.casefold()
        here = self.materials.get(key)
        if here is not None:
            if kind is not None and kind != here.kind:
                line.refuse("material_kind", f"is another kind than the house knows: {here} is {here.get_kind_display()}")
                return None
            return here.measure
        if key not in self._kinds:
            line.refuse(
                "material_kind", f"of {name} is not said, and it is new here: name a column for its kind ({KIND_WORDS})"
            )
            return None
        first, row = self._kinds[key]
        if kind is not None and kind != first:
            line.refuse("material_kind", f"says something else of {name} than row {row} does: make both the same")
            return None
        if key not in self.new_materials:
            self.new_materials[key] = MaterialEntry(name, first, _measure_said(line.facts["amount"], first))
        return self.new_materials[key].measure

    def written(self, line: Line) -> str:
        """Return a line's amount in words: grams, or pieces where its material is counted."""
        key, told = line.facts["material"].casefold(), line.facts["amount"]
        material = self.materials.get(key) or self.new_materials.get(key)
        is_counted = material is not None and material.measure == Material.Measure.PIECES and not told.unit
        return f"{told.number.normalize():f} {PIECES}" if is_counted else told.in_words(unless_said=self._unit)

    @property
    def known(self) -> list[Material]:
        """Return the materials that the list names and the house knows."""
        return [self.materials[name] for name in sorted(self.named) if name in self.materials]

    def note_supplier(self, name: str) -> None:
        """Note a supplier that is not here as new."""
        if name and name.casefold() not in self.suppliers:
            self.new_suppliers.setdefault(name.casefold(), SupplierEntry(name))

    def write(self) -> None:
        """Write what is new."""
        materials = write_materials(workshop=self._workshop, entries=list(self.new_materials.values()))
        self.materials |= dict(zip(self.new_materials, materials, strict=True))
        suppliers = write_suppliers(workshop=self._workshop, entries=list(self.new_suppliers.values()))
        self.suppliers |= dict(zip(self.new_suppliers, suppliers, strict=True))


def _measure_said(amount: Amount, kind: str) -> str:
    if not amount.unit:
        return measure_of(kind)
    return Material.Measure.PIECES if amount.unit == PIECES else Material.Measure.GRAMS


def lots_of(workshop: Workshop, materials: Iterable[Material]) -> list[Lot]:
    """Return all lots of materials, the first expired first."""
    keys = sorted({row.pk for row in materials})
    found: list[Lot] = []
    for part in in_steps(keys):
        found += Lot.objects.within(workshop).filter(material__in=part).named().first_expired_first()
    return found


def taken_back(workshop: Workshop, lots: Iterable[Lot]) -> set[int]:
    """Return the keys of those of *lots* whose receipts were all taken back: they never came."""
    found: set[int] = set()
    for part in in_steps(sorted(lot.pk for lot in lots)):
        rows = Movement.objects.within(workshop).filter(lot__in=part)
        found |= rows.received_lots() - rows.in_force().received_lots()
    return found


def taken_back_of(workshop: Workshop, movements: Iterable[int]) -> set[int]:
    """Return those of *movements*, by their keys, that were taken back."""
    found: set[int] = set()
    for part in in_steps(sorted(movements)):
        rows = Movement.objects.within(workshop).filter(corrects__in=part)
        found |= set(rows.values_list("corrects", flat=True))
    return found


class LotsHere:
    """The lots of the materials that a list names: those that are here, and those that never came."""

    def __init__(self, workshop: Workshop, things: Things) -> None:
        every = lots_of(workshop, things.known)
        self._never_came = taken_back(workshop, every)
        self._things = things
        self._lots: dict[tuple[int, str, str], list[Lot]] = {}
        for lot in every:
            named = (lot.material_id, lot.supplier_lot.casefold(), lot.supplier.name.casefold() if lot.supplier else "")
            self._lots.setdefault(named, []).append(lot)

    def numbered(self, material: Material, supplier_lot: str, supplier: str) -> Lot | None:
        """Return the lot that is here by its number and supplier (in small letters); one that never came is not."""
        found = self._lots.get((material.pk, supplier_lot, supplier), []) if supplier_lot else []
        return next((lot for lot in reversed(found) if lot.pk not in self._never_came), None)

    def never_came(self, facts: Mapping[str, Any]) -> bool:
        """Return whether what a row that came in before tells of has no lot left whose receipt stands."""
        material = self._things.materials.get(facts["material"].casefold())
        named = [facts.get(key, "").casefold() for key in ("supplier_lot", "supplier")]
        called = self._lots.get((material.pk, *named), []) if material else []
        # Where its days were corrected here, by its name alone.
        told = [lot for lot in called if _is_told(lot, facts)] or called
        return bool(told) and all(lot.pk in self._never_came for lot in told)


def _is_told(lot: Lot, facts: Mapping[str, Any]) -> bool:
    return all(facts.get(key) in (None, getattr(lot, key)) for key in ("received_on", "best_before"))


def lots_called(workshop: Workshop, keys: Sequence[int]) -> dict[int, Lot]:
    """Return lots by their keys."""
    found: dict[int, Lot] = {}
    for part in in_steps(keys):
        found |= {lot.pk: lot for lot in Lot.objects.within(workshop).filter(pk__in=part).named()}
    return found
