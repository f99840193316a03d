"""Bars leave the cure: their places are free, and with the last of them weighing ends."""

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from curehouse.curing.services.bars import end_taken_bars
from curehouse.curing.services.cures import end_cure, lock_cure, note_news
from curehouse.curing.services.places import take_away
from curehouse.flows.assess import assess_batch
from curehouse.flows.place_notices import renew_places
from curehouse.flows.turn_notices import renew_turning
from curehouse.flows.verdict_notices import about
from curehouse.making.models import Batch, TakeOut
from curehouse.making.services import TakeOutEntry, lock_batch
from curehouse.making.services import take_out as write_take_out
from curehouse.notices.services import close
from curehouse.workshops.actors import Actor


@transaction.atomic
def take_out(
    *, actor: Actor, batch: Batch, entry: TakeOutEntry, at: datetime, letters: Collection[str] | None = None
) -> TakeOut:
    """Take bars out for a purpose; forced with a reason if the batch is not ready.

    *letters* names the sample bars among them; None lets the last ones go once no other bars are left.
    """
    row = lock_batch(batch)
    # What was weighed or checked a moment ago has its say first.
    assess_batch(workshop_id=actor.workshop.pk, batch_id=row.pk, at=at)
    cure = lock_cure(workshop=actor.workshop, batch_id=row.pk)
    state = cure.state if cure else row.state
    taken = write_take_out(actor=actor, batch=row, entry=entry, cure_state=state, at=at)
    take_away(actor=actor, batch=row, bars=entry.bars, moved_at=entry.taken_at, at=at)
    why = f"taken out {taken.get_purpose_display()}"
    ended = end_taken_bars(batch=row, taken=entry.bars, letters=letters, why=why, at=entry.taken_at)
    if ended:
        note_news(workshop=actor.workshop, batch_id=row.pk, at=at)
    renew_places(workshop=actor.workshop, at=at)
    renew_turning(workshop=actor.workshop, at=at)
    if row.state == Batch.State.CLOSED and cure is not None:
        end_cure(cure=cure, at=entry.taken_at)
        close(workshop=actor.workshop, about=about(row.pk), reason="The batch was taken out.", at=at)
    return taken
