"""More bars of a batch are marked as sample bars, and its next weighing is reckoned anew."""

from datetime import datetime

from django.db import transaction

from curehouse.curing.models import SampleBar
from curehouse.curing.services.bars import mark_sample_bars
from curehouse.curing.services.cures import note_news
from curehouse.flows.due import renew_due
from curehouse.making.models import Batch
from curehouse.making.services import lock_batch
from curehouse.workshops.actors import Actor


@transaction.atomic
def mark_bars(*, actor: Actor, batch: Batch, count: int, at: datetime) -> list[SampleBar]:
    """Mark so many more sample bars of a batch that is curing."""
    row = lock_batch(batch)
    bars = mark_sample_bars(batch=row, count=count)
    note_news(workshop=actor.workshop, batch_id=row.pk, at=at)
    renew_due(workshop=actor.workshop, at=at, batch_ids=[row.pk])
    return bars
