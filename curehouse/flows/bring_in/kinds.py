"""What can be brought in."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from curehouse.common.errors import Invalid
from curehouse.flows.bring_in.air import AIR_COLUMNS, read_air, take_in_air
from curehouse.flows.bring_in.batches import BATCH_COLUMNS, BESIDE_COLUMNS, read_batches, take_in_batches
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.formulas import FORMULA_COLUMNS, read_formulas, take_in_formulas
from curehouse.flows.bring_in.materials import MATERIAL_COLUMNS, read_material_list, take_in_materials
from curehouse.flows.bring_in.outcome import Outcome
from curehouse.flows.bring_in.stock import STOCK_COLUMNS, read_stock, take_in_stock
from curehouse.flows.bring_in.suppliers import SUPPLIER_COLUMNS, read_suppliers, take_in_suppliers
from curehouse.flows.bring_in.uses import USE_COLUMNS, read_uses, take_in_uses
from curehouse.flows.bring_in.work import Work


@dataclass(frozen=True, slots=True)
class ImportKind:
    """Something a file can hold: its columns, and how it is read and taken in.

    ``read`` looks at the file alone. ``take_in`` holds what was read against the house, inside the
    caller's transaction, and writes only where :attr:`Work.writes` says so and no row is refused.
    ``beside`` are the columns of a second table, where the kind knows one.
    """

    key: str
    label: str
    hint: str
    columns: tuple[Column, ...]
    read: Callable[[Work], Any]
    take_in: Callable[[Work, Any], Outcome]
    beside: tuple[Column, ...] = ()


KINDS = {
    kind.key: kind
    for kind in (
        ImportKind(
            key="batches",
            label="Batches with their weighings",
            hint="One row for each weighing. Cut dates may stand in a second file.",
            columns=BATCH_COLUMNS,
            beside=BESIDE_COLUMNS,
            read=read_batches,
            take_in=take_in_batches,
        ),
        ImportKind(
            key="stock",
            label="Stock",
            hint="One row for each lot, with what is on hand now.",
            columns=STOCK_COLUMNS,
            read=read_stock,
            take_in=take_in_stock,
        ),
        ImportKind(
            key="materials",
            label="Materials",
            hint="One row for each, with its figures if you have your own.",
            columns=MATERIAL_COLUMNS,
            read=read_material_list,
            take_in=take_in_materials,
        ),
        ImportKind(
            key="formulas",
            label="Formulas",
            hint="One row for each thing that goes in. Lye is worked out.",
            columns=FORMULA_COLUMNS,
            read=read_formulas,
            take_in=take_in_formulas,
        ),
        ImportKind(
            key="suppliers",
            label="Suppliers",
            hint="One row for each.",
            columns=SUPPLIER_COLUMNS,
            read=read_suppliers,
            take_in=take_in_suppliers,
        ),
        ImportKind(
            key="uses",
            label="Past use of materials",
            hint="One row for each amount that was used. Bring the stock and the batches in first.",
            columns=USE_COLUMNS,
            read=read_uses,
            take_in=take_in_uses,
        ),
        ImportKind(
            key="air",
            label="The air of rooms",
            hint="One row for each reading, or for each day.",
            columns=AIR_COLUMNS,
            read=read_air,
            take_in=take_in_air,
        ),
    )
}


def kind_called(key: str) -> ImportKind:
    """Return a kind, or say which there are."""
    if key not in KINDS:
        raise Invalid("kind", f"Say what the file holds: {', '.join(KINDS)}.", field="kind")
    return KINDS[key]
