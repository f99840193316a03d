"""The kind *suppliers*: one row a supplier."""

import re

from curehouse.common.tables import Unreadable
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.columns import Column
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
    here = {row.name.casefold(): row for row in Supplier.objects.within(work.workshop)}
    first: dict[str, tuple[Line, SupplierEntry]] = {}
    for line in found.lines:
        try:
            entry = _entry(line)
        except CellFault as fault:
            line.refuse("contact", str(fault))
            continue
        earlier, entry_before = first.setdefault(entry.name.casefold(), (line, entry))
        if earlier is line:
            continue
        if (entry.contact, entry.note) != (entry_before.contact, entry_before.note):
            line.refuse("supplier", f"stands in row {earlier.row.number} too, with other words: make one row of both")
        else:
            found.findings.remark(TWICE)
    new = [entry for key, (_line, entry) in first.items() if key not in here]
    for key, (_line, entry) in first.items():
        row = here.get(key)
        if row is not None and (entry.contact, entry.note) not in ((row.contact, row.note), ("", "")):
            found.findings.remark(f"{row} is here with other words and stays as it is.")
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds={"suppliers": len(new)},
        known={"suppliers": len(first) - len(new)},
    )
    if work.writes and not result.refused_rows and new:
        write_suppliers(workshop=work.workshop, entries=new)
    return result
