"""The kind *materials*: one row a material, with what the workshop knows of what it is made of."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from curehouse.common.errors import DomainError
from curehouse.common.tables import Unreadable
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.lines import TWICE, Line, LinesRead, Needed, Read, read_lines, text_of
from curehouse.flows.bring_in.outcome import Outcome, outcome
from curehouse.flows.bring_in.stock_cells import material_kind
from curehouse.flows.bring_in.work import Work
from curehouse.making.fats import fat_kinds
from curehouse.making.liquids import liquid_kinds
from curehouse.making.services.facts import FactsEntry, check_facts, facts_entry, write_facts
from inventory.models import Material
from inventory.services.things import MaterialEntry, write_materials

MATERIAL_COLUMNS = (
    Column("material", "Material"),
    Column("material_kind", "Kind"),
    Column("of_list", "It is, in the list", "olive oil"),
    Column("saponification_low", "Saponification value, from", "mg KOH per g"),
    Column("saponification_high", "Saponification value, to", "mg KOH per g"),
    Column("water_part", "Water, %"),
    Column("fat_part", "Fat, %"),
    Column("maximum", "Maximum in the bar, %"),
    Column("allergen", "Allergen"),
    Column("source", "Source of the figures"),
)


def _value_of(key: str) -> Read:
    return lambda cells, line: cells.number(line.cell(key))


def _percent_of(key: str) -> Read:
    """Return what reads per cent, with or without their sign."""

    def read(cells: Cells, line: Line) -> Decimal:
        cell = line.cell(key)
        if isinstance(cell, str) and not isinstance(cell, Unreadable):
            cell = cell.strip().removesuffix("%").strip()
        number = cells.number(cell)
        if not 0 <= number <= 100:
            raise CellFault("is not between 0 and 100 %")
        return number / 100

    return read


def _of_list(cells: Cells, line: Line) -> str:
    said = cells.text(line.cell("of_list")).casefold()
    for rows in (fat_kinds(), liquid_kinds()):
        for key, row in rows.items():
            if said in (key, row.name.casefold()):
                return str(key)
    raise CellFault("is nothing of the list of fats and liquids: name it as the list does")


_READERS = {
    "material": text_of("material"),
    "material_kind": material_kind,
    "of_list": _of_list,
    "saponification_low": _value_of("saponification_low"),
    "saponification_high": _value_of("saponification_high"),
    "water_part": _percent_of("water_part"),
    "fat_part": _percent_of("fat_part"),
    "maximum": _percent_of("maximum"),
    "allergen": text_of("allergen", longest=80),
    "source": text_of("source", longest=200),
}
_NEEDED = {
    "material": Needed("Say which column names the material.", "is empty: say what the row is about"),
    "material_kind": Needed("Say which column holds the kind of material.", "is empty: say what kind of material it is"),
}
_FACTS = {
    "of_list": "key", "water_part": "water_fraction", "fat_part": "fat_fraction", "maximum": "most_share",
    **{key: key for key in ("saponification_low", "saponification_high", "allergen", "source")},
}  # fmt: skip


def read_material_list(work: Work) -> LinesRead:
    """Read the list, without looking anything up."""
    figures = ("saponification_low", "saponification_high", "water_part", "fat_part", "maximum")
    return read_lines(work, MATERIAL_COLUMNS, _READERS, needed=_NEEDED, figures=figures)


@dataclass(frozen=True, slots=True)
class _Row:
    line: Line
    entry: MaterialEntry
    facts: FactsEntry


def _facts(line: Line) -> FactsEntry:
    told: dict[str, Any] = {name: line.facts[key] for key, name in _FACTS.items() if key in line.facts}
    return FactsEntry(**told)


def take_in_materials(work: Work, found: LinesRead) -> Outcome:
    """Hold the list against the house; write what is new, and what is made of where nothing was written of it."""
    here = {row.name.casefold(): row for row in Material.objects.within(work.workshop).select_related("facts")}
    first: dict[str, _Row] = {}
    for line in found.lines:
        row = _Row(line, MaterialEntry(line.facts["material"], line.facts["material_kind"]), _facts(line))
        earlier = first.setdefault(row.entry.name.casefold(), row)
        if earlier is row:
            _check(row)
        elif (row.entry, row.facts) != (earlier.entry, earlier.facts):
            line.refuse("material", f"stands in row {earlier.line.row.number} too, with other figures: make one row of both")
        else:
            found.findings.remark(TWICE)
    new = [row for key, row in first.items() if key not in here]
    told = [(here[key], row.facts) for key, row in first.items() if key in here and _is_news(here[key], row, found)]
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds={"materials": len(new), "figures of materials": len(told)},
        known={"materials": len(first) - len(new)},
    )
    if work.writes and not result.refused_rows:
        written = write_materials(workshop=work.workshop, entries=[row.entry for row in new]) if new else []
        told += [(row, one.facts) for row, one in zip(written, new, strict=True) if one.facts != FactsEntry()]
        for material, facts in told:
            write_facts(material=material, entry=facts)
    return result


def _check(row: _Row) -> None:
    if row.facts == FactsEntry():
        return
    try:
        check_facts(kind=row.entry.kind, entry=row.facts)
    except DomainError as error:
        key = next((key for key, name in _FACTS.items() if name == error.field), "material")
        row.line.refuse(key, f"cannot be kept. {error.message}")


def _is_news(material: Material, row: _Row, found: LinesRead) -> bool:
    """Return whether figures are to be written of a material that is here; what it has stays."""
    now = facts_entry(material)
    if row.facts == FactsEntry() or row.facts == now:
        return False
    if now != FactsEntry():
        found.findings.remark(f"{material} is here with other figures, and they stay.")
        return False
    if material.kind != row.entry.kind:
        row.line.refuse("material_kind", f"is another than here, where {material} is {material.get_kind_display()}")
        return False
    return True
