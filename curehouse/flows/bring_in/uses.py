"""The kind *uses*: what was used before, one row an amount of a material, by which batch if that is known.

What a count or a stock list says was there lacked what was used before it: such a use leaves what is on
hand. Any other comes off. A lot that the house does not know is gone: it comes in with what was used of it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from decimal import Decimal

from curehouse.common.time import local_day
from curehouse.flows.bring_in.as_read import lines_as_read
from curehouse.flows.bring_in.batch_moments import Clock
from curehouse.flows.bring_in.cells import Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.header_units import Holds
from curehouse.flows.bring_in.laid_aside import Kept, Spool
from curehouse.flows.bring_in.lines import Line, LinesRead, Needed, many, read_lines, row_key, text_of
from curehouse.flows.bring_in.outcome import Outcome, outcome
from curehouse.flows.bring_in.stock_cells import amount, material_kind
from curehouse.flows.bring_in.stock_known import Things, lots_called, lots_of, taken_back_of
from curehouse.flows.bring_in.use_lots import GoneLot, OpenLot, UseLots
from curehouse.flows.bring_in.work import Work
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.superfats import renew_superfats
from curehouse.flows.verdict_notices import end_promises
from curehouse.intake.services import booked_before, note_brought
from curehouse.making.models import Batch
from curehouse.making.services import BatchTook, bring_batch_uses, lock_batches
from inventory.models import Irregular, Lot
from inventory.services.brought import BroughtUse, bring_lots, bring_uses, lock_for_lots
from inventory.services.entries import LONGEST_REASON, show_amount
from inventory.services.lots import ReceiptEntry
from inventory.services.posting import lock_lots
from inventory.services.recounts import counts_of

USES = "uses"
WHY = "brought in with what was used of it"
_MOST_NAMED = 5

USE_COLUMNS = (
    Column("batch", "Batch", "the name or number it has here"),
    Column("material", "Material"),
    Column("material_kind", "Kind of material", "fat, lye, liquid, additive, fragrance, colour, packaging or bars"),
    Column("supplier_lot", "Lot number", "the supplier's, or the house's own"),
    Column("amount", "Amount used", "with its unit, or in the unit chosen below", Holds.AMOUNT),
    Column("unit", "Unit of the amount"),
    Column("used_on", "Used on", holds=Holds.DAY),
    Column("note", "Note"),
)


def _used_on(cells: Cells, line: Line) -> object:
    return cells.moment(line.cell("used_on"))


_READERS = {
    "batch": lambda cells, line: cells.name(line.cell("batch")),
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


@dataclass(frozen=True, slots=True)
class _SettledUse:
    """A use to be booked: of a lot that is here (its key), of one that is gone (its name among those), or of an open one."""

    amount: Decimal
    moment: datetime
    lot: int | None
    gone: str
    open: OpenLot | None
    batch: int | None
    irregular: str
    reason: str
    key: str
    is_again: bool


def _batches_named(work: Work, lines: Iterable[Line]) -> dict[str, list[Batch]]:
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
        materials = self.things.known
        if work.writes:
            lock_for_lots(workshop=work.workshop, materials=materials)
        self._batches = _batches_named(work, found.lines)
        self.batches = {row.pk: row for named in self._batches.values() for row in named}
        lots = lots_of(work.workshop, materials)
        if work.writes:
            locked = lock_lots(workshop=work.workshop, lots=lots)
            lots = [locked[lot.pk] for lot in lots]
        self.lots = UseLots(lots, counts_of(work.workshop, lots), at=work.at)
        self._said: Kept[tuple[int, int]] = Kept()
        self._told: Spool[_SettledUse] = Spool()
        # Of each row what it took of each lot, in the order in which it happened.
        self.new: Spool[list[_SettledUse]] = Spool()
        self.known = self.off = self.came_again = 0

    def _key_of(self, line: Line) -> str:
        """Return the key of a line: what it says, and the how-manieth it is that says so.

        The same amount may well have been used twice in a day.
        """
        facts = line.facts
        said = facts["amount"].written(unless_said=self._work.options.unit)
        whole = [*(facts.get(key, "") for key in ("batch", "material", "supplier_lot")), f"{facts['used_on']}", said]
        key = row_key(*whole)
        first, times = self._said.setdefault(key, (line.row.number, 0))
        self._said.change(key, (first, times + 1))
        if not times:
            return key
        rows = f"{first} and {line.row.number}"
        self._found.findings.remark(f"Rows {rows} say the same; both count. Leave one out if it was used once.")
        return row_key(*whole, f"{times + 1}")

    def settle(self) -> None:
        """Settle every line; what is refused is among the findings."""
        done = 0
        for part in self._found.lines.parts():
            self._work.progress("checking", done, len(self._found.lines))
            keys = [self._key_of(line) for line in part]
            before = booked_before(workshop=self._work.workshop, kind=USES, keys=sorted(keys))
            gone = taken_back_of(self._work.workshop, [movement for booked in before.values() for movement in booked])
            for line, key in zip(part, keys, strict=True):
                booked = before.get(key)
                is_again = bool(booked) and gone.issuperset(booked)
                if booked is not None and not is_again:
                    self.known += 1
                else:
                    self.came_again += is_again
                    self._settle(line, key, is_again=is_again)
            done += len(part)
        for use in self._told:
            parts = self._parts(use)
            self.off += self.lots.is_lacked(parts[0].lot, use.moment)
            self.new.add(parts)

    def _parts(self, use: _SettledUse) -> list[_SettledUse]:
        """Return what a use took of each lot; once every line is read, for what names its lot comes first."""
        if use.open is None:
            return [use]
        day = local_day(use.moment, self._work.workshop.time_zone)
        taken = self.lots.shared_out(use.open, moment=use.moment, day=day, amount=use.amount)
        return [replace(use, lot=lot, amount=part) for lot, part in taken.items()]

    def _settle(self, line: Line, key: str, *, is_again: bool) -> None:
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
        lot = self.lots.lot_for(line, material and material.pk, moment=moment, day=day, amount=found[0])
        if lot is None:
            return
        irregular, reason = lot.irregular_on(day) if isinstance(lot, Lot) else "", line.facts.get("note", "")
        if irregular and not reason:
            label = Irregular(irregular).label
            line.refuse("supplier_lot", f"is {lot}, which is {label}: say in a note why it was used all the same")
            return
        use = _SettledUse(
            amount=found[0],
            moment=moment,
            lot=lot.pk if isinstance(lot, Lot) else None,
            gone=lot.key if isinstance(lot, GoneLot) else "",
            open=lot if isinstance(lot, OpenLot) else None,
            batch=batch and batch.pk,
            irregular=irregular,
            reason=reason,
            key=key,
            is_again=is_again,
        )
        self._told.add(use, by=moment.astimezone(UTC).isoformat())


def _remarks(work: Work, settling: _Settling, found: LinesRead) -> None:
    if settling.off:
        found.findings.remark(
            f"{many(settling.off, 'use')} from before a count or the day of the stock list: "
            "what is on hand lacks that already, and stays."
        )
    if settling.came_again:
        its = "comes in again: it was" if settling.came_again == 1 else "come in again: they were"
        found.findings.remark(f"{many(settling.came_again, 'use')} {its} taken back since.")
    if found_there := settling.lots.found():
        amounts = [f"{show_amount(over, material, work.workshop.unit)} of {material}" for material, over in found_there]
        more = f", and of {len(amounts) - _MOST_NAMED} materials more" if len(amounts) > _MOST_NAMED else ""
        found.findings.remark(
            f"More was used than the lots held, and counts as found: {', '.join(amounts[:_MOST_NAMED])}{more}. "
            "Check the amounts and the days, or bring in first what came in."
        )
    if settling.lots.gone:
        said = f"{many(len(settling.lots.gone), 'lot')} not known here: brought in with what was used, and nothing left."
        found.findings.remark(said)


def take_in_uses(work: Work, found: LinesRead) -> Outcome:
    """Hold the list against the house, and book what is new."""
    settling = _Settling(work, found)
    settling.settle()
    _remarks(work, settling, found)
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds={
            "uses": len(settling.new),
            "lots": len(settling.lots.gone),
            "materials": len(settling.things.new_materials),
        },
        known={"uses": settling.known},
        as_read=lines_as_read(found, USE_COLUMNS, otherwise={"amount": settling.things.written}),
    )
    if work.writes and not result.refused_rows and settling.new:
        _write(work, settling)
    return result


def _write(work: Work, settling: _Settling) -> None:
    settling.things.write()
    came = _bring_gone(work, settling)
    touched: set[int] = set()
    held: set[int] = set()
    done = 0
    for rows in settling.new.parts():
        work.progress("writing", done, len(settling.new))
        part = [one for row in rows for one in row]
        _write_part(work, settling, part, _lots_of_part(work, settling, came, part))
        touched |= {one.batch for one in part if one.batch is not None}
        held |= {one.batch for one in part if one.batch is not None and one.irregular}
        done += len(rows)
    for key in sorted(held):
        end_promises(batch=settling.batches[key], at=work.at)
    renew_superfats(batches=[settling.batches[key] for key in sorted(touched)], at=work.at)
    renew_stock(workshop=work.workshop, at=work.at, material_ids={row.pk for row in settling.things.known})
    work.progress("writing", 1, 1)


def _bring_gone(work: Work, settling: _Settling) -> Kept[int]:
    """Write the lots of which nothing is left, and return them by their keys among those that are gone."""
    came: Kept[int] = Kept()
    for part in settling.lots.gone.parts():
        entries = [
            ReceiptEntry(
                material=settling.things.materials[gone.material],
                amount=gone.amount,
                received_on=gone.received_on,
                supplier_lot=gone.supplier_lot,
                standing=Lot.Standing.RELEASED,
                why=WHY,
            )
            for _key, gone in part
        ]
        for (key, _gone), lot in zip(part, bring_lots(actor=work.actor, entries=entries, at=work.at), strict=True):
            came.setdefault(key, lot.pk)
    return came


def _lots_of_part(work: Work, settling: _Settling, came: Kept[int], part: Sequence[_SettledUse]) -> list[Lot]:
    """Return the lot of each use."""
    keys = [came[one.gone] if one.lot is None else one.lot for one in part]
    here = settling.lots.by_key
    rows = lots_called(work.workshop, sorted({key for key in keys if key not in here}))
    return [here.get(key) or rows[key] for key in keys]


def _write_part(work: Work, settling: _Settling, part: Sequence[_SettledUse], lots: Sequence[Lot]) -> None:
    uses = [
        BroughtUse(lot=lot, amount=one.amount, moment=one.moment, reason=one.reason)
        for one, lot in zip(part, lots, strict=True)
    ]
    movements = bring_uses(actor=work.actor, uses=uses, at=work.at)
    took = [
        BatchTook(settling.batches[one.batch], movement, one.irregular)
        for one, movement in zip(part, movements, strict=True)
        if one.batch is not None
    ]
    bring_batch_uses(actor=work.actor, took=took, at=work.at)
    booked: dict[str, list[int]] = {}
    for one, movement in zip(part, movements, strict=True):
        booked.setdefault(one.key, []).append(movement.pk)
    again = {one.key for one in part if one.is_again}
    note_brought(workshop=work.workshop, kind=USES, keys=booked, brought=work.brought, booked=booked, again=again)
