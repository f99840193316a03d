"""A sample bar is gone: it is not weighed any more, and its batch's next weighing is reckoned anew."""

from datetime import datetime

from django.db import transaction

from curehouse.curing.models import SampleBar
from curehouse.curing.services.bars import end_sample_bar
from curehouse.curing.services.cures import note_news
from curehouse.flows.due import renew_due
from curehouse.making.services import lock_batch
from curehouse.workshops.actors import Actor


@transaction.atomic
def end_bar(*, actor: Actor, bar: SampleBar, why: str, at: datetime) -> SampleBar:
    """Note what became of a sample bar."""
    lock_batch(bar.batch)
    row = end_sample_bar(bar=bar, why=why, at=at)
    note_news(workshop=actor.workshop, batch_id=bar.batch_id, at=at)
    renew_due(workshop=actor.workshop, at=at, batch_ids=[bar.batch_id])
    return row
