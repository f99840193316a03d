"""The kind *stock*: what is on hand, one row a lot."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from curehouse.common.errors import Invalid
from curehouse.common.time import local_day
from curehouse.common.units import LARGEST_G
from curehouse.flows.bring_in.as_read import lines_as_read
from curehouse.flows.bring_in.batch_moments import Clock
from curehouse.flows.bring_in.cells import CellFault, bare_number
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.days import read_moment
from curehouse.flows.bring_in.header_units import Holds
from curehouse.flows.bring_in.laid_aside import Kept, Spool
from curehouse.flows.bring_in.lines import Line, LinesRead, Needed, many, read_lines, row_key, text_of
from curehouse.flows.bring_in.outcome import Outcome, outcome
from curehouse.flows.bring_in.stock_cells import amount, day_of, material_kind, money_of, month_or_day_of, standing
from curehouse.flows.bring_in.stock_known import LotsHere, Things
from curehouse.flows.bring_in.work import Work
from curehouse.flows.stock_notices import renew_stock
from curehouse.intake.services import brought_before, note_brought
from inventory.models import Lot
from inventory.services.brought import bring_lots, lock_for_lots
from inventory.services.lots import ReceiptEntry

STOCK = "stock"
WHY = "brought in with the stock list"
_FARTHEST = timedelta(days=30 * 366)
_COST_STEP = Decimal("0.000001")

STOCK_COLUMNS = (
    Column("supplier", "Supplier"),
    Column("material", "Material"),
    Column("material_kind", "Kind of material", "fat, lye, liquid, additive, fragrance, colour, packaging or bars"),
    Column("amount", "Amount on hand", "with its unit, or in the unit chosen below", Holds.AMOUNT),
    Column("unit", "Unit of the amount"),
    Column("supplier_lot", "Supplier's lot number"),
    Column("received_on", "Received on", holds=Holds.DAY),
    Column("best_before", "Best before", "a day, or a month", Holds.DAY),
    Column("unit_price", "Price of one g, kg, oz, lb or piece", "of the unit in which the amount is given", Holds.MONEY),
    Column("price", "Price of the whole amount", holds=Holds.MONEY),
    Column("standing", "How the lot stands", "released, quarantine or rejected"),
)
_READERS = {
    "supplier": text_of("supplier"),
    "material": text_of("material"),
    "material_kind": material_kind,
    "amount": amount,
    "supplier_lot": text_of("supplier_lot"),
    "received_on": day_of("received_on"),
    "best_before": month_or_day_of("best_before"),
    "unit_price": money_of("unit_price"),
    "price": money_of("price"),
    "standing": standing,
}
_NEEDED = {
    "material": Needed("Say which column names the material.", "is empty: say which material the row is about"),
    "amount": Needed("Say which column holds the amounts.", "is empty: say how much is there, 0 where nothing is left"),
}


def read_stock(work: Work) -> LinesRead:
    """Read the list, without looking anything up."""
    return read_lines(work, STOCK_COLUMNS, _READERS, needed=_NEEDED, figures=("amount", "unit_price", "price"))


@dataclass(frozen=True, slots=True)
class NewLot:
    """A lot to be written: grams or pieces, names in small letters, and the new keys by which its row is known again."""

    material: str
    supplier: str
    supplier_lot: str
    amount: Decimal
    unit_cost: Decimal | None
    received_on: date
    best_before: date | None
    standing: str
    keys: tuple[str, ...]


def _listed_at(work: Work) -> datetime:
    """Return the moment of which the list tells: the morning of the day that was said, or of today."""
    clock, told = Clock.of(work.workshop, work.at), work.options.as_of
    moment = clock.moment(read_moment(told, "") if told else clock.today, clock=time.min)
    if moment > work.at:
        raise Invalid("as_of", "The day of the stock list lies in the future: say of which day it tells.", field="as_of")
    return moment


class _Settling:
    """Holds a stock list against the house."""

    def __init__(self, work: Work, found: LinesRead) -> None:
        self._work, self._found = work, found
        self._today = local_day(work.at, work.workshop.time_zone)
        self.listed_at = _listed_at(work)
        self._listed_on = local_day(self.listed_at, work.workshop.time_zone)
        self.things = Things(work.workshop, found.lines, unit=work.options.unit)
        self._lots = LotsHere(work.workshop, self.things)
        self._first: Kept[tuple[int, str]] = Kept()
        self.new: Spool[NewLot] = Spool()
        self.known = self.empty = self.without_day = self.without_word = self.without_zeros = self.came_again = 0

    def _keys_of(self, line: Line, *, bare: bool = False) -> tuple[str, str]:
        """Return the key of the lot, and of the lot with its amount; *bare*: by its lot number's number alone."""
        facts = line.facts
        if bare:
            facts = {**facts, "supplier_lot": bare_number(line.cell("supplier_lot"))}
        lot = [facts["material"], facts.get("supplier", ""), facts.get("supplier_lot", "")]
        lot += [f"{facts.get(key, '')}" for key in ("received_on", "best_before")]
        return row_key("lot", *lot), row_key("amount", *lot, facts["amount"].written(unless_said=self._work.options.unit))

    def settle(self) -> None:
        """Settle every line; what is refused is among the findings."""
        done = 0
        for part in self._found.lines.parts():
            self._work.progress("checking", done, len(self._found.lines))
            keys = [self._keys_of(line) for line in part]
            bare = [self._keys_of(line, bare=True)[0] for line in part]
            wanted = {key for pair in keys for key in pair} | set(bare)
            before = brought_before(workshop=self._work.workshop, kind=STOCK, keys=sorted(wanted))
            for line, pair, bare_key in zip(part, keys, bare, strict=True):
                if not line.facts["amount"].number:
                    self.empty += 1
                elif bare_number(line.cell("supplier_lot")) and bare_key in before:
                    self.known += 1
                    self.without_zeros += 1
                elif self._is_new(line, pair, before):
                    self._settle(line, tuple(key for key in pair if key not in before))
            done += len(part)

    def _is_new(self, line: Line, keys: tuple[str, str], before: set[str]) -> bool:
        lot, whole = keys
        first, whole_first = self._first.setdefault(lot, (line.row.number, whole))
        if first != line.row.number:
            what = "stands for the same lot as" if whole == whole_first else "is another amount of the same lot than in"
            line.refuse("amount", f"{what} row {first}: add them up, name their lot numbers, or leave one out")
            return False
        if lot not in before:
            return True
        if self._lots.never_came(line.facts):
            self.came_again += 1
            return True
        if whole in before:
            self.known += 1
        else:
            line.refuse("amount", "is another amount than came in with this lot before: count the lot on its page instead")
        return False

    def _settle(self, line: Line, keys: tuple[str, ...]) -> None:
        facts = line.facts
        material = self.things.materials.get(facts["material"].casefold())
        if material is not None and material.retired_at is not None:
            line.refuse("material", "is retired: put it into use again first")
            return
        names = [facts.get(key, "").casefold() for key in ("supplier_lot", "supplier")]
        here = self._lots.numbered(material, *names) if material else None
        if here is not None and facts.get("received_on") in (None, here.received_on):
            line.refuse("supplier_lot", f"is here already, as {here}: leave the row out, or count the lot on its page")
            return
        if not self._has_days(line):
            return
        found = self.things.amount(line)
        if found is None:
            return
        grams_or_pieces, measure = found
        try:
            cost = self._cost(line, grams_or_pieces, measure)
        except CellFault as fault:
            line.refuse("price" if "price" in facts else "unit_price", str(fault))
            return
        self.things.note_supplier(facts.get("supplier", ""))
        self.without_day += "received_on" not in facts
        self.without_word += "standing" not in facts
        self.new.add(
            NewLot(
                material=facts["material"].casefold(),
                supplier=facts.get("supplier", "").casefold(),
                supplier_lot=facts.get("supplier_lot", ""),
                amount=grams_or_pieces,
                unit_cost=cost,
                received_on=facts.get("received_on", self._listed_on),
                best_before=facts.get("best_before"),
                standing=facts.get("standing", Lot.Standing.RELEASED),
                keys=keys,
            )
        )

    def _has_days(self, line: Line) -> bool:
        received, best = line.facts.get("received_on", self._listed_on), line.facts.get("best_before")
        if received > self._today:
            line.refuse("received_on", "lies in the future: bring a lot in once it is here")
        elif received > self._listed_on:
            line.refuse("received_on", f"comes after the day of the stock list, {self._listed_on}: check both")
        elif received < self._today - _FARTHEST:
            line.refuse("received_on", "lies over thirty years back: check its year")
        elif best is not None and abs(best - received) > _FARTHEST:
            line.refuse("best_before", "lies over thirty years away: check its year")
        else:
            return True
        return False

    def _cost(self, line: Line, amount_there: Decimal, measure: str) -> Decimal | None:
        currency, facts = self._work.workshop.currency, line.facts
        price, unit_price, told = facts.get("price"), facts.get("unit_price"), facts["amount"]
        if price is not None:
            cost = price.in_currency(currency) / amount_there
        elif unit_price is not None:
            one, per = told.one(measure, unless_said=self._work.options.unit), line.table.price_header("unit_price").per
            cost = unit_price.in_currency(currency) / (one if per is None else per.of(measure, otherwise=one))
        else:
            return None
        if cost > LARGEST_G:
            raise CellFault("makes one gram or piece far too dear: check it and the amount")
        return cost.quantize(_COST_STEP)


def _as_of_said(work: Work, settling: _Settling) -> str:
    wall = settling.listed_at.astimezone(ZoneInfo(work.workshop.time_zone))
    when = f"{wall:%Y-%m-%d %H:%M}" if wall.time() != time.min else f"the morning of {wall:%Y-%m-%d}"
    return (
        f"The list is taken as what was there on {when}: what was used from then on comes off, "
        "what was used before was lacking already. Say another day or time if it tells of another."
    )


def _remarks(work: Work, settling: _Settling, found: LinesRead) -> None:
    if settling.new:
        found.findings.remark(_as_of_said(work, settling))
    if settling.without_day:
        found.findings.remark(
            f"No day of receipt is said of {many(settling.without_day, 'lot')}: the day of the list stands for it."
        )
    if settling.without_word:
        found.findings.remark(
            f"Whether released or in quarantine is not said of {many(settling.without_word, 'lot')}: taken as released."
        )
    if settling.came_again:
        its = "comes in again: its receipt was" if settling.came_again == 1 else "come in again: their receipts were"
        found.findings.remark(f"{many(settling.came_again, 'lot')} {its} taken back since.")
    if settling.without_zeros:
        said = f"{many(settling.without_zeros, 'lot')} came in before without the zeros or words that their number format shows"
        found.findings.remark(f"{said}: left as known. Correct a lot's number on its page.")
    if settling.empty:
        found.findings.remark(f"Nothing is left by {many(settling.empty, 'row')}: left out.")


def take_in_stock(work: Work, found: LinesRead) -> Outcome:
    """Hold the list against the house, and write its lots; no notice is told of them before the next morning."""
    settling = _Settling(work, found)
    settling.settle()
    _remarks(work, settling, found)
    things = settling.things
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds={"materials": len(things.new_materials), "suppliers": len(things.new_suppliers), "lots": len(settling.new)},
        known={"lots": settling.known},
        as_read=lines_as_read(found, STOCK_COLUMNS, currency=work.workshop.currency, otherwise={"amount": things.written}),
    )
    if work.writes and not result.refused_rows and settling.new:
        _write(work, settling)
    return result


def _write(work: Work, settling: _Settling) -> None:
    things, done = settling.things, 0
    things.write()
    # All at once and before the first lot: a part at a time would take them out of order.
    lock_for_lots(workshop=work.workshop, materials=things.known)
    for part in settling.new.parts():
        work.progress("writing", done, len(settling.new))
        entries = [_entry(one, things) for one in part]
        bring_lots(actor=work.actor, entries=entries, at=work.at, listed_at=settling.listed_at)
        keys = [key for one in part for key in one.keys]
        note_brought(workshop=work.workshop, kind=STOCK, keys=keys, brought=work.brought)
        done += len(part)
    renew_stock(workshop=work.workshop, at=work.at, material_ids={material.pk for material in things.known})
    work.progress("writing", 1, 1)


def _entry(one: NewLot, things: Things) -> ReceiptEntry:
    return ReceiptEntry(
        material=things.materials[one.material],
        amount=one.amount,
        received_on=one.received_on,
        supplier=things.suppliers.get(one.supplier),
        supplier_lot=one.supplier_lot,
        best_before=one.best_before,
        unit_cost=one.unit_cost,
        standing=one.standing,
        why=WHY,
    )
