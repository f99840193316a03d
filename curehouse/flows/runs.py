"""Planned runs as the doors call them: what is planned, moved, called off and reserved anew, and what the house says with it.

Each is the verb of ``making.services.runs`` under the same name; what is poured is ``flows/enter_batch.py``.
"""

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from curehouse.curing.services.kept_places import let_places_go
from curehouse.flows.kept_lots import keep_chosen_lots
from curehouse.flows.milk_notices import renew_milk
from curehouse.flows.place_notices import renew_places
from curehouse.flows.run_places import keep_for_run, keep_places_of
from curehouse.flows.stock_notices import renew_stock
from curehouse.making.models import FormulaVersion, Reservation, Run
from curehouse.making.services import runs as _runs
from curehouse.workshops.actors import Actor


def _materials(run: Run) -> set[int]:
    return set(Reservation.objects.within(run.workshop).filter(run=run).values_list("material", flat=True))


def _renew(actor: Actor, run: Run, *, at: datetime, also: Iterable[int] = ()) -> None:
    """Make true what is said of runs, and of lots that this run uses, or would have used, before they expire."""
    renew_places(workshop=actor.workshop, at=at)
    renew_milk(workshop=actor.workshop, at=at)
    renew_stock(workshop=actor.workshop, at=at, material_ids={*_materials(run), *also})


@transaction.atomic
def plan_run(
    *,
    actor: Actor,
    version: FormulaVersion,
    fats_g: Decimal,
    pour_on: date,
    bars: int | None = None,
    note: str = "",
    at: datetime,
) -> Run:
    """Announce a run and keep places for its bars; what it lacks, its page says now and the house in the morning."""
    row = _runs.plan_run(actor=actor, version=version, fats_g=fats_g, pour_on=pour_on, bars=bars, note=note, at=at)
    keep_chosen_lots(run=row, at=at)
    keep_for_run(run=row, at=at)
    _renew(actor, row, at=at)
    return row


@transaction.atomic
def move_run(*, actor: Actor, run: Run, pour_on: date, why: str = "", at: datetime) -> Run:
    """Put a run on another day."""
    row = _runs.move_run(actor=actor, run=run, pour_on=pour_on, why=why, at=at)
    keep_chosen_lots(run=row, at=at)
    keep_for_run(run=row, at=at)
    _renew(actor, row, at=at)
    return row


@transaction.atomic
def keep_places_anew(*, actor: Actor, run: Run, bars: int | None = None, at: datetime) -> Run:
    """Keep places for the bars of a run anew, by what is foretold of the racks today; so many, or as its batches gave.

    Raises ``Invalid`` where nobody knows how many bars it gives, or how much water they hold.
    """
    row = _runs.say_bars(run=run, bars=bars)
    keep_places_of(run=row, at=at)
    renew_places(workshop=actor.workshop, at=at)
    return row


@transaction.atomic
def call_off_run(*, actor: Actor, run: Run, why: str, at: datetime) -> Run:
    """Call a run off."""
    row = _runs.call_off_run(actor=actor, run=run, why=why, at=at)
    let_places_go(run=row)
    _renew(actor, row, at=at)
    return row


@transaction.atomic
def reserve_run(*, actor: Actor, run: Run, fats_g: Decimal | None = None, at: datetime) -> Run:
    """Reserve anew what a run takes."""
    before = _materials(run)
    row = _runs.reserve_run(actor=actor, run=run, fats_g=fats_g, at=at)
    keep_chosen_lots(run=row, at=at)
    keep_for_run(run=row, at=at)
    _renew(actor, row, at=at, also=before)
    return row
