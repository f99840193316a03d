"""A lot is ruled, or its papers corrected; what it went into is held where the lot was not to be used."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet

from curehouse.common.errors import Conflict
from curehouse.common.time import local_day
from curehouse.flows.made_lots import MadeWith, bring_forward, lock_made_with, moments_of, quarantine_made
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.verdict_notices import end_promises
from curehouse.making.models import Batch, BatchUse
from curehouse.making.services import hold_batch, lock_batches
from curehouse.making.tracing import uses_through
from curehouse.workshops.actors import Actor
from inventory.models import Lot, LotCorrection, LotRuling
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
    are on record with the batch: whom they went to is for a person to follow. What was made with a lot that is
    rejected, or in quarantine again, waits in quarantine with it.
    """
    _uses, batches = _took_from(actor, lot)
    found = lock_made_with(actor.workshop, lot)
    ruling = write_ruling(actor=actor, lot=lot, standing=standing, why=why, at=at)
    _check_none_took_meanwhile(lot, uses_through(actor.workshop, lot), batches)
    if ruling.standing != Lot.Standing.RELEASED:
        became = "was rejected" if ruling.standing == Lot.Standing.REJECTED else "is in quarantine"
        quarantine_made(actor, found.made, f"made with {ruling.lot}, which {became}: {ruling.why}", at=at)
    _renew(actor, found, at=at)
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
    has bars in the house, as a lot that is rejected later does. What was made with the lot keeps no longer than it does.
    """
    uses, batches = _took_from(actor, lot)
    found = lock_made_with(actor.workshop, lot)
    corrections = write_corrections(actor=actor, lot=lot, papers=papers, why=why, at=at)
    _check_none_took_meanwhile(lot, uses_through(actor.workshop, lot), batches)
    by_key = {batch.pk: batch for batch in batches}
    for row in corrections:
        if row.field == LotCorrection.Field.BEST_BEFORE and row.after:
            held = _hold_used_too_late(actor, row, found.moments, list(uses), by_key, at=at)
            for made in bring_forward(actor, found, row, at=at):
                left = {key: batch for key, batch in by_key.items() if key not in held}
                held |= _hold_used_too_late(actor, made, moments_of(actor.workshop, made.lot), list(uses), left, at=at)
    _renew(actor, found, at=at)
    return corrections


def _renew(actor: Actor, found: MadeWith, *, at: datetime) -> None:
    materials = {found.lot.material_id, *(one.material_id for one in found.made)}
    renew_stock(workshop=actor.workshop, at=at, material_ids=materials)


def _hold_used_too_late(
    actor: Actor,
    row: LotCorrection,
    moments: Mapping[int, frozenset[datetime]],
    uses: list[BatchUse],
    batches: dict[int, Batch],
    *,
    at: datetime,
) -> set[int]:
    """Hold what took from a lot after the best-before that it has now, and not after the one that stood there.

    What was made with it (*moments* of that by the key of each such lot) was taken from it when that was made.
    """
    before, now = date.fromisoformat(row.before) if row.before else date.max, date.fromisoformat(row.after)
    held = set()
    for one in uses:
        own = [one.movement.moment] if one.movement.lot_id == row.lot_id else []
        days = [local_day(moment, actor.workshop.time_zone) for moment in (*own, *moments.get(one.movement.lot_id, ()))]
        if any(now < day <= before for day in days) and one.batch_id in batches:
            held.add(one.batch_id)
    for batch in (batches[key] for key in sorted(held) if batches[key].state in _IN_THE_HOUSE):
        cause = f"{row.lot} was past its best-before, {now}, when it went in"
        hold_batch(actor=actor, batch=batch, cause=cause, reason=row.why, at=at)
        end_promises(batch=batch, at=at)
    return held
