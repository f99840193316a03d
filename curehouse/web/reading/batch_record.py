"""A batch on one sheet to print: what went in, what was done, what was weighed, what was found, and by whom."""

from collections.abc import Iterator
from dataclasses import dataclass

from curehouse.curing.models import LabelWeight, Placement
from curehouse.making.models import Batch, BatchUse, Pour
from curehouse.making.pouring.table import read_table
from curehouse.web.access import Visit
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.batch import BatchView, Line, placement_lines, read_batch
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.label import label_said
from curehouse.web.reading.pour_table import notes_of, said_of_all


@dataclass(frozen=True, slots=True)
class TakenLot:
    """What was taken of a lot, and what tells that lot from any other."""

    material: str
    number: int
    supplier: str
    supplier_lot: str
    best_before: str
    amount: str
    note: str


@dataclass(frozen=True, slots=True)
class RecordSheet:
    """Everything on record of a batch, whole: nothing is folded or left to another page."""

    view: BatchView
    entered: str
    lots: tuple[TakenLot, ...]
    steps: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    history: tuple[Line, ...]
    labels: tuple[Line, ...]


def read_record(visit: Visit, batch: Batch) -> RecordSheet:
    """Return a batch for its sheet; as many queries however much is on record."""
    calendar = Calendar(visit.workshop, visit.at)
    pour = Pour.objects.within(visit.workshop).filter(batch=batch).first()
    table = None if pour is None else read_table(pour)
    return RecordSheet(
        view=read_batch(batch, visit.workshop, calendar),
        entered=f"Entered {calendar.moment(batch.written_at)} by {batch.signed_by}.",
        lots=tuple(_lots(visit, batch, calendar)),
        steps=() if table is None else tuple(said_of_all(visit, table)),
        notes=() if table is None else tuple(notes_of(visit, table)),
        history=placement_lines(Placement.objects.within(visit.workshop).filter(batch=batch).newest_first(), calendar)[::-1],
        labels=tuple(_labels(visit, batch, calendar)),
    )


def _lots(visit: Visit, batch: Batch, calendar: Calendar) -> Iterator[TakenLot]:
    uses = BatchUse.objects.within(visit.workshop).filter(batch=batch).in_force()
    for use in uses.select_related("by_user", "by_device", "movement__lot__supplier").order_by("pk"):
        lot = use.movement.lot
        said = [calendar.moment(use.movement.moment), use.signed_by]
        if use.irregular:
            said.append(f"{use.get_irregular_display()} then: {use.reason}")
        yield TakenLot(
            material=lot.material.name,
            number=lot.number,
            supplier="" if lot.supplier is None else lot.supplier.name,
            supplier_lot=lot.supplier_lot,
            best_before="" if lot.best_before is None else f"{lot.best_before:%-d %b %Y}",
            amount=amount_words(-use.movement.amount, lot.material, visit.workshop.unit),
            note=", ".join(said),
        )


def _labels(visit: Visit, batch: Batch, calendar: Calendar) -> Iterator[Line]:
    rows = LabelWeight.objects.within(visit.workshop).filter(batch=batch).select_related("by_user", "by_device")
    for row in rows.order_by("pk"):
        said = f"by {row.get_rule_display()}, {row.get_wrap_display()}, packed {row.packed_on:%-d %b %Y}"
        note = f"{said}, {row.shelf_months} months" if row.shelf_months else said
        yield Line(calendar.moment(row.written_at), label_said(row.weight_g, visit.workshop.unit), note, row.signed_by)
