"""A lot is ruled, or its papers corrected; what it went into is held where the lot was not to be used."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet

from curehouse.common.errors import Conflict
from curehouse.common.time import local_day
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.verdict_notices import end_promises
from curehouse.making.models import Batch, BatchUse
from curehouse.making.services import hold_batch, lock_batches
from curehouse.making.tracing import uses_through
from curehouse.workshops.actors import Actor
from inventory.models import Lot, LotCorrection, LotRuling, MakingTake
from inventory.services.lots import LotPapers
from inventory.services.lots import correct_lot as write_corrections
from inventory.services.lots import rule_lot as write_ruling

_IN_THE_HOUSE = (Batch.State.POURED, Batch.State.CURING)


def _took_from(actor: Actor, lot: Lot) -> tuple[QuerySet[BatchUse], list[Batch]]:
    """Return what was used of a lot, also through what was made from it, and the batches it went into, locked.

    They come before their lots.
    """
    uses = uses_through(actor.workshop, lot)
    return uses, lock_batches(actor.workshop, set(uses.values_list("batch_id", flat=True)))


def _check_none_took_meanwhile(lot: Lot, uses: QuerySet[BatchUse], batches: list[Batch]) -> None:
    """Refuse where something took from a lot, which is locked by now, before that: its batch was not locked first."""
    if set(uses.values_list("batch_id", flat=True)) - {row.pk for row in batches}:
        raise Conflict("used_meanwhile", f"{lot} was used just now: look at it again, and say it again.")


@transaction.atomic
def rule_and_hold(*, actor: Actor, lot: Lot, standing: str, why: str, at: datetime) -> tuple[LotRuling, list[Batch]]:
    """Release, reject or quarantine a lot; return the ruling and the batches it holds.

    A rejected lot holds every batch that took from it and still has bars in the house. Bars that left
    are on record with the batch: whom they went to is for a person to follow.
    """
    uses, batches = _took_from(actor, lot)
    ruling = write_ruling(actor=actor, lot=lot, standing=standing, why=why, at=at)
    _check_none_took_meanwhile(lot, uses_through(actor.workshop, lot), batches)
    renew_stock(workshop=actor.workshop, at=at, material_ids=[ruling.lot.material_id])
    if ruling.standing != Lot.Standing.REJECTED:
        return ruling, []
    standing_here = [row for row in batches if row.state in _IN_THE_HOUSE]
    for batch in standing_here:
        hold_batch(actor=actor, batch=batch, cause=f"{ruling.lot} was rejected after it went in", reason=ruling.why, at=at)
        end_promises(batch=batch, at=at)
    return ruling, standing_here


@transaction.atomic
def correct_and_hold(*, actor: Actor, lot: Lot, papers: LotPapers, why: str, at: datetime) -> list[LotCorrection]:
    """Correct what was entered wrongly about a lot.

    A best-before that turns out to have been over when it was used holds every batch of such a use that still
    has bars in the house, as a lot that is rejected later does.
    """
    uses, batches = _took_from(actor, lot)
    corrections = write_corrections(actor=actor, lot=lot, papers=papers, why=why, at=at)
    _check_none_took_meanwhile(lot, uses_through(actor.workshop, lot), batches)
    renew_stock(workshop=actor.workshop, at=at, material_ids=[lot.material_id])
    for row in corrections:
        if row.field == LotCorrection.Field.BEST_BEFORE and row.after:
            _hold_used_too_late(actor, row, list(uses), {batch.pk: batch for batch in batches}, at=at)
    return corrections


def _hold_used_too_late(
    actor: Actor, row: LotCorrection, uses: list[BatchUse], batches: dict[int, Batch], *, at: datetime
) -> None:
    """Hold what took from a lot after the best-before that it has now, and not after the one that stood there."""
    before, now = date.fromisoformat(row.before) if row.before else date.max, date.fromisoformat(row.after)
    # What went into a blend first was used when that was made: of several such days the last.
    into = MakingTake.objects.within(actor.workshop).from_lots([row.lot_id])
    blended = max((take.movement.moment for take in into), default=None)
    moments = [(one.batch_id, one.movement.moment if one.movement.lot_id == row.lot_id else blended) for one in uses]
    days = [(batch, local_day(moment, actor.workshop.time_zone)) for batch, moment in moments if moment is not None]
    for key in sorted({batch for batch, day in days if now < day <= before}):
        batch = batches[key]
        if batch.state in _IN_THE_HOUSE:
            cause = f"{row.lot} was past its best-before, {now}, when it went in"
            hold_batch(actor=actor, batch=batch, cause=cause, reason=row.why, at=at)
            end_promises(batch=batch, at=at)
