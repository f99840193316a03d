"""The kind *materials*: one row a material, with what the workshop knows of what it is made of."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from curehouse.common.errors import DomainError
from curehouse.flows.bring_in.as_read import lines_as_read
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.header_units import Holds
from curehouse.flows.bring_in.laid_aside import Kept, Spool
from curehouse.flows.bring_in.lines import TWICE, Line, LinesRead, Needed, Read, choice_of, read_lines, text_of
from curehouse.flows.bring_in.outcome import Outcome, outcome
from curehouse.flows.bring_in.stock_cells import material_kind
from curehouse.flows.bring_in.work import Work
from curehouse.flows.know import facts_move_said
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.called import key_doubt
from curehouse.making.liquids import Kind, liquid_kinds
from curehouse.making.services.facts import LONGEST_ALLERGEN, FactsEntry, check_facts, facts_entry, write_facts
from inventory.models import Material
from inventory.services.things import MaterialEntry, write_materials

MATERIAL_COLUMNS = (
    Column("material", "Material"),
    Column("material_kind", "Kind"),
    Column("of_list", "It is, in the list", "olive oil"),
    Column("saponification_low", "Saponification value, from", "mg KOH per g", Holds.FIGURE),
    Column("saponification_high", "Saponification value, to", "mg KOH per g", Holds.FIGURE),
    Column("water_part", "Water, %", holds=Holds.PER_CENT),
    Column("fat_part", "Fat, %", holds=Holds.PER_CENT),
    Column("sugar_part", "Sugar, %", holds=Holds.PER_CENT),
    Column("liquid_kind", "What a liquid is", "water, milk, plant milk, milk powder or other"),
    Column("thickened", "Thickened", "yes or no, of a plant milk"),
    Column("maximum", "Maximum in the bar, %", holds=Holds.PER_CENT),
    Column("allergen", "Allergen"),
    Column("source", "Source of the figures"),
)


def _value_of(key: str) -> Read:
    return lambda cells, line: cells.number(line.cell(key))


def _percent_of(key: str) -> Read:
    """Return what reads per cent, with or without their sign."""

    def read(cells: Cells, line: Line) -> Decimal:
        number, _is_said = cells.per_cent(line.cell(key), unit=line.table.unit_of(key))
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


_LIQUIDS: dict[str, str] = {
    **{kind.value: kind.value for kind in Kind},
    "plant milk": Kind.PLANT_MILK, "plant drink": Kind.PLANT_MILK, "pflanzenmilch": Kind.PLANT_MILK,
    "pflanzendrink": Kind.PLANT_MILK,
    "milk powder": Kind.POWDER, "powdered milk": Kind.POWDER, "milchpulver": Kind.POWDER,
    "wasser": Kind.WATER, "milch": Kind.MILK, "eau": Kind.WATER, "lait": Kind.MILK, "acqua": Kind.WATER, "latte": Kind.MILK,
}  # fmt: skip

_READERS = {
    "material": text_of("material"),
    "material_kind": material_kind,
    "of_list": _of_list,
    "saponification_low": _value_of("saponification_low"),
    "saponification_high": _value_of("saponification_high"),
    "water_part": _percent_of("water_part"),
    "fat_part": _percent_of("fat_part"),
    "sugar_part": _percent_of("sugar_part"),
    "liquid_kind": choice_of(
        "liquid_kind", _LIQUIDS, "is not what a liquid is: use water, milk, plant milk, milk powder or other"
    ),
    "thickened": lambda cells, line: cells.yes(line.cell("thickened")),
    "maximum": _percent_of("maximum"),
    "allergen": text_of("allergen", longest=LONGEST_ALLERGEN),
    "source": text_of("source", longest=200),
}
_NEEDED = {
    "material": Needed("Say which column names the material.", "is empty: say what the row is about"),
    "material_kind": Needed("Say which column holds the kind of material.", "is empty: say what kind of material it is"),
}
_FACTS = {
    "of_list": "key", "water_part": "water_fraction", "fat_part": "fat_fraction",
    "sugar_part": "sugar_fraction", "thickened": "is_thickened", "maximum": "most_share",
    **{key: key for key in ("saponification_low", "saponification_high", "liquid_kind", "allergen", "source")},
}  # fmt: skip


def read_material_list(work: Work) -> LinesRead:
    """Read the list, without looking anything up."""
    figures = ("saponification_low", "saponification_high", "water_part", "fat_part", "sugar_part", "maximum")
    return read_lines(work, MATERIAL_COLUMNS, _READERS, needed=_NEEDED, figures=figures)


@dataclass(frozen=True, slots=True)
class _Told:
    """A material as a row tells of it."""

    entry: MaterialEntry
    facts: FactsEntry


def _told_by(line: Line) -> _Told:
    facts: dict[str, Any] = {name: line.facts[key] for key, name in _FACTS.items() if key in line.facts}
    return _Told(MaterialEntry(line.facts["material"], line.facts["material_kind"]), FactsEntry(**facts))


class _Settling:
    """Holds a list of materials against the house."""

    def __init__(self, work: Work, found: LinesRead) -> None:
        self._found = found
        self._here = {row.name.casefold(): row for row in Material.objects.within(work.workshop).select_related("facts")}
        self._first: Kept[tuple[int, _Told]] = Kept()
        self.new: Spool[_Told] = Spool()
        # Of materials that are here: what is made of where nothing was written of it.
        self.news: list[tuple[Material, FactsEntry]] = []
        self.known = 0

    def settle(self) -> None:
        """Settle every line; what is refused is among the findings."""
        for line in self._found.lines:
            told = _told_by(line)
            row, before = self._first.setdefault(told.entry.name.casefold(), (line.row.number, told))
            if row == line.row.number:
                self._settle(line, told)
            elif told != before:
                line.refuse("material", f"stands in row {row} too, with other figures: make one row of both")
            else:
                self._found.findings.remark(TWICE)

    def _settle(self, line: Line, told: _Told) -> None:
        here = self._here.get(told.entry.name.casefold())
        _check(line, told)
        if here is None:
            _ask_about_key(line, told)
            self.new.add(told)
            return
        self.known += 1
        if self._is_news(line, told, here):
            _ask_about_key(line, told)
            self.news.append((here, told.facts))

    def _is_news(self, line: Line, told: _Told, here: Material) -> bool:
        """Return whether figures are to be written of a material that is here; what it has stays."""
        now = facts_entry(here)
        if told.facts == FactsEntry() or told.facts == now:
            return False
        if now != FactsEntry():
            self._found.findings.remark(f"{here} is here with other figures, and they stay.")
            return False
        if here.kind != told.entry.kind:
            line.refuse("material_kind", f"is another than here, where {here} is {here.get_kind_display()}")
            return False
        return True


def take_in_materials(work: Work, found: LinesRead) -> Outcome:
    """Hold the list against the house; write what is new, and what is made of where nothing was written of it."""
    settling = _Settling(work, found)
    settling.settle()
    if settling.news and not found.findings.refused_rows:
        said = facts_move_said(workshop=work.workshop, news=settling.news, at=work.at)
        found.findings.remarks[:0] = [said] if said else []
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds={"materials": len(settling.new), "figures of materials": len(settling.news)},
        known={"materials": settling.known},
        as_read=lines_as_read(found, MATERIAL_COLUMNS),
    )
    if work.writes and not result.refused_rows:
        for part in settling.new.parts():
            written = write_materials(workshop=work.workshop, entries=[told.entry for told in part])
            for material, told in zip(written, part, strict=True):
                if told.facts != FactsEntry():
                    write_facts(material=material, entry=told.facts)
        for material, facts in settling.news:
            write_facts(material=material, entry=facts)
    return result


def _ask_about_key(line: Line, told: _Told) -> None:
    if doubt := key_doubt(told.entry.name, told.facts.key):
        line.refuse("of_list", f"needs a person: {doubt} Leave it empty here, and say where the material stands what it is")


def _check(line: Line, told: _Told) -> None:
    if told.facts == FactsEntry():
        return
    try:
        check_facts(kind=told.entry.kind, entry=told.facts)
    except DomainError as error:
        key = next((key for key, name in _FACTS.items() if name == error.field), "material")
        line.refuse(key, f"cannot be kept. {error.message}")
