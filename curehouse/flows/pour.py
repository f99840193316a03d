"""A pour at the table: begun, told step by step, and ended; only its end moves anything of the storeroom."""

import uuid
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict, Invalid
from curehouse.core.chemistry.alkali import Alkali
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.stock import write_off
from curehouse.flows.superfats import renew_superfats
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.flows.verdict_notices import end_promises
from curehouse.making.formulas.entries import Role
from curehouse.making.models import Batch, FormulaVersion, Pour, PourStep, Run
from curehouse.making.pouring.saying import Said
from curehouse.making.pouring.sheet import LYE
from curehouse.making.pouring.table import Kind, Line, Table, read_table
from curehouse.making.pouring.words import answer_words, off_words
from curehouse.making.services import LONGEST_NOTE, BatchEntry, LiquidEntry, hold_batch, lock_batch
from curehouse.making.services import at_table as _at_table
from curehouse.making.services.batches import why_not_written
from curehouse.making.services.superfats import keep_weighed
from curehouse.workshops.actors import Actor
from inventory.models import Lot, Movement
from inventory.services.entries import clean_reason

PAGE = Movement.Source.PAGE
_LONGEST_CAUSE = 400


@dataclass(frozen=True, slots=True)
class Stopped:
    """Why a pour is stopped and what became of what was weighed.

    ``met``: lye and fats had met; then, or where ``into_batch`` says so, a batch is written and held. Otherwise
    ``spoilt`` (keys of weighings) is written off, and everything else was put back.
    """

    why: str
    met: bool = False
    into_batch: bool = False
    spoilt: Collection[int] = ()


@transaction.atomic
def begin(*, actor: Actor, version: FormulaVersion, fats_g: Decimal, run: Run | None = None, at: datetime) -> Pour:
    """Begin a pour; see `making.services.at_table.begin_pour`."""
    return _at_table.begin_pour(actor=actor, version=version, fats_g=fats_g, run=run, at=at)


@transaction.atomic
def say(*, actor: Actor, pour: Pour, said: Said, at: datetime) -> PourStep:
    """Write down what was said at the table; see `making.services.at_table.say_step`."""
    return _at_table.say_step(actor=actor, pour=pour, said=said, at=at)


@transaction.atomic
def finish(*, actor: Actor, pour: Pour, at: datetime, source: str = PAGE) -> Batch:
    """End a pour: its batch with what was really weighed, what its lots gave, its superfat, and its run, all once.

    Raises ``Conflict``: ``pour_over`` where somebody ended it meanwhile (who, when and what came of it),
    ``not_done`` where a step is missing, ``not_safe`` where it is to be stopped.
    """
    row = _at_table.lock_open_pour(pour, at=at)
    table = read_table(row)
    if table.must_stop or table.wants_fat:
        raise Conflict("not_safe", f"{answer_words(table.found)} Stop the pour: it is kept, and its batch is held.")
    if table.next is not None:
        missing = table.lines[table.next].slot.name if table.next in table.lines else Kind(table.next).label
        raise Conflict("not_done", f"One step is missing still: {missing}.", step=table.next)
    batch = _written(actor, table, at=at, source=source)
    _at_table.end_pour(actor=actor, pour=row, kind=Kind.FINISHED, client_id=uuid.uuid4(), batch=batch, at=at)
    return batch


@transaction.atomic
def stop(*, actor: Actor, pour: Pour, stopped: Stopped, at: datetime, source: str = PAGE) -> Pour:
    """Stop a pour. Once lye and fats have met its batch is written and held; before that its run stays planned."""
    row = _at_table.lock_open_pour(pour, at=at)
    table = read_table(row)
    why = clean_reason(stopped.why, ask="Say why the pour is stopped: whoever finds it wants to know.", field="why")
    met = stopped.met or table.is_past_trace
    batch, no_batch = None, why_not_written(_entry(table, at)) if met or stopped.into_batch else ""
    if (met or stopped.into_batch) and (
        decides := [line.slot.name for line in table.lines.values() if line.slot.role in (Role.FAT, LYE) and not line.rows]
    ):
        said = f"Say first what was weighed of {', '.join(decides)}: a batch has fats and lye."
        raise Conflict("not_weighed", said, field="into_batch")
    if no_batch and not met:
        raise Conflict("no_batch", f"{no_batch} Tick what is spoilt instead: no batch is made of it.", field="into_batch")
    if no_batch:
        # It is no soap, and the pour ends all the same: all that met is spoilt.
        _write_off(actor, table, _of_lots(table), why, at=at, source=source)
        why = f"{why} No batch was written: {no_batch}"[:_LONGEST_CAUSE]
    elif met or stopped.into_batch:
        # The run of what never met stays planned: it is still to be poured.
        batch = _written(actor, table, run=row.run if met else None, at=at, source=source)
        cause = f"The pour was stopped{' after lye and fats had met' if met else ''}"
        hold_batch(actor=actor, batch=batch, cause=cause, reason=why, at=at)
        batch = _at_table.demand_check(batch=batch)
        end_promises(batch=batch, at=at)
    else:
        _write_off(actor, table, stopped.spoilt, why, at=at, source=source)
    return _at_table.end_pour(
        actor=actor, pour=row, kind=Kind.STOPPED, client_id=uuid.uuid4(), words=why, batch=batch, at=at
    )  # fmt: skip


def _entry(table: Table, at: datetime) -> BatchEntry:
    """Return the batch of a pour with what was weighed."""
    trace = table.said(Kind.TRACE)
    koh_g, naoh_g = table.lye_g(Alkali.KOH), table.lye_g(Alkali.NAOH)
    return BatchEntry(
        formula_name=table.pour.version.formula.name,
        poured_at=at if trace is None else trace.at,
        cut_at=None,
        bars=0,
        fats_g=sum((line.weighed_g for line in _of(table, Role.FAT)), Decimal(0)),
        lye_g=naoh_g + koh_g,
        koh_g=koh_g,
        liquids=_liquids(table),
        note=note_of(table),
        # It was asked about at the table, weight by weight.
        lye_confirmed=True,
        version=table.pour.version,
    )


def _written(actor: Actor, table: Table, *, at: datetime, source: str, run: Run | None = None) -> Batch:
    """Write the batch of a pour with what was weighed, and book it from the lots it came of."""
    entry = _entry(table, at)
    run = run or (table.pour.run if table.is_past_trace else None)
    batch = enter_batch(actor=actor, entry=entry, rack=RackEntry(), run=run, at=at)
    batch = keep_weighed(batch=lock_batch(batch), pour=table.as_weighed)
    lines = _uses(table)
    if lines:
        book_use(actor=actor, batch=batch, lines=lines, used_at=entry.poured_at, at=at, source=source)
    else:
        renew_superfats(batches=[batch], at=at)
    return lock_batch(batch)


def _of(table: Table, role: str) -> list[Line]:
    return [line for line in table.lines.values() if line.slot.role == role]


def _liquids(table: Table) -> list[LiquidEntry]:
    return [
        LiquidEntry(line.slot.liquid, line.weighed_g, line.slot.water, line.slot.goes_in)
        for line in _of(table, Role.LIQUID)
        if line.weighed_g > 0
    ]


def _uses(table: Table) -> list[UseLine]:
    """Return what was taken of each lot, once a lot."""
    taken: dict[int, tuple[Lot, Decimal, list[str]]] = {}
    for line in table.lines.values():
        for row in line.rows:
            if row.lot is not None and row.amount_g > 0:
                lot, grams, words = taken.get(row.lot.pk, (row.lot, Decimal(0), []))
                taken[lot.pk] = (lot, grams + row.amount_g, [*words, row.words] if row.words else words)
    return [UseLine(lot, grams, "; ".join(dict.fromkeys(words))[:_LONGEST_CAUSE]) for lot, grams, words in taken.values()]


def _of_lots(table: Table) -> list[int]:
    return [row.pk for line in table.lines.values() for row in line.rows if row.lot is not None and row.amount_g > 0]


def _write_off(actor: Actor, table: Table, spoilt: Collection[int], why: str, *, at: datetime, source: str) -> None:
    rows = {row.pk: row for line in table.lines.values() for row in line.rows if row.lot is not None and row.amount_g > 0}
    if unknown := set(spoilt) - rows.keys():
        raise Invalid("spoilt", f"There are no such weighings from a lot in this pour: {len(unknown)}.", field="spoilt")
    sums: dict[int, tuple[Lot, Decimal]] = {}
    for key in sorted(spoilt):
        lot = rows[key].lot
        sums[lot.pk] = (lot, sums.get(lot.pk, (lot, Decimal(0)))[1] + rows[key].amount_g)
    for key in sorted(sums):
        lot, grams = sums[key]
        # What is booked of a lot may be less than was weighed: then nothing of it is left.
        grams = min(grams, Lot.objects.within(actor.workshop).get(pk=lot.pk).on_hand)
        if grams <= 0:
            continue
        reason = f"Weighed for a pour that was stopped: {why}"[:_LONGEST_CAUSE]
        write_off(actor=actor, lot=lot, amount=grams, reason=reason, moment=at, at=at, source=source)


def note_of(table: Table) -> str:
    """Return what the batch record says of the table: deviations, temperatures, trace, mould and place, in lines."""
    unit = table.pour.workshop.unit
    lines = []
    for step in table.steps:
        if step.kind == Kind.WEIGHED and step.stands:
            lines.append(
                f"Stands: {off_words(table.lines[step.slot], step.amount_g, step.target_g, unit)} {step.words}".strip()
            )
        elif step.celsius is not None:
            lines.append(f"{Kind(step.kind).label.capitalize()}: {step.celsius}\u00a0°C. {step.words}".strip())
        elif step.words and step.kind not in (Kind.WEIGHED, Kind.UNSAID):
            lines.append(f"{Kind(step.kind).label.capitalize()}: {step.words}")
    return "\n".join(lines)[:LONGEST_NOTE]
