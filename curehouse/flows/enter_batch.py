"""A batch enters the house: written, cut, its sample bars marked, its bars placed, its cure begun."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from curehouse.common.errors import Invalid
from curehouse.curing.models import KeptPlace, Position
from curehouse.curing.services.bars import mark_sample_bars
from curehouse.curing.services.cures import open_cure
from curehouse.curing.services.kept_places import lock_places
from curehouse.curing.services.places import WhenFull, place
from curehouse.flows.milk_notices import renew_milk
from curehouse.flows.place_notices import renew_places
from curehouse.flows.run_notices import renew_runs
from curehouse.flows.run_places import keep_for_run
from curehouse.flows.turn_notices import renew_turning
from curehouse.making.models import Batch, Run
from curehouse.making.services import BatchEntry, CutSeen, cut_batch, note_cut, write_batch
from curehouse.making.services.batches import lock_batch
from curehouse.making.services.runs import is_open_for, pour_run
from curehouse.workshops.actors import Actor


@dataclass(frozen=True, slots=True)
class RackEntry:
    """What is known at the cut besides the bars: how many are sample bars, where they go, and what is seen.

    ``at_kept``: to the places that are kept for the run the batch came of, as far as there is room at them.
    """

    sample_bars: int = 3
    position: Position | None = None
    at_kept: bool = False
    when_full: WhenFull = "refuse"
    seen: CutSeen = CutSeen()


def _onto_the_racks(actor: Actor, batch: Batch, rack: RackEntry, *, at: datetime) -> None:
    mark_sample_bars(batch=batch, count=rack.sample_bars)
    open_cure(batch=batch, workshop=actor.workshop)
    if not rack.seen.is_empty:
        note_cut(actor=actor, batch=batch, seen=rack.seen, at=at)
    if rack.at_kept:
        _at_kept_places(actor, batch, at=at)
    elif rack.position is not None:
        place(
            actor=actor,
            batch=batch,
            position=rack.position,
            bars=batch.bars_left,
            moved_at=batch.cut_at,
            at=at,
            when_full=rack.when_full,
        )


def _at_kept_places(actor: Actor, batch: Batch, *, at: datetime) -> None:
    """Put bars at the places kept for them; where a cure ran over and none is free, they stay without a place, and are told."""
    lock_places(actor.workshop)
    loose = batch.bars_left
    for kept in kept_places_of(batch):
        free = Position.objects.within(actor.workshop).get(pk=kept.position_id).bars_free
        bars = min(kept.bars, loose, free)
        if bars > 0:
            place(actor=actor, batch=batch, position=kept.position, bars=bars, moved_at=batch.cut_at, at=at)
            loose -= bars


def kept_places_of(batch: Batch) -> list[KeptPlace]:
    """Return the places that are kept for the run a batch came of, in walking order."""
    rows = KeptPlace.objects.within(batch.workshop).filter(cure__run__batch=batch, cure__run__state=Run.State.POURED)
    return list(rows.select_related("position__rack").order_by("pk"))


@transaction.atomic
def enter_batch(*, actor: Actor, entry: BatchEntry, rack: RackEntry, run: Run | None = None, at: datetime) -> Batch:
    """Write a batch; if it was cut, mark its sample bars, place it and begin its cure.

    The planned *run* that it was begun from is poured with it. One that is over meanwhile, or of another
    formula than was poured in the end, stays as it is: recording never blocks what happened.
    """
    if entry.cut_at is None and not rack.seen.is_empty:
        raise Invalid(
            "not_cut", "What is seen at the cut is said of a batch that is cut: send when it was cut.", field="cut_at"
        )
    batch = write_batch(actor=actor, entry=entry, at=at)
    if run is not None and is_open_for(run, batch):
        pour_run(actor=actor, run=run, batch=batch, at=at)
    if batch.state == Batch.State.CURING:
        _onto_the_racks(actor, batch, rack, at=at)
    if run is not None:
        _keep_on(batch, at=at)
        renew_places(workshop=actor.workshop, at=at)
        renew_milk(workshop=actor.workshop, at=at)
    # Entered late, its bars may be to be turned already.
    renew_turning(workshop=actor.workshop, at=at)
    if run is not None:
        renew_runs(workshop=actor.workshop, at=at)
    return batch


def _keep_on(batch: Batch, *, at: datetime) -> None:
    """Keep the places of the run a batch came of from the day it was really poured on, as long as it is not cut."""
    run = Run.objects.within(batch.workshop).named().filter(batch=batch, state=Run.State.POURED).first()
    if run is not None and batch.state == Batch.State.POURED:
        keep_for_run(run=run, at=at)


@transaction.atomic
def link_run(*, actor: Actor, run: Run, batch: Batch, at: datetime) -> Run:
    """Say that a batch that was entered without its run is what became of it."""
    row = pour_run(actor=actor, run=run, batch=lock_batch(batch), at=at)
    _keep_on(row.batch, at=at)
    renew_places(workshop=actor.workshop, at=at)
    renew_milk(workshop=actor.workshop, at=at)
    renew_runs(workshop=actor.workshop, at=at)
    return row


@transaction.atomic
def cut(*, actor: Actor, batch: Batch, cut_at: datetime, bars: int, rack: RackEntry, at: datetime) -> Batch:
    """Cut a batch that was poured, and begin its cure."""
    row = cut_batch(batch=batch, cut_at=cut_at, bars=bars, at=at)
    _onto_the_racks(actor, row, rack, at=at)
    renew_places(workshop=actor.workshop, at=at)
    renew_turning(workshop=actor.workshop, at=at)
    return row
