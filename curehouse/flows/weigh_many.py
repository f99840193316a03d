"""Many weighings come in at once: all of them are written, or none.

Built for a device that was out of reach for a while, and for a record that is brought in: each
row has the client's id, so that what was sent before is answered and not written again.
"""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple

from django.db import transaction

from curehouse.common.errors import DomainError, Invalid, NotHere
from curehouse.common.locking import lock_rows
from curehouse.curing.bulk import Remembered
from curehouse.curing.models import Reading, SampleBar
from curehouse.curing.services.cures import note_news_of
from curehouse.curing.services.readings import (
    ReadingEntry,
    check_entry,
    check_same,
    record_readings,
    sent_before,
)
from curehouse.flows.due import renew_due
from curehouse.making.models import Batch
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Scale

MOST_ROWS = 1000


class WeighingRow(NamedTuple):
    """A weighing as one row of many: the bar and the scale by their ids, the rest as it came in."""

    bar_id: int
    scale_id: int | None
    entry: ReadingEntry


@dataclass(frozen=True, slots=True)
class RowFault:
    """What is wrong with one row (counted from 0)."""

    row: int
    error: DomainError


class RowsRefused(Invalid):
    """Some rows cannot be taken, so none was; ``faults`` says which and why."""

    def __init__(self, faults: Sequence[RowFault], *, rows: int) -> None:
        bad = len({fault.row for fault in faults})
        super().__init__("rows", f"{bad} of {rows} rows cannot be taken, so none was written: mend them and send all again.")
        self.faults = tuple(faults)


@dataclass(frozen=True, slots=True)
class _Resolved:
    row: int
    bar: SampleBar
    entry: ReadingEntry


def _resolve(actor: Actor, rows: Sequence[WeighingRow], faults: list[RowFault]) -> list[_Resolved]:
    """Look bars and scales up (two queries); what is not here is a fault of its row."""
    bars = SampleBar.objects.within(actor.workshop).filter(pk__in={row.bar_id for row in rows}).in_bulk()
    wanted = {row.scale_id for row in rows if row.scale_id is not None}
    scales = Scale.objects.within(actor.workshop).filter(pk__in=wanted).in_bulk() if wanted else {}
    found = []
    for index, row in enumerate(rows):
        bar, scale = bars.get(row.bar_id), scales.get(row.scale_id)
        if bar is None:
            missing = NotHere("not_here", "There is no such sample bar in this workshop.", field="bar")
        elif scale is None and row.scale_id is not None:
            missing = NotHere("not_here", "There is no such scale in this workshop.", field="scale")
        else:
            found.append(_Resolved(index, bar, row.entry if scale is None else replace(row.entry, scale=scale)))
            continue
        faults.append(RowFault(index, missing))
    return found


def _locked_batches(found: Sequence[_Resolved]) -> None:
    """Lock the batches concerned and let every row's bar know its batch as it stands now."""
    batches = lock_rows(Batch.unscoped.select_related("formula"), {one.bar.batch_id for one in found})
    for one in found:
        one.bar.batch = batches[one.bar.batch_id]


def _unsent(
    actor: Actor, found: Sequence[_Resolved], known: dict[uuid.UUID, Reading], faults: list[RowFault], *, at: datetime
) -> list[_Resolved]:
    """Return the rows to be written: neither sent before nor a second time in this request."""
    fresh: dict[uuid.UUID, _Resolved] = {}
    for one in found:
        entry = one.entry
        sent, twin = known.get(entry.client_id), fresh.get(entry.client_id)
        try:
            if sent is not None:
                check_same(one.bar, entry, earlier=(sent.bar_id, sent.weight_g, sent.moment))
            elif twin is not None:
                check_same(one.bar, entry, earlier=(twin.bar.pk, twin.entry.weight_g, twin.entry.moment))
            else:
                check_entry(one.bar, entry, time_zone=actor.workshop.time_zone, at=at)
                fresh[entry.client_id] = one
        except DomainError as error:
            faults.append(RowFault(one.row, error))
    return list(fresh.values())


def _write(actor: Actor, fresh: Sequence[_Resolved], *, at: datetime) -> list[Reading]:
    """Ask about the weights in the order they were weighed, and write them in the order they came."""
    remembered = Remembered(
        workshop=actor.workshop,
        batch_ids={one.bar.batch_id for one in fresh},
        scale_ids={one.entry.scale.pk for one in fresh if one.entry.scale},
    )
    doubts = {}
    for one in sorted(fresh, key=lambda one: (one.entry.moment, one.row)):
        entry = one.entry
        doubts[one.row] = remembered.doubt_about(
            one.bar,
            weight_g=entry.weight_g,
            moment=entry.moment,
            scale=entry.scale,
            typed=entry.typed,
            unit=entry.unit,
        )
    return record_readings(actor=actor, entries=[(one.bar, one.entry, doubts[one.row]) for one in fresh], at=at)


def _weighed(actor: Actor, batch_ids: set[int], *, at: datetime) -> None:
    note_news_of(workshop=actor.workshop, batch_ids=batch_ids, at=at)
    renew_due(workshop=actor.workshop, at=at, batch_ids=batch_ids, was_weighed=True)


@transaction.atomic
def weigh_many(*, actor: Actor, rows: Sequence[WeighingRow], at: datetime) -> list[tuple[Reading, bool]]:
    """Write many weighings; return each row's reading and whether it is new, in the order given.

    Raises :class:`RowsRefused` naming every row that cannot be taken; then nothing is written.
    """
    if not 1 <= len(rows) <= MOST_ROWS:
        raise Invalid("rows", f"Send between 1 and {MOST_ROWS} weighings at a time.", field="readings")
    faults: list[RowFault] = []
    found = _resolve(actor, rows, faults)
    _locked_batches(found)
    known = sent_before(actor=actor, client_ids=[one.entry.client_id for one in found])
    fresh = _unsent(actor, found, known, faults, at=at)
    if faults:
        raise RowsRefused(sorted(faults, key=lambda fault: fault.row), rows=len(rows))
    new_rows = {one.row for one in fresh}
    if fresh:
        known = known | {reading.client_id: reading for reading in _write(actor, fresh, at=at)}
        _weighed(actor, {one.bar.batch_id for one in fresh}, at=at)
    return [(known[one.entry.client_id], one.row in new_rows) for one in found]
