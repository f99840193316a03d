"""The kind *uses*: what was used before, one row an amount of a material, by which batch if that is known.

What a stock list brought was on hand when it came in and lacks what was used before; such a use is
booked with as much that came in, and the balance stays. Of a lot that was received by hand a use comes
off. A lot that the house does not know is gone: it comes in with what was used of it.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from curehouse.common.time import local_day
from curehouse.flows.bring_in.batch_moments import Clock
from curehouse.flows.bring_in.cells import Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.lines import Line, LinesRead, Needed, many, read_lines, row_key, text_of
from curehouse.flows.bring_in.outcome import Outcome, outcome
from curehouse.flows.bring_in.stock_cells import amount, material_kind
from curehouse.flows.bring_in.stock_known import Things, lots_of
from curehouse.flows.bring_in.use_lots import GoneLot, UseLots, came_with_a_list
from curehouse.flows.bring_in.work import Work
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.superfats import renew_superfats
from curehouse.intake.services import brought_before, note_brought
from curehouse.making.models import Batch
from curehouse.making.services import BatchTook, bring_batch_uses, lock_batches
from inventory.models import Irregular, Lot
from inventory.services.brought import BroughtUse, bring_lots, bring_uses, lock_for_lots
from inventory.services.entries import LONGEST_REASON
from inventory.services.lots import ReceiptEntry
from inventory.services.posting import lock_lots

USES = "uses"
WHY = "brought in with what was used of it"

USE_COLUMNS = (
    Column("batch", "Batch", "the name or number it has here"),
    Column("material", "Material"),
    Column("material_kind", "Kind of material", "fat, lye, liquid, additive, fragrance, colour, packaging or bars"),
    Column("supplier_lot", "Lot number", "the supplier's, or the house's own"),
    Column("amount", "Amount used", "with its unit, or in the unit chosen below"),
    Column("unit", "Unit of the amount"),
    Column("used_on", "Used on"),
    Column("note", "Note"),
)


def _used_on(cells: Cells, line: Line) -> object:
    return cells.moment(line.cell("used_on"))


_READERS = {
    "batch": text_of("batch"),
    "material": text_of("material"),
    "material_kind": material_kind,
    "supplier_lot": text_of("supplier_lot"),
    "amount": amount,
    "used_on": _used_on,
    "note": text_of("note", longest=LONGEST_REASON),
}
_NEEDED = {
    "material": Needed("Say which column names the material.", "is empty: say which material the row is about"),
    "amount": Needed("Say which column holds the amounts.", "is empty: say how much was used"),
    "used_on": Needed("Say which column tells when it was used.", "is empty: say when it was used"),
}


def read_uses(work: Work) -> LinesRead:
    """Read the list, without looking anything up."""
    return read_lines(work, USE_COLUMNS, _READERS, needed=_NEEDED, figures=("amount",))


@dataclass(slots=True)
class _SettledUse:
    """A use to be booked; its lot is here, or gone."""

    amount: Decimal
    moment: datetime
    lot: Lot | GoneLot
    batch: Batch | None
    irregular: str
    reason: str
    key: str


def _batches_named(work: Work, lines: Sequence[Line]) -> dict[str, list[Batch]]:
    """Return the batches that lines name, by that name in small letters; locked where they are to be written to.

    A file's own name of a batch and the house's number of another may be the same: then there are two.
    """
    wanted = {line.facts["batch"].casefold() for line in lines if "batch" in line.facts}
    if not wanted:
        return {}
    rows = Batch.objects.within(work.workshop).select_related("formula")
    found: dict[str, list[Batch]] = {}
    for row in rows:
        for name in {name.casefold() for name in (f"{row.number}", f"{row}", row.known_as)} & wanted:
            found.setdefault(name, []).append(row)
    if work.writes:
        locked = {row.pk: row for row in lock_batches(work.workshop, [row.pk for named in found.values() for row in named])}
        found = {name: [locked[row.pk] for row in named] for name, named in found.items()}
    return found


class _Settling:
    """Holds a list of uses against the house."""

    def __init__(self, work: Work, found: LinesRead) -> None:
        self._work, self._found = work, found
        self._clock = Clock.of(work.workshop, work.at)
        self.things = Things(work.workshop, found.lines, unit=work.options.unit)
        named = {line.facts["material"].casefold() for line in found.lines}
        materials = [self.things.materials[name] for name in named if name in self.things.materials]
        if work.writes:
            lock_for_lots(workshop=work.workshop, materials=materials)
        self._batches = _batches_named(work, found.lines)
        lots = lots_of(work.workshop, materials)
        if work.writes:
            locked = lock_lots(workshop=work.workshop, lots=lots)
            lots = [locked[lot.pk] for lot in lots]
        self.lots = UseLots(lots)
        self.listed = came_with_a_list(work.workshop, lots)
        self._keys = self._numbered(found.lines)
        self._before = brought_before(workshop=work.workshop, kind=USES, keys=sorted(set(self._keys.values())))
        self.new: list[_SettledUse] = []
        self.known = 0

    def _numbered(self, lines: Sequence[Line]) -> dict[int, str]:
        """Return the key of each line: what it says, and the how-manieth it is that says so.

        The same amount may well have been used twice in a day.
        """
        first: dict[tuple[str, ...], Line] = {}
        times: Counter[tuple[str, ...]] = Counter()
        keys = {}
        for line in lines:
            facts = line.facts
            said = facts["amount"].written(unless_said=self._work.options.unit)
            names = [facts.get(key, "") for key in ("batch", "material", "supplier_lot")]
            whole = (*names, f"{facts['used_on']}", said)
            times[whole] += 1
            keys[id(line)] = row_key(*whole, *([f"{times[whole]}"] if times[whole] > 1 else []))
            if first.setdefault(whole, line) is not line:
                rows = f"{first[whole].row.number} and {line.row.number}"
                self._found.findings.remark(f"Rows {rows} say the same; both count. Leave one out if it was used once.")
        return keys

    def settle(self) -> None:
        """Settle every line; what is refused is among the findings."""
        for done, line in enumerate(self._found.lines):
            if done % 50 == 0:
                self._work.progress("checking", done, len(self._found.lines))
            key = self._keys[id(line)]
            if key in self._before:
                self.known += 1
            else:
                self._settle(line, key)
        self.new.sort(key=lambda one: one.moment)

    def _settle(self, line: Line, key: str) -> None:
        moment, batch = self._clock.moment(line.facts["used_on"]), None
        if moment > self._work.at:
            line.refuse("used_on", "lies in the future: book a use once it is done")
            return
        if "batch" in line.facts:
            named = self._batches.get(line.facts["batch"].casefold(), [])
            if not named:
                line.refuse("batch", "is no batch here: bring the batches in first, or check the name")
                return
            if len(named) > 1:
                line.refuse("batch", f"may be {' or '.join(map(str, named))}: write its whole name")
                return
            batch = named[0]
        found = self.things.amount(line)
        if found is None:
            return
        material = self.things.materials.get(line.facts["material"].casefold())
        day = local_day(moment, self._work.workshop.time_zone)
        lot = self.lots.lot_for(line, material and material.pk, day=day, amount=found[0])
        if lot is None:
            return
        irregular, reason = lot.irregular_on(day) if isinstance(lot, Lot) else "", line.facts.get("note", "")
        if irregular and not reason:
            label = Irregular(irregular).label
            line.refuse("supplier_lot", f"is {lot}, which is {label}: say in a note why it was used all the same")
            return
        self.new.append(_SettledUse(found[0], moment, lot, batch, irregular, reason, key))

    def is_off(self, one: _SettledUse) -> bool:
        """Return whether what the lot holds lacks a use already."""
        return isinstance(one.lot, Lot) and one.lot.pk in self.listed and one.moment < one.lot.written_at


def _remarks(settling: _Settling, found: LinesRead) -> None:
    off = sum(settling.is_off(one) for one in settling.new)
    if off:
        found.findings.remark(
            f"{many(off, 'use')} from before the stock list came in: what is on hand lacks that already, and stays."
        )
    if settling.lots.gone:
        said = f"{many(len(settling.lots.gone), 'lot')} not known here: brought in with what was used, and nothing left."
        found.findings.remark(said)


def take_in_uses(work: Work, found: LinesRead) -> Outcome:
    """Hold the list against the house, and book what is new."""
    settling = _Settling(work, found)
    settling.settle()
    _remarks(settling, found)
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds={
            "uses": len(settling.new),
            "lots": len(settling.lots.gone),
            "materials": len(settling.things.new_materials),
        },
        known={"uses": settling.known},
    )
    if work.writes and not result.refused_rows and settling.new:
        _write(work, settling)
    return result


def _write(work: Work, settling: _Settling) -> None:
    work.progress("writing", 0, 1)
    settling.things.write()
    gone = list(settling.lots.gone.values())
    entries = [
        ReceiptEntry(
            material=settling.things.materials[one.material],
            amount=one.amount,
            received_on=one.received_on,
            supplier_lot=one.supplier_lot,
            standing=Lot.Standing.RELEASED,
            why=WHY,
        )
        for one in gone
    ]
    written = {id(one): lot for one, lot in zip(gone, bring_lots(actor=work.actor, entries=entries, at=work.at), strict=True)}
    lots = [one.lot if isinstance(one.lot, Lot) else written[id(one.lot)] for one in settling.new]
    uses = [
        BroughtUse(lot=lot, amount=one.amount, moment=one.moment, reason=one.reason, is_off=settling.is_off(one))
        for one, lot in zip(settling.new, lots, strict=True)
    ]
    movements = bring_uses(actor=work.actor, uses=uses, at=work.at)
    took = [
        BatchTook(one.batch, movement, one.irregular)
        for one, movement in zip(settling.new, movements, strict=True)
        if one.batch is not None
    ]
    bring_batch_uses(actor=work.actor, took=took, at=work.at)
    renew_superfats(batches={one.batch.pk: one.batch for one in took}.values(), at=work.at)
    note_brought(workshop=work.workshop, kind=USES, keys=[one.key for one in settling.new], brought=work.brought)
    renew_stock(workshop=work.workshop, at=work.at, material_ids={lot.material_id for lot in lots})
    work.progress("writing", 1, 1)
