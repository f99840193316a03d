"""The kind *suppliers*: one row a supplier."""

import re

from curehouse.common.tables import Unreadable
from curehouse.flows.bring_in.as_read import lines_as_read
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.laid_aside import Kept, Spool
from curehouse.flows.bring_in.lines import TWICE, Line, LinesRead, Needed, read_lines, text_of
from curehouse.flows.bring_in.outcome import Outcome, outcome
from curehouse.flows.bring_in.work import Work
from inventory.models import Supplier
from inventory.services.things import SupplierEntry, write_suppliers

LONGEST_CONTACT = 400
# A telephone number with its prefix in brackets is no formula.
_TELEPHONE = re.compile(r"\+[0-9][0-9 ()/.-]{3,40}")
_CONTACTS = ("contact", "telephone", "email", "web", "address")

SUPPLIER_COLUMNS = (
    Column("supplier", "Supplier"),
    Column("contact", "Contact"),
    Column("telephone", "Telephone"),
    Column("email", "E-mail"),
    Column("web", "Web page"),
    Column("address", "Address"),
    Column("note", "Note"),
)


def _telephone(cells: Cells, line: Line) -> str:
    cell = line.cell("telephone")
    if isinstance(cell, str) and not isinstance(cell, Unreadable) and _TELEPHONE.fullmatch(cell.strip()):
        return " ".join(cell.split())
    return cells.text(cell, longest=LONGEST_CONTACT)


_READERS = {
    "supplier": text_of("supplier"),
    **{key: text_of(key, longest=LONGEST_CONTACT) for key in _CONTACTS},
    "telephone": _telephone,
    "note": text_of("note", longest=4000, many_lines=True),
}
_NEEDED = {"supplier": Needed("Say which column names the supplier.", "is empty: say who the row is about")}


def read_suppliers(work: Work) -> LinesRead:
    """Read the list, without looking anything up."""
    return read_lines(work, SUPPLIER_COLUMNS, _READERS, needed=_NEEDED)


def _entry(line: Line) -> SupplierEntry:
    contact = ", ".join(line.facts[key] for key in _CONTACTS if line.facts.get(key))
    if len(contact) > LONGEST_CONTACT:
        raise CellFault(f"has {len(contact)} characters with all the rest of the contact: keep it to {LONGEST_CONTACT}")
    return SupplierEntry(line.facts["supplier"], contact, line.facts.get("note", ""))


def take_in_suppliers(work: Work, found: LinesRead) -> Outcome:
    """Hold the list against the house, and write who is new; who is here stays as the house has them."""
    settling = _Settling(work, found)
    settling.settle()
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds={"suppliers": len(settling.new)},
        known={"suppliers": settling.known},
        as_read=lines_as_read(found, SUPPLIER_COLUMNS),
    )
    if work.writes and not result.refused_rows:
        for part in settling.new.parts():
            write_suppliers(workshop=work.workshop, entries=part)
    return result


class _Settling:
    """Holds a list of suppliers against the house."""

    def __init__(self, work: Work, found: LinesRead) -> None:
        self._found = found
        self._here = {row.name.casefold(): row for row in Supplier.objects.within(work.workshop)}
        self._first: Kept[tuple[int, SupplierEntry]] = Kept()
        self.new: Spool[SupplierEntry] = Spool()
        self.known = 0

    def settle(self) -> None:
        """Settle every line; what is refused is among the findings."""
        for line in self._found.lines:
            try:
                entry = _entry(line)
            except CellFault as fault:
                line.refuse("contact", str(fault))
                continue
            row, before = self._first.setdefault(entry.name.casefold(), (line.row.number, entry))
            if row == line.row.number:
                self._settle(entry)
            elif (entry.contact, entry.note) != (before.contact, before.note):
                line.refuse("supplier", f"stands in row {row} too, with other words: make one row of both")
            else:
                self._found.findings.remark(TWICE)

    def _settle(self, entry: SupplierEntry) -> None:
        here = self._here.get(entry.name.casefold())
        if here is None:
            self.new.add(entry)
            return
        self.known += 1
        if (entry.contact, entry.note) not in ((here.contact, here.note), ("", "")):
            self._found.findings.remark(f"{here} is here with other words and stays as it is.")
