"""What a list of formulas says of the lye: how much of it is which, and how pure; and what of the list is not read."""

from collections.abc import Callable, Mapping
from decimal import Decimal

from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.header_units import Holds
from curehouse.flows.bring_in.lines import Line, Read
from curehouse.flows.bring_in.table import Table

LYE_COLUMNS = (
    Column("naoh_share", "Of the lye NaOH, %", "counted in equivalents; the rest of it is KOH", Holds.PER_CENT),
    Column("koh_share", "Of the lye KOH, %", "counted in equivalents", Holds.PER_CENT),
    Column("naoh_purity", "Purity of the NaOH, %", "by its certificate", Holds.PER_CENT),
    Column("koh_purity", "Purity of the KOH, %", "by its certificate", Holds.PER_CENT),
)
LYE_TOLD = {
    "naoh_share": "share of NaOH",
    "koh_share": "share of KOH",
    "naoh_purity": "purity of the NaOH",
    "koh_purity": "purity of the KOH",
}
_MOST_NAMED = 12


def _percent_of(key: str, what: str, *, least: Decimal) -> Read:
    """Return what reads a share that is written per cent (50, 50 %) or as one (0.5)."""

    def read(cells: Cells, line: Line) -> Decimal:
        number, is_percent = cells.per_cent(line.cell(key), unit=line.table.unit_of(key))
        if number == 1 and (is_percent or key == "koh_share"):
            raise CellFault("can be read two ways, 1 % or all of it: write this formula by hand")
        share = number / 100 if is_percent or number > 1 else number
        if not least <= share <= 1:
            raise CellFault(f"is no {what}: it lies between 0 and 100 %")
        return share

    return read


LYE_READERS: Mapping[str, Read] = {
    key: _percent_of(key, what, least=Decimal("0.01") if key.endswith("purity") else Decimal(0))
    for key, what in LYE_TOLD.items()
}


def naoh_share_of(told: Callable[[str], Decimal | None]) -> Decimal | None:
    """Return the part of the lye (of its equivalents, 0-1) that is NaOH by what is *told*; None where the two disagree."""
    naoh, koh = told("naoh_share"), told("koh_share")
    if naoh is None and koh is None:
        return Decimal(1)
    if naoh is not None and koh is not None and naoh + koh != 1:
        return None
    return naoh if naoh is not None else 1 - (koh or Decimal(0))


def left_out(table: Table) -> str:
    """Return in words which columns of a list of formulas are not read; nothing where all are, or they hold nothing."""
    names = [f"“{header}”" for index, header in enumerate(table.layout.headers) if index not in table.index_of.values()]
    if not names:
        return ""
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return (
        f"Not read, and so counted in no formula: {', '.join(names[:_MOST_NAMED])}{more}. "
        "Saponification values are those of this house or its list. Say what a column is where it is one that is read."
    )
