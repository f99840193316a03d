"""The only writer of runs that are planned, of what was said of them, and of what is reserved for them."""

import logging
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.common.time import day_words, local_day
from curehouse.common.units import LARGEST_G, SMALLEST_G
from curehouse.making.formulas.reading import newest_version
from curehouse.making.models import Batch, FormulaVersion, Reservation, Run, RunChange
from curehouse.making.services.batches import MOST_BARS
from curehouse.making.services.formulas import lock_formula
from curehouse.making.services.pours import formula_to_pour
from curehouse.making.services.run_needs import run_needs
from curehouse.workshops.actors import Actor
from inventory.services.entries import clean_note, clean_reason

logger = logging.getLogger(__name__)

_FARTHEST = timedelta(days=730)
_ASK_WHY = "Say why: whoever looks at this run later wants to know."
What = RunChange.What


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
    """Announce a run and reserve what it takes; short or not, for what is short is shown and can be bought."""
    workshop = actor.workshop
    formula = formula_to_pour(workshop=workshop, version=version)
    if formula.retired_at is not None:
        raise Conflict("retired", f"{formula} is out of use: put it into use again, then plan a run of it.", field="version")
    today = local_day(at, workshop.time_zone)
    row = Run.unscoped.create(
        workshop=workshop,
        formula=formula,
        version=version,
        fats_g=clean_fats(fats_g),
        bars=None if bars is None else clean_bars(bars),
        pour_on=clean_run_day(pour_on, today=today),
        announced_on=today,
        note=clean_note(note),
        written_at=at,
        **actor.signature,
    )
    _reserve(row, at=at)
    _note(actor, row, What.PLANNED, at=at)
    logger.info("run planned: workshop=%s run=%s", workshop.pk, row.pk)
    return row


@transaction.atomic
def move_run(*, actor: Actor, run: Run, pour_on: date, why: str = "", at: datetime) -> Run:
    """Put a run on another day; what is reserved for it is wanted then, and free until then."""
    row = still_planned(run)
    was_on, today = row.pour_on, local_day(at, actor.workshop.time_zone)
    if pour_on == was_on:
        raise Invalid(
            "same_day", f"It is planned for {day_words(was_on, today=today)} already: choose another day.", field="pour_on"
        )
    row.pour_on = clean_run_day(pour_on, today=today)
    row.save(update_fields=["pour_on"])
    why = clean_reason(why, ask=_ASK_WHY, field="why") if why.strip() else ""
    _note(actor, row, What.MOVED, at=at, was_on=was_on, why=why)
    return row


@transaction.atomic
def call_off_run(*, actor: Actor, run: Run, why: str, at: datetime) -> Run:
    """Call a run off: what was reserved for it is free again, and the run stays on record."""
    row = still_planned(run)
    row.state = Run.State.CALLED_OFF
    row.save(update_fields=["state"])
    _note(actor, row, What.CALLED_OFF, at=at, why=clean_reason(why, ask=_ASK_WHY, field="why"))
    return row


@transaction.atomic
def reserve_run(*, actor: Actor, run: Run, fats_g: Decimal | None = None, at: datetime) -> Run:
    """Reserve anew what a run takes: by its formula and the lots of today, in another size if one is given."""
    formula = lock_formula(run.formula)
    row = still_planned(run)
    newest = newest_version(formula)
    if newest is not None:
        row.version = newest
    if fats_g is not None:
        larger = clean_fats(fats_g)
        if row.bars is not None:
            row.bars = min(max(round(row.bars * larger / row.fats_g), 1), MOST_BARS)
        row.fats_g = larger
    row.save(update_fields=["version", "fats_g", "bars"])
    _reserve(row, at=at)
    _note(actor, row, What.RESERVED, at=at)
    return row


@transaction.atomic
def say_bars(*, run: Run, bars: int | None) -> Run:
    """Say how many bars a run is to give; None: as batches of its formula gave."""
    row = still_planned(run)
    row.bars = None if bars is None else clean_bars(bars)
    row.save(update_fields=["bars"])
    return row


@transaction.atomic
def pour_run(*, actor: Actor, run: Run, batch: Batch, at: datetime) -> Run:
    """Write down that *batch* (locked, or new) is what became of a run.

    What was reserved stays so until it is booked that the batch took it (``ReservationQuerySet.standing``).
    """
    row = still_planned(run)
    if batch.formula_id != row.formula_id:
        raise Conflict(
            "other_formula",
            f"The run is of {row.formula}, and this batch is of {batch.formula}: choose its own run.",
            field="run",
        )
    if Run.objects.within(row.workshop).filter(batch=batch).exists():
        raise Conflict("batch_taken", f"{batch} came of another run already: choose another batch.", field="batch")
    row.state, row.batch = Run.State.POURED, batch
    row.save(update_fields=["state", "batch"])
    _note(actor, row, What.POURED, at=at)
    return row


def is_open_for(run: Run, batch: Batch) -> bool:
    """Return whether *run*, locked by this, is still planned and of the formula of *batch*."""
    row = lock_run(run)
    return row.state == Run.State.PLANNED and row.formula_id == batch.formula_id


def lock_run(run: Run) -> Run:
    """Return *run* fresh and locked until the transaction ends; after its formula and its batch, where those are locked too."""
    return lock_rows(Run.unscoped.select_related("formula", "workshop"), [run.pk])[run.pk]


def still_planned(run: Run) -> Run:
    """Return *run* fresh and locked; one that is over is a ``Conflict``."""
    row = lock_run(run)
    if row.state != Run.State.PLANNED:
        raise Conflict("run_over", f"This run is {row.get_state_display()} already: plan another.")
    return row


def _reserve(run: Run, *, at: datetime) -> None:
    """Put what the run takes of the storeroom in the place of what was reserved for it so far."""
    needs = run_needs(run.version, run.fats_g, at=at)
    kept, water_g, run.not_kept = needs.kept, needs.water_g, needs.not_kept
    run.save(update_fields=["unasked"])
    Reservation.objects.within(run.workshop).filter(run=run).delete()
    Reservation.unscoped.bulk_create(
        Reservation(
            workshop=run.workshop, run=run, material=material, amount_g=amount_g, water_g=water_g.get(material, Decimal(0))
        )
        for material, amount_g in kept.items()
    )


def _note(actor: Actor, run: Run, what: str, *, at: datetime, **more: Any) -> None:
    RunChange.unscoped.create(
        workshop=actor.workshop, run=run, what=what, pour_on=run.pour_on, fats_g=run.fats_g, version=run.version, at=at,
        **more, **actor.signature,
    )  # fmt: skip


def clean_fats(fats_g: Decimal) -> Decimal:
    """Return the oils of a run in grams, to the milligram."""
    if not fats_g.is_finite() or not SMALLEST_G <= fats_g <= LARGEST_G:
        raise Invalid("mass", "The oils must weigh more than 0 and at most a tonne: check the figure.", field="fats_g")
    return fats_g.quantize(SMALLEST_G)


def clean_bars(bars: int) -> int:
    """Return a number of bars that a run can give."""
    if not 1 <= bars <= MOST_BARS:
        raise Invalid("bars", f"The number of bars lies between 1 and {MOST_BARS}.", field="bars")
    return bars


def clean_run_day(day: date, *, today: date) -> date:
    """Return the day of a run: today or later, within two years."""
    if day < today:
        raise Invalid(
            "past", "This day is past: choose today or later; what was poured is entered as a batch.", field="pour_on"
        )
    if day > today + _FARTHEST:
        raise Invalid("far_ahead", "This day lies over two years ahead: check its year.", field="pour_on")
    return day
